package chart

import (
	"math"
	"testing"

	"shelfspan/analysis"
	"shelfspan/analysis/censored"
	"shelfspan/analysis/lifetime"
	"shelfspan/analysis/turnbull"
	"shelfspan/study"
)

// TestLifetimes draws 20 units put back of which 4 failed between 3 and 6 months
// and 2 between 6 and 9: the boxes rise from 0 to 20 and to 30 %, and the curves
// are those of the fit, which is never 0 or 1 there.
func TestLifetimes(t *testing.T) {
	d := one("leak", study.PassFail, math.Inf(-1), 0, 1)
	units := []censored.Interval{{After: 3, By: 6, Units: 4}, {After: 6, By: 9, Units: 2}, {After: 9, By: math.Inf(1), Units: 14}}
	in := lifetime.Input{Confidence: 0.95}
	for _, x := range units {
		in.Observations = append(in.Observations, lifetime.Observation{Interval: x, Celsius: d.Study.Conditions[0].Temperature})
	}
	fit := &analysis.LifetimeFit{}
	for _, c := range lifetime.Compare(in, lifetime.Lognormal, lifetime.Weibull) {
		q, err := c.Quantile(0.05, d.Study.Conditions[0].Temperature, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		fit.Candidates = append(fit.Candidates, analysis.LifetimeCandidate{Result: c.Result, Bounds: []analysis.UnitBound{{Quantile: q}}})
	}
	steps, err := turnbull.Estimate(units)
	if err != nil {
		t.Fatal(err)
	}
	l := &analysis.Lifetime{Share: 0.05, Confidence: 0.95}
	u := &analysis.UnitsAt{Units: 20, Failed: 6, Steps: steps, Own: fit}
	c, ok := Lifetimes(d, l, u)
	if !ok {
		t.Fatal("no chart")
	}
	if len(c.bars) != 2 || c.bars[0].min != (xy{3, 0}) || math.Abs(c.bars[0].max.y-20) > 1e-6 || math.Abs(c.bars[1].max.y-30) > 1e-6 || c.bars[1].max.x != 9 {
		t.Errorf("boxes %+v", c.bars)
	}
	for i, want := range []string{"between 3 and 6 months: 20.0 % of the units failed", "between 6 and 9 months: 10.0 % of the units failed"} {
		if c.bars[i].says != want {
			t.Errorf("a box says %q, want %q", c.bars[i].says, want)
		}
	}
	for i, f := range fit.Candidates {
		curve := c.lines[len(c.lines)-2+i].points
		last := curve[len(curve)-1]
		if want := 100 * f.FailedBy(last.x, 25); math.Abs(last.y-want) > 1e-9 || !(want > 20 && want < 50) {
			t.Errorf("%s ends at %+v, want %v", f.Distribution, last, want)
		}
	}
	if b := fit.Candidates[0].Bounds[0]; len(c.events) != 1 || c.events[0].at != b.Calibrated || !(b.Calibrated > 0 && b.Calibrated < b.Profile) {
		t.Errorf("events %+v, want the bound at %v, below that at %v", c.events, b.Calibrated, b.Profile)
	}
	draws(t, c, 233, 150).tidy(t, "small", 233, 150)
	got := draws(t, c, 482, 300)
	got.tidy(t, "large", 482, 300)
	if !got.has("5 %") {
		t.Errorf("the chart says %v", got.texts)
	}
	u.Own = nil
	if _, ok := Lifetimes(d, l, u); ok {
		t.Error("a chart of no distribution")
	}
}
