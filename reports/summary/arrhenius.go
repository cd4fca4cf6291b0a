package summary

import (
	"slices"

	"gonum.org/v1/plot/vg/draw"

	"shelfspan/analysis"
	"shelfspan/reports/words"
)

// arrhenius writes what the temperatures say together: the predictions first,
// then the fits behind them, attribute by attribute.
func (x *writer) arrhenius() {
	if len(x.e.Arrhenius) == 0 {
		return
	}
	x.Need(300)
	x.Section(words.SectionArrhenius.Title())
	x.grid(x.Predictions())
	for i := range x.s.Attributes {
		if of := x.Arrhenius(i); len(of) > 0 {
			x.arrheniusOf(i, of)
		}
	}
}

// arrheniusOf writes the fits of one attribute, its packs side by side.
func (x *writer) arrheniusOf(attribute int, of []*analysis.Arrhenius) {
	const height, room = 150, 260
	x.Need(room)
	x.Subsection("Arrhenius: " + x.s.Attributes[attribute].ID)
	said, warned := x.ArrheniusSaid(of)
	for _, t := range said {
		x.Paragraph(t)
	}
	for _, t := range warned {
		x.Note(t)
	}
	if charts := x.ArrheniusCharts(of); len(charts) == 1 {
		x.Figure(height, "", charts[0].Chart.Draw)
	} else {
		x.sharing(height, 50, charts)
	}
	if g := x.Rates(of); len(g.Columns) > 4 {
		x.grid(g)
	} else {
		x.narrow(g)
	}
	x.grid(x.OneEnergy(of))
}

// pairs sets charts two by two; one that is left over keeps half the width.
func (x *writer) pairs(height float64, captions []string, charts []func(draw.Canvas)) {
	if len(charts)%2 == 1 {
		charts, captions = append(slices.Clip(charts), func(draw.Canvas) {}), append(slices.Clip(captions), "")
	}
	for i := 0; i < len(charts); i += 2 {
		x.Figures(height, captions[i:i+2], charts[i:i+2]...)
	}
}
