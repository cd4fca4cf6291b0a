package summary

import (
	"cmp"
	"strings"

	"shelfspan/reports/dossier"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// resultSize is the size of type in the tables of results, of which there are many.
const resultSize = 7.6

// results tabulates every result: a table for each arm, attributes down, pulls
// across.
func (x *writer) results() {
	x.Section(words.SectionResults.Title())
	arms := dossier.Arms(x.e)
	if len(arms) == 0 {
		x.Paragraph(words.NoResults(x.d))
		return
	}
	x.Note(words.ResultsRead)
	for i := range arms {
		if i == 0 || arms[i].Condition != arms[i-1].Condition {
			x.Subsection(words.ResultsAt(&x.s.Conditions[arms[i].Condition]))
		}
		x.arm(&arms[i])
	}
}

// arm sets the table of one arm.
func (x *writer) arm(of *dossier.Arm) {
	caption := "Batch " + x.s.Batches[of.Batch].ID
	if pack := words.PackName(x.s, of.Pack, of.Orientation); pack != "" {
		caption += " in " + pack
	}
	t := pdf.Table{
		Caption: caption + " at " + x.s.Conditions[of.Condition].ID,
		Columns: columns(3, words.HeadsResults...),
		Fixed:   3, Wide: true, Even: true, Tight: true, Size: resultSize,
	}
	for _, p := range of.Times {
		t.Columns = append(t.Columns, pdf.Column{Head: p.Text, Align: pdf.Right})
	}
	var used dossier.Signs
	for _, r := range of.Rows {
		at := &x.s.Attributes[r.Attribute]
		row := pdf.Texts(at.ID, cmp.Or(words.MeasuredIn(at), "–"), words.CriterionIn(at))
		for _, shown := range r.Shown {
			row.Cells = append(row.Cells, resultCell(at, shown, &used))
		}
		t.Rows = append(t.Rows, row)
	}
	if marks := used.Marks(); marks != "" {
		t.Notes = []string{marks}
	}
	x.Table(t)
}

// resultCell is what one batch showed at one pull.
func resultCell(at *study.Attribute, shown dossier.Shown, used *dossier.Signs) pdf.Cell {
	c := dossier.CellOf(at, shown, used)
	under := c.Under
	if c.Units != "" {
		under = strings.TrimSpace(under + " (" + c.Units + ")")
	}
	return pdf.Cell{Text: c.Signed(), Under: under, Bold: c.Outside}
}
