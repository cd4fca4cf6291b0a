package summary

import (
	"gonum.org/v1/plot/vg/draw"

	"shelfspan/reports/chart"
	"shelfspan/reports/dossier"
	"shelfspan/reports/pdf"
)

// grid sets a table of the dossier over the width of the page.
func (x *writer) grid(g dossier.Grid) {
	if len(g.Rows) > 0 {
		t := tableOf(g)
		t.Wide = true
		x.Table(t)
	}
}

// narrow sets one that is as wide as its texts.
func (x *writer) narrow(g dossier.Grid) {
	if len(g.Rows) > 0 {
		x.Table(tableOf(g))
	}
}

// gridOrNotes sets a table, or what is to be said where it has no rows.
func (x *writer) gridOrNotes(g dossier.Grid) {
	x.grid(g)
	if len(g.Rows) > 0 {
		return
	}
	for _, n := range g.Notes {
		x.Note(n)
	}
}

// tableOf is a grid as a table, in which what the row above says is not said again.
func tableOf(g dossier.Grid) pdf.Table {
	t := pdf.Table{Caption: g.Caption, Fixed: g.Named, Notes: g.Notes}
	for _, c := range g.Columns {
		column := pdf.Column{Head: c.Head}
		if c.Number {
			column.Align = pdf.Right
		}
		t.Columns = append(t.Columns, column)
	}
	for i, r := range g.Rows {
		row := pdf.Row{Cells: make([]pdf.Cell, len(r))}
		again := i > 0 && g.Again > 0
		for j, f := range r {
			row.Cells[j] = pdf.Cell{Text: f.Text, Under: f.Under, Bold: f.Bold}
			again = again && (j >= g.Again || f.Text == g.Rows[i-1][j].Text)
		}
		if again {
			clear(row.Cells[:g.Again])
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// sharing sets charts two by two under one legend.
func (x *writer) sharing(height, room float64, all []dossier.Framed) {
	if len(all) == 0 {
		return
	}
	var captions []string
	var charts []func(draw.Canvas)
	var drawn []*chart.Chart
	for _, f := range all {
		captions, charts, drawn = append(captions, f.Caption), append(charts, f.Chart.Draw), append(drawn, f.Chart)
	}
	high, key := chart.Key(drawn, x.Width())
	x.Need(high + height + room) // with the caption below the first pair
	x.Figure(high, "", key)
	x.pairs(height, captions, charts)
}
