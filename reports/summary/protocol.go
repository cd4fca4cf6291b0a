package summary

import (
	"shelfspan/reports/chart"
	"shelfspan/reports/words"
)

// protocol writes what was to be done: conditions, batches, packs, attributes.
func (x *writer) protocol() {
	x.Section(words.SectionProtocol.Title())
	for _, g := range x.Protocol() {
		x.narrow(g)
	}
}

// pulls writes how far the plan has come, and where it was departed from.
func (x *writer) pulls() {
	if x.Schedule == nil {
		return
	}
	x.Section(words.SectionPulls.Title())
	if c, ok := chart.Pulls(x.Schedule, x.d); ok {
		x.Figure(60+20*float64(len(x.s.Conditions)+1), words.CalendarCaption, c.Draw)
	}
	x.narrow(x.PullsMade())
	x.narrow(x.Deviations())
}

// changes lists the results that were amended or taken out of the analysis.
func (x *writer) changes() {
	if g := x.Changed(); len(g.Rows) > 0 {
		x.Section(g.Caption)
		g.Caption = ""
		x.narrow(g)
	}
}
