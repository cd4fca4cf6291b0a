package page

import (
	"strconv"

	"shelfspan/analysis"
)

// arrhenius writes what the temperatures say together: the predictions first,
// then the fits behind them, attribute by attribute.
func (x *writer) arrhenius() {
	x.grid(x.Predictions())
	for i := range x.s.Attributes {
		if of := x.Arrhenius(i); len(of) > 0 {
			x.arrheniusOf(i, of)
		}
	}
}

func (x *writer) arrheniusOf(attribute int, of []*analysis.Arrhenius) {
	id := "arrhenius-" + strconv.Itoa(attribute+1)
	x.listed(id, x.s.Attributes[attribute].ID)
	x.heading(3, id, "Arrhenius: "+x.s.Attributes[attribute].ID)
	said, warned := x.ArrheniusSaid(of)
	for _, t := range said {
		x.paragraph("", t)
	}
	for _, t := range warned {
		x.note(t)
	}
	if charts := x.ArrheniusCharts(of); len(charts) == 1 {
		x.figure(wideHeight, "", charts[0].Title, charts[0].Chart)
	} else {
		x.small(charts)
	}
	x.grid(x.Rates(of))
	x.grid(x.OneEnergy(of))
}
