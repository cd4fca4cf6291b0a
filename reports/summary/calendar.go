package summary

import "shelfspan/reports/chart"

// calendar draws the plan with what became of it.
func (x *writer) calendar() {
	if c, ok := chart.Pulls(x.Schedule, x.d); ok {
		x.Figure(60+20*float64(len(x.s.Conditions)+1), "The pulls by month.", c.Draw)
	}
}
