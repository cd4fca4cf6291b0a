package summary

import "shelfspan/reports/words"

// lifetimes writes what the looks at single units of an attribute say: how many
// failed at which condition, the distributions of their lifetimes, and how far
// those who graded agree.
func (x *writer) lifetimes(attribute int) {
	if of := x.Lifetimes(attribute); len(of) > 0 {
		x.grid(x.Units(of))
		x.grid(x.Joint(of))
		for _, t := range x.LifetimesSaid(of) {
			x.Paragraph(t)
		}
		if charts := x.LifetimeCharts(of); len(charts) > 0 {
			x.sharing(smallHeight, 50, charts)
			x.Note(words.LifetimeCurves)
		}
	}
	for _, t := range x.Agreements(attribute) {
		x.Paragraph(t)
	}
}
