package summary

import (
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
)

// curves writes what the curves of an analysis are made of, and their lives.
func (x *writer) curves(a *analysis.Analysis) {
	heads := append([]string{"Batch", "Samples"}, words.CurveHeads(&x.s.Attributes[a.Attribute], a.Model)...)
	for i, h := range heads {
		heads[i] = strings.ToUpper(h[:1]) + h[1:]
	}
	t := pdf.Table{
		Wide: true, Columns: columns(1, append(heads, "Mean meets limit, months", "Bound meets limit, months", "Limit")...),
	}
	t.Columns[len(t.Columns)-1].Align = pdf.Left
	for i, c := range a.Curves {
		f := &a.Fits[i]
		cells := append([]string{x.s.Batches[c.Batch].ID, number(float64(f.N))}, words.CurveCells(c, a.Model)...)
		for j := range cells {
			cells[j] = strings.ReplaceAll(cells[j], "-", "−")
		}
		cells[0] = x.s.Batches[c.Batch].ID
		row := pdf.Texts(append(cells, words.Estimate(f.Estimate), words.Bound(f.ShelfLife), dash(f.LimitedBy))...)
		if f.Batch == a.LimitingBatch {
			for j := range row.Cells {
				row.Cells[j].Bold = true
			}
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []string{"The curve: " + words.CurveFormula(a.Model) + ". " + words.BoundNote(a)}
	x.Table(t)
}
