package page

import (
	"cmp"
	"strconv"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
	"shelfspan/reports/dossier"
	"shelfspan/reports/words"
)

// partsOfAttribute are set below all analyses of an attribute at the storage
// condition, in this order; one that has nothing to say sets nothing.
var partsOfAttribute = []func(*writer, []*analysis.Analysis){
	func(x *writer, of []*analysis.Analysis) { x.grid(x.Pooling(of)) },
	(*writer).losses,
	func(x *writer, of []*analysis.Analysis) { x.grid(x.Diagnostics(of)) },
	(*writer).residuals,
	func(x *writer, of []*analysis.Analysis) { x.grid(x.Bounds(of)) },
	func(x *writer, of []*analysis.Analysis) { x.grid(x.Candidates(of)) },
}

// trends writes what became of each attribute: at the storage condition a chart
// with its lines and tests, pack by pack; small charts for the other conditions;
// then what its single units say.
func (x *writer) trends() {
	for i := range x.s.Attributes {
		var storage, others []*analysis.Analysis
		for _, a := range x.e.Analyses {
			switch {
			case a.Attribute != i:
			case a.Condition == x.s.StoreAt:
				storage = append(storage, a)
			default:
				others = append(others, a)
			}
		}
		if len(storage)+len(others) == 0 {
			continue
		}
		id := "trend-" + strconv.Itoa(i+1)
		x.listed(id, x.s.Attributes[i].ID)
		x.heading(3, id, x.named(i))
		for _, a := range storage {
			x.analysis(a)
		}
		for _, part := range partsOfAttribute {
			part(x, storage)
		}
		x.others(i, others)
		x.lifetimes(i)
	}
}

// analysis writes one analysis with its chart and lines.
func (x *writer) analysis(a *analysis.Analysis) {
	x.heading(4, "", x.Where(a))
	x.paragraph("", words.Trend(x.e, a))
	if dossier.AllAlike(x.s, a) {
		x.note(words.NoChart)
	} else if c, ok := chart.Of(x.d, a, x.Claim()); ok {
		x.figure(wideHeight, "", x.Where(a), c)
	}
	x.grid(x.Fits(a))
	for _, w := range a.Warnings {
		x.note("Warning: " + w.Text)
	}
}

// losses writes what the single units of a weighing lose, and where it is dry.
func (x *writer) losses(of []*analysis.Analysis) {
	units, dry := x.Losses(of)
	x.gridOrNotes(units)
	x.gridOrNotes(dry)
}

// residuals draws what the fits of an attribute leave over, for who wants to look:
// what there is to find stands in the table.
func (x *writer) residuals(of []*analysis.Analysis) {
	charts := x.Residuals(of)
	if len(charts) == 0 {
		return
	}
	x.fold(false, false, 0, "", "Residuals drawn: "+x.s.Attributes[of[0].Attribute].ID+" at "+x.s.Conditions[of[0].Condition].ID, func() { x.small(charts) })
}

// others writes the analyses of an attribute away from storage: small charts and
// one table.
func (x *writer) others(attribute int, of []*analysis.Analysis) {
	if len(of) == 0 {
		return
	}
	g, charts := x.Others(attribute, of)
	x.heading(4, "", x.s.Attributes[attribute].ID+" at the other conditions")
	x.small(charts)
	x.grid(g)
	x.losses(of)
}

// lifetimes writes what the looks at single units of an attribute say: how many
// failed at which condition, the distributions of their lifetimes, and how far
// those who graded agree.
func (x *writer) lifetimes(attribute int) {
	of, agreements := x.Lifetimes(attribute), x.Agreements(attribute)
	if len(of)+len(agreements) == 0 {
		return
	}
	x.heading(4, "", "Single units of "+x.s.Attributes[attribute].ID)
	if len(of) > 0 {
		for _, t := range x.LifetimesSaid(of) {
			x.paragraph("", t)
		}
		x.grid(x.Units(of))
		x.grid(x.Joint(of))
		if charts := x.LifetimeCharts(of); len(charts) > 0 {
			x.small(charts)
			x.note(words.LifetimeCurves)
		}
	}
	for _, t := range agreements {
		x.paragraph("", t)
	}
}

// named is the attribute with its unit of measurement.
func (x *writer) named(attribute int) string {
	a := &x.s.Attributes[attribute]
	if u := words.MeasuredIn(a); u != "" {
		return a.ID + " (" + u + ")"
	}
	return cmp.Or(a.ID, "–")
}
