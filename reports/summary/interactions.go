package summary

import (
	"strings"

	"shelfspan/reports/chart"
	"shelfspan/reports/words"
)

// interactions writes what packs, orientations and ingredients do to the product:
// the conclusion and the matrix first, then every comparison at the storage
// condition.
func (x *writer) interactions() {
	i := x.e.Interactions
	if i == nil || len(i.Comparisons) == 0 {
		return
	}
	x.Need(300)
	x.Section(words.SectionInteractions.Title())
	for _, t := range words.InteractionsConclusion(i, x.s) {
		x.Paragraph(t)
	}
	if m := words.NewMatrix(x.s, i); len(m.Rows) > 0 && len(m.Columns) > 0 {
		height, draw := chart.Matrix(m, i.Horizon)
		x.Need(height + 40)
		x.Subsection(words.MatrixHead(i))
		x.Figure(height, words.MatrixRead, draw)
	}
	for _, g := range x.Compared() {
		x.grid(g)
	}
	if len(i.Parallel) > 0 {
		x.Need(80)
		x.Subsection("Across temperatures")
		for _, p := range i.Parallel {
			x.Paragraph(words.Parallel(x.s, p))
		}
	}
	x.Note(strings.TrimSpace(words.InteractionsRead(i, x.e.Confidence) + " " + words.MonthsBy(i, x.s)))
}
