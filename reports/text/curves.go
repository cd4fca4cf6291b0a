package text

import (
	"slices"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// curves writes what the curves of an attribute are made of.
func (p *Printer) curves(s *study.Study, at *study.Attribute, as []*analysis.Analysis) {
	i := slices.IndexFunc(as, func(a *analysis.Analysis) bool { return a.Curves != nil })
	if i < 0 {
		return
	}
	model := as[i].Model
	columns := []Column{{"condition", Left}, {"pack", Left}, {"batch", Left}}
	for _, h := range words.CurveHeads(at, model) {
		columns = append(columns, Column{h, Right})
	}
	var rows [][]string
	for _, a := range as {
		for i, c := range a.Curves {
			row := []string{"", "", s.Batches[c.Batch].ID}
			if i == 0 {
				row[0], row[1] = s.Conditions[a.Condition].ID, words.PackName(s, a.Pack, a.Orientation)
			}
			rows = append(rows, append(row, words.CurveCells(c, model)...))
		}
	}
	p.write("\n")
	p.Paragraph("Curves, " + words.CurveFormula(model) + ":")
	p.Table(columns, blanked(rows))
}
