package text

import (
	"slices"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// diagnostics writes what the residuals say: how many tests were made, a row for
// each finding that is warned of, and where others are noted.
func (p *Printer) diagnostics(e *analysis.Evaluation) {
	tested := words.Tested(e)
	if tested == "" {
		return
	}
	s := e.Dataset.Study
	p.Heading("What the residuals say")
	p.Paragraph(tested)
	var rows [][]string
	noted := map[string][]string{}
	var order []string
	for _, a := range e.Analyses {
		if a.Diagnostics == nil {
			continue
		}
		for i := range a.Diagnostics.Findings {
			f := &a.Diagnostics.Findings[i]
			if f.Warned {
				rows = append(rows, findingRow(s, a, f))
				continue
			}
			if noted[f.Code] == nil {
				order = append(order, f.Code)
			}
			if where := analysisPlace(s, a); !slices.Contains(noted[f.Code], where) {
				noted[f.Code] = append(noted[f.Code], where)
			}
		}
	}
	if len(rows) > 0 {
		p.Table([]Column{{"about", Left}, {"finding", Left}, {"result", Left}, {"value", Right}, {"expected", Right}, {"99 % limits", Right}, {"p", Right}}, rows)
	}
	if len(order) > 0 {
		p.Paragraph("Noted:")
	}
	for _, code := range order {
		p.Hanging("- ", words.Finding(code)+": "+strings.Join(noted[code], ", "))
	}
	if len(rows)+len(order) > 0 {
		p.Paragraph(words.ByChance)
	}
}

func findingRow(s *study.Study, a *analysis.Analysis, f *analysis.Finding) []string {
	row := []string{analysisPlace(s, a), words.Finding(f.Code), words.FindingResult(s, a, f), "", "", "", words.P(f.P)}
	if at := &s.Attributes[a.Attribute]; f.Expectation != nil {
		row[3], row[4], row[5] = words.Value(at, f.Value), words.Value(at, f.Expected), words.Limits(at, f.Expectation)
	}
	if f.Code == analysis.CodeLeverage {
		row[6] = ""
	}
	return row
}

// analysisPlace names an analysis as its warnings do: "viscosity 25C60 tube".
func analysisPlace(s *study.Study, a *analysis.Analysis) string {
	t := s.Attributes[a.Attribute].ID + " " + s.Conditions[a.Condition].ID
	if pack := words.PackName(s, a.Pack, a.Orientation); pack != "" {
		t += " " + pack
	}
	return t
}
