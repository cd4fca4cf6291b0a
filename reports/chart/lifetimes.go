package chart

import (
	"fmt"
	"math"

	"shelfspan/analysis"
	"shelfspan/analysis/lifetime"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// Lifetimes draws the share of units that has failed over the time in storage at
// one condition: what was seen without a model, in boxes between the looks in
// which it rose, and both distributions, the governing one solid. They are those
// of all temperatures together where these could be fitted, else of the condition
// alone. The second value is false where there is none.
func Lifetimes(d *study.Dataset, l *analysis.Lifetime, u *analysis.UnitsAt) (*Chart, bool) {
	fit, own := l.Joint, false
	if !fit.Fitted() {
		fit, own = u.Own, true
	}
	if !fit.Fitted() || u.Steps == nil {
		return nil, false
	}
	condition := &d.Study.Conditions[u.Condition]
	end := 0.0
	for _, j := range u.Steps.Jumps {
		end = math.Max(end, j.After)
		if finite(j.By) {
			end = math.Max(end, j.By)
		}
	}
	c := &Chart{
		x: axis{label: "time in storage (months)", min: 0, max: 1.06 * end},
		y: axis{label: "units failed (%)"},
	}
	c.x.ticks = monthTicks(c.x.max)

	seen := solid(grey, 1.2)
	from, below := 0.0, 0.0
	for _, j := range u.Steps.Jumps {
		c.lines = append(c.lines, line{[]xy{{from, below}, {j.After, below}}, seen})
		if !finite(j.By) {
			from = j.After
			break
		}
		above := below + 100*j.Share
		c.bars = append(c.bars, bar{min: xy{j.After, below}, max: xy{j.By, above}, fill: faint, says: words.Rose(j.After, j.By, j.Share)})
		from, below = j.By, above
	}
	c.lines = append(c.lines, line{[]xy{{from, below}, {end, below}}, seen})
	c.legend = append(c.legend, entry{text: "seen, without a model: the share rises somewhere within a box", fill: faint})

	for i := range fit.Candidates {
		f := &fit.Candidates[i]
		if f.Status != lifetime.Fitted {
			continue
		}
		style := solid(ink, 1.6)
		text := words.DistributionName(f.Distribution)
		if i > 0 {
			style = dashed(Palette[1], 1.2, 4, 2.5)
		} else {
			text += ", which governs"
		}
		curve := line{style: style}
		for k := range curvePoints {
			t := c.x.max * float64(k+1) / curvePoints
			curve.points = append(curve.points, xy{t, 100 * f.FailedBy(t, condition.Temperature)})
		}
		c.lines = append(c.lines, curve)
		c.legend = append(c.legend, entry{text: text, shared: words.DistributionName(f.Distribution), line: &style})
	}
	share := 100 * l.Share
	c.y.max = 102
	for _, enough := range []float64{25, 50} {
		if highest(c) <= enough && share <= enough {
			c.y.max = enough * 1.02
			break
		}
	}
	c.y.ticks = niceTicks(0, c.y.max, 5)
	c.levels = append(c.levels, level{share, "", words.Percent(l.Share), dashed(grey, 0.8, 1, 2.5)})
	for i := range fit.Candidates[0].Bounds {
		b := &fit.Candidates[0].Bounds[i]
		if b.Celsius == condition.Temperature && !b.Open && b.Calibrated <= c.x.max {
			c.events = append(c.events, event{at: b.Calibrated, text: "bound at " + words.Bound(b.Calibrated) + " months", line: dashed(ink, 0.7, 4, 2), ring: &share})
			break
		}
	}
	by := "all temperatures"
	if own {
		by = "this condition alone"
	}
	c.Description = fmt.Sprintf("Share of units that missed the criterion over time: %s at %s, %d of %d units, with the distributions of lifetimes by %s.",
		words.Place(d.Study, l.Attribute, l.Pack, l.Orientation), words.Condition(condition), u.Failed, u.Units, by)
	return c, true
}

// highest is the highest y of a chart's lines.
func highest(c *Chart) float64 {
	top := 0.0
	for _, l := range c.lines {
		for _, p := range l.points {
			top = math.Max(top, p.y)
		}
	}
	return top
}
