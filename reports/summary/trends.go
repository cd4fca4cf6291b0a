package summary

import (
	"math"
	"slices"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
	"shelfspan/reports/dossier"
	"shelfspan/reports/words"
	"shelfspan/study"
)

const (
	chartHeight = 300.0 // where a chart does not share its page
	halfPage    = 342.0
	leastHeight = 140.0 // of charts that do
	mostHeight  = 200.0
	shareHeight = 210.0 // of grades
	smallHeight = 150.0
	sectionRoom = 50.0 // of a section's heading above the first block

	residualHeight = 112.0
)

// trends writes what became of each attribute: a chart with its lines for each
// analysis at the storage condition, two on a page, with the tests below the
// last; smaller charts for the others.
func (x *writer) trends() {
	storage := make([][]*analysis.Analysis, len(x.s.Attributes))
	var others []*analysis.Analysis
	count := 0
	for _, a := range x.e.Analyses {
		if a.Condition == x.s.StoreAt {
			storage[a.Attribute] = append(storage[a.Attribute], a)
			count++
		} else {
			others = append(others, a)
		}
	}
	if count > 0 {
		x.Need(halfPage + sectionRoom)
		x.Section(words.TitleTrendsStorage)
		for _, of := range storage {
			for _, a := range of {
				x.analysis(a, count == 1)
			}
			x.grid(x.Pooling(of))
			x.losses(of)
			x.grid(x.Diagnostics(of))
			x.grid(x.Bounds(of))
			x.narrow(x.Candidates(of))
			x.sharing(residualHeight, 30, x.Residuals(of))
			if len(of) > 0 {
				x.lifetimes(of[0].Attribute)
			}
		}
	}
	if len(others) > 0 {
		x.Need(smallHeight + 110 + sectionRoom)
		x.Section(words.TitleTrendsOthers)
		x.otherTrends(others)
	}
}

// analysis writes one analysis with its chart and lines.
func (x *writer) analysis(a *analysis.Analysis, alone bool) {
	const text, table, row = 84, 53, 15.5 // heading and sentences; heads and note; batch
	half := halfPage - text - table - row*float64(len(a.Fits))
	height := math.Min(half, mostHeight)
	if alone || half < leastHeight {
		height = chartHeight
	}
	if kind := x.s.Attributes[a.Attribute].Kind; kind == study.Grade || kind == study.PassFail {
		height = shareHeight
	}
	if dossier.AllAlike(x.s, a) {
		height = 0
	}
	x.Need(height + halfPage - half)
	x.Subsection(x.Where(a))
	x.Paragraph(words.Trend(x.e, a))
	if dossier.AllAlike(x.s, a) {
		x.Note(words.NoChart)
	} else if c, ok := chart.Of(x.d, a, x.Claim()); ok {
		x.Figure(height, "", c.Draw)
	}
	fits := x.Fits(a)
	fits.Caption = "" // the heading says it
	x.grid(fits)
	for _, w := range a.Warnings {
		x.Note("Warning: " + w.Text)
	}
}

// losses writes what the single units of a weighing lose, and where it is dry.
func (x *writer) losses(of []*analysis.Analysis) {
	units, dry := x.Losses(of)
	x.gridOrNotes(units)
	x.gridOrNotes(dry)
}

// otherTrends writes the analyses away from storage: two charts side by side
// and one table for each attribute.
func (x *writer) otherTrends(all []*analysis.Analysis) {
	for i := range x.s.Attributes {
		of := slices.DeleteFunc(slices.Clone(all), func(a *analysis.Analysis) bool { return a.Attribute != i })
		if len(of) == 0 {
			continue
		}
		x.Need(smallHeight + 110)
		x.Subsection(x.s.Attributes[i].ID)
		g, charts := x.Others(i, of)
		g.Caption = ""
		x.sharing(smallHeight, 0, charts)
		x.narrow(g)
		x.losses(of)
		if !slices.ContainsFunc(x.e.Analyses, func(a *analysis.Analysis) bool { return a.Attribute == i && a.Condition == x.s.StoreAt }) {
			x.lifetimes(i)
		}
	}
}
