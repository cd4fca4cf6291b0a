package text

import (
	"slices"

	"shelfspan/analysis"
	"shelfspan/reports/words"
)

// bounds writes the bounds of some analyses of one attribute side by side, with
// the condition of each where there are several; and at one condition what is to
// be said of them.
func (p *Printer) bounds(e *analysis.Evaluation, as []*analysis.Analysis, conditions bool) {
	s := e.Dataset.Study
	kinds := []analysis.BoundKind{analysis.BoundMean, analysis.BoundUnits, analysis.BoundBatchesMean, analysis.BoundToCome}
	columns := []Column{{"condition", Left}, {"pack", Left}}
	for _, k := range kinds {
		columns = append(columns, Column{words.BoundName(k), Right})
	}
	columns = append(columns, Column{"governs", Left})
	var rows [][]string
	for _, a := range as {
		if len(a.Bounds) == 0 {
			continue
		}
		row := []string{"", words.PackName(s, a.Pack, a.Orientation)}
		if conditions {
			row[0] = s.Conditions[a.Condition].ID
		}
		for _, k := range kinds {
			months := ""
			if i := slices.IndexFunc(a.Bounds, func(b analysis.Bound) bool { return b.Kind == k }); i >= 0 {
				months = words.BoundMonths(&a.Bounds[i])
			}
			row = append(row, months)
		}
		rows = append(rows, append(row, words.BoundName(a.Governing().Kind)))
	}
	if len(rows) == 0 {
		return
	}
	p.write("\n")
	p.Paragraph("Bounds side by side, in months:")
	p.Table(columns, rows)
	if !conditions {
		for _, t := range words.Bounds(e, as) {
			p.Paragraph(t)
		}
	}
}

// boundNotes says once how bounds side by side are read.
func (p *Printer) boundNotes(e *analysis.Evaluation) {
	for _, t := range words.BoundNotes(e) {
		p.Paragraph(t)
	}
}
