package page

import (
	"math"
	"strings"

	"shelfspan/reports/dossier"
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
	for _, t := range words.InteractionsConclusion(i, x.s) {
		x.paragraph("", t)
	}
	x.matrix(words.NewMatrix(x.s, i), i.Horizon)
	for _, g := range x.Compared() {
		x.grid(g)
	}
	if len(i.Parallel) > 0 {
		x.heading(3, "", "Across temperatures")
		for _, p := range i.Parallel {
			x.paragraph("", words.Parallel(x.s, p))
		}
	}
	x.note(strings.TrimSpace(words.InteractionsRead(i, x.e.Confidence) + " " + words.MonthsBy(i, x.s)))
}

// matrix tabulates the months lost by attribute and by what is compared: the number
// with its sign in each cell, the ground behind it the further from the page's own
// the more is lost.
func (x *writer) matrix(m words.Matrix, horizon float64) {
	if len(m.Columns) == 0 {
		return
	}
	t := table{
		caption: words.MatrixHead(x.e.Interactions), named: 1, plain: true, class: "matrix",
		columns: left("Attribute"), notes: []string{words.MatrixRead + " " + words.MatrixShades},
	}
	for _, name := range m.Columns {
		of, against, _ := strings.Cut(name, " / ")
		t.columns = append(t.columns, dossier.Column{Head: of, Under: "/ " + against, Number: true})
	}
	for _, r := range m.Rows {
		row := cells(append([]string{r.Attribute}, r.Cells...)...)
		for j, lost := range r.Lost {
			row[j+1].shade = shadeOf(lost, horizon)
		}
		t.rows = append(t.rows, row)
	}
	x.table(t)
}

// shades are how far the ground of a cell lies from the least to the most that can
// be lost, in percent of the way, by steps. Letters are dark on those before
// firstFull, light on the others (by night the other way about); between 34 and 59 neither would
// have a contrast of 4.5:1.
var shades = []int{0, 6, 13, 20, 26, 32, 62, 72, 82, 91, 100}

const firstFull = 6

// shadeOf is the step of a loss; 0 where nothing is lost that is printed.
func shadeOf(lost, horizon float64) int {
	part := math.Round(10*lost) / 10 / horizon
	if math.IsNaN(part) || part <= 0 {
		return 0
	}
	last := len(shades) - 1
	return min(max(int(math.Round(float64(last)*math.Sqrt(part))), 1), last)
}
