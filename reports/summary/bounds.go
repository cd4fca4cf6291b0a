package summary

import (
	"shelfspan/analysis"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
)

// bounds writes the bounds of the analyses of one attribute at one condition side
// by side, and what is to be said of them.
func (x *writer) bounds(of []*analysis.Analysis) {
	t := pdf.Table{
		Wide:    true,
		Fixed:   2,
		Columns: columns(2, "Pack", "Bound of", "Coverage", "Confidence", "Degrees of freedom", "Estimate, months", "Bound, months", ""),
	}
	t.Columns[7].Align = pdf.Left
	for _, a := range of {
		for i := range a.Bounds {
			b := &a.Bounds[i]
			pack := ""
			if i == 0 {
				pack = x.place(a.Pack, a.Orientation)
				t.Caption = "Bounds side by side, " + x.s.Attributes[a.Attribute].ID + " at " + x.s.Conditions[a.Condition].ID
			}
			coverage := "–"
			if b.Coverage > 0 {
				coverage = words.Percent(b.Coverage)
			}
			governs := ""
			if b.Governs {
				governs = "governs"
			}
			row := pdf.Texts(pack, words.BoundName(b.Kind), coverage, words.Percent(b.Confidence), fixed(b.DF, words.DFDecimals(b.DF)),
				months(b.Estimate, words.Estimate), words.BoundMonths(b), governs)
			for j := 1; j < len(row.Cells); j++ {
				row.Cells[j].Bold = b.Governs
			}
			t.Rows = append(t.Rows, row)
		}
	}
	if len(t.Rows) == 0 {
		return
	}
	t.Notes = words.Bounds(x.e, of)
	if side := words.PerSide(of); side != "" {
		t.Notes = append(t.Notes, side)
	}
	x.Table(t)
}
