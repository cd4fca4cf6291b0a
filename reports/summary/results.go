package summary

import (
	"fmt"
	"slices"

	"shelfspan/reports/dossier"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// widest is the number of columns an upright page holds.
const widest = 11

// results tabulates every result, an attribute at a time, as a dossier shows
// them: batches down, pulls across, grouped by condition and pack.
func (x *writer) results() {
	if len(x.e.Analyses) == 0 {
		x.Section("Results")
		x.Paragraph(words.NoResults(x.d))
		return
	}
	x.Section("Results")
	for i := range x.s.Attributes {
		if of := dossier.Results(x.e, i); len(of) > 0 {
			x.attributeResults(i, of)
		}
	}
}

func (x *writer) attributeResults(attribute int, of []dossier.Table) {
	at := &x.s.Attributes[attribute]
	used := dossier.Signs{}
	var tables []pdf.Table
	for _, t := range of {
		tables = append(tables, x.conditionResults(at, t, &used))
	}
	if notes := used.Notes(at); notes != "" {
		tables[len(tables)-1].Notes = []string{notes}
	}
	// Wide tables stand on wide pages; the attribute's others go with them.
	wide := slices.ContainsFunc(tables, func(t pdf.Table) bool { return len(t.Columns) > widest })
	if wide != x.Landscape() {
		x.NewPage(wide)
	}
	x.Subsection(fmt.Sprintf("%s, criterion: %s", x.named(attribute), words.Criterion(at)))
	for _, t := range tables {
		x.Table(t)
	}
}

// conditionResults is the table of one attribute at one condition.
func (x *writer) conditionResults(at *study.Attribute, of dossier.Table, used *dossier.Signs) pdf.Table {
	t := pdf.Table{
		Caption: at.ID + " at " + words.Condition(&x.s.Conditions[of.Condition]),
		Columns: []pdf.Column{{Head: "Batch"}},
		Fixed:   1, Wide: true, Even: true,
	}
	align := pdf.Right
	if at.Kind == study.Grade || at.Kind == study.PassFail {
		align = pdf.Left
	}
	for _, p := range of.Times {
		t.Columns = append(t.Columns, pdf.Column{Head: p.Text, Align: align})
	}
	for i, r := range of.Rows {
		if pack := words.PackName(x.s, r.Pack, r.Orientation); pack != "" &&
			(i == 0 || of.Rows[i-1].Pack != r.Pack || of.Rows[i-1].Orientation != r.Orientation) {
			t.Rows = append(t.Rows, pdf.Row{Group: pack})
		}
		row := pdf.Row{Cells: []pdf.Cell{{Text: x.s.Batches[r.Batch].ID}}}
		for _, shown := range r.Shown {
			row.Cells = append(row.Cells, resultCell(at, shown, used))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// resultCell is what one batch showed at one pull.
func resultCell(at *study.Attribute, shown dossier.Shown, used *dossier.Signs) pdf.Cell {
	c := dossier.CellOf(at, shown, used)
	return pdf.Cell{Text: c.Signed(), Under: c.Under, Bold: c.Outside}
}
