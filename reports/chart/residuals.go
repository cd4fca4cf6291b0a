package chart

import (
	"fmt"
	"math"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// leastResiduals is how many a chart of residuals needs to show anything.
const leastResiduals = 5

// Residuals draws what a fit leaves over, sample by sample: over time, and against
// the quantiles that normal residuals would have, with the line they would lie on.
// ok is false where there is too little to draw.
func Residuals(d *study.Dataset, a *analysis.Analysis) (overTime, normal *Chart, ok bool) {
	at := &d.Study.Attributes[a.Attribute]
	rs := a.Residuals(at)
	if len(rs) < leastResiduals {
		return nil, nil, false
	}
	end := 1.0
	values, quantiles := []float64{0}, []float64{}
	for i := range rs {
		end = math.Max(end, rs[i].Sample.Months)
		values, quantiles = append(values, rs[i].Value), append(quantiles, rs[i].Normal)
	}
	y := axis{label: "residual", unit: unit(at)}
	y.min, y.max = fitting(values)
	y.ticks = niceTicks(y.min, y.max, 4)
	none := level{at: 0, line: solid(grey, 0.8)}
	place := fmt.Sprintf("%s at %s", words.Place(d.Study, a.Attribute, a.Pack, a.Orientation), words.Condition(&d.Study.Conditions[a.Condition]))

	overTime = &Chart{
		Description: fmt.Sprintf("What the fit leaves over of %d samples, over time: %s.", len(rs), place),
		x:           axis{label: "time in storage (months)", min: -0.04 * end, max: 1.04 * end}, y: y, levels: []level{none},
	}
	overTime.x.ticks = monthTicks(overTime.x.max)
	normal = &Chart{
		Description: fmt.Sprintf("What the fit leaves over of %d samples, in order, against normal quantiles: %s.", len(rs), place),
		x:           axis{label: "normal quantile (standard deviations)"}, y: y, levels: []level{none},
	}
	normal.x.min, normal.x.max = fitting(quantiles)
	normal.x.ticks = niceTicks(normal.x.min, normal.x.max, 5)
	if centre, spread := analysis.QuantileLine(rs); finite(centre) && finite(spread) {
		straight := line{style: boundStroke(ink)}
		for _, q := range []float64{normal.x.min, normal.x.max} {
			straight.points = append(straight.points, xy{q, centre + spread*q})
		}
		normal.lines = append(normal.lines, straight)
		normal.legend = append(normal.legend, entry{text: "through the quartiles: where normal residuals lie", line: &straight.style})
	}
	for b := range d.Study.Batches {
		over := points{marker: markerOf(b), size: 2.9, shift: aside(b, len(d.Study.Batches))}
		against := points{marker: markerOf(b), size: 2.9}
		var of []*analysis.Residual
		for i := range rs {
			if r := &rs[i]; r.Sample.Batch == b {
				of = append(of, r)
				over.at = append(over.at, xy{r.Sample.Months, r.Value})
				against.at = append(against.at, xy{r.Normal, r.Value})
			}
		}
		if len(over.at) == 0 {
			continue
		}
		over.says = func(i int) string { return words.LeftOver(d.Study, of[i]) }
		against.says = over.says
		overTime.points, normal.points = append(overTime.points, over), append(normal.points, against)
		m := markerOf(b)
		overTime.legend = append(overTime.legend, entry{text: "batch " + d.Study.Batches[b].ID, marker: &m})
	}
	return overTime, normal, true
}
