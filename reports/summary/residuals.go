package summary

import (
	"gonum.org/v1/plot/vg/draw"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
)

const residualHeight = 112.0

// residuals draws what the fits of an attribute leave over, over time and against
// normal quantiles, one analysis a row.
func (x *writer) residuals(of []*analysis.Analysis) {
	var captions []string
	var charts []func(draw.Canvas)
	var drawn []*chart.Chart
	for _, a := range of {
		overTime, normal, ok := chart.Residuals(x.d, a)
		if !ok {
			continue
		}
		where := joinBy(" in ", x.s.Attributes[a.Attribute].ID, x.place(a.Pack, a.Orientation)) + ": residuals"
		captions = append(captions, where+" over time", where+" by normal quantile")
		charts = append(charts, overTime.Draw, normal.Draw)
		drawn = append(drawn, overTime, normal)
	}
	if len(drawn) == 0 {
		return
	}
	x.Need(residualHeight + 60)
	height, key := chart.Key(drawn, x.Width())
	x.Figure(height, "", key)
	x.pairs(residualHeight, captions, charts)
}

// calendar draws the plan with what became of it.
func (x *writer) calendar() {
	if c, ok := chart.Pulls(x.Schedule, x.d); ok {
		x.Figure(60+20*float64(len(x.s.Conditions)+1), "The pulls by month.", c.Draw)
	}
}
