package page

import (
	"shelfspan/reports/chart"
	"shelfspan/reports/dossier"
	"shelfspan/reports/words"

	"gonum.org/v1/plot/vg"
)

// grid sets a table of the dossier.
func (x *writer) grid(g dossier.Grid) { x.table(asTable(g)) }

// proseGrid sets one whose texts are long.
func (x *writer) proseGrid(g dossier.Grid) {
	t := asTable(g)
	t.prose = true
	x.table(t)
}

// gridOrNotes sets a table, or what is to be said where it has no rows.
func (x *writer) gridOrNotes(g dossier.Grid) {
	x.grid(g)
	if len(g.Rows) > 0 {
		return
	}
	for _, n := range g.Notes {
		x.note(n)
	}
}

func asTable(g dossier.Grid) table {
	t := table{caption: g.Caption, named: g.Named, notes: g.Notes, plain: g.Ordered, columns: g.Columns}
	for _, r := range g.Rows {
		row := make([]cell, len(r))
		for i, f := range r {
			row[i] = cell{text: f.Text, under: f.Under, bold: f.Bold}
		}
		t.rows = append(t.rows, row)
	}
	return t
}

// changes lists the results that were amended or taken out of the analysis.
func (x *writer) changes() { x.proseGrid(x.Changed()) }

// protocol writes what was to be done: conditions, batches, packs, attributes.
func (x *writer) protocol() {
	for _, g := range x.Protocol() {
		x.grid(g)
	}
}

// pulls writes how far the plan has come, and where it was departed from.
func (x *writer) pulls() {
	if x.Schedule == nil {
		return
	}
	if c, ok := chart.Pulls(x.Schedule, x.d); ok {
		x.figure(calendarHeight(len(x.s.Conditions)), words.CalendarCaption, "the pulls by month", c)
	}
	x.grid(x.PullsMade())
	x.proseGrid(x.Deviations())
}

// calendarHeight is the height of a calendar of the pulls at so many conditions.
func calendarHeight(conditions int) vg.Length { return 54 + 15*vg.Length(conditions+1) }
