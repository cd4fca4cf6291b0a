package lifetime

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/censored"
	"shelfspan/testdata/reference"
)

// The difference within batches, its error, likelihoods, test and profile interval are
// those of R's survreg with the batch as a second factor; a batch in which none failed,
// and one in which all had at the first look, are among them (strata.R).
func TestStrataAgainstR(t *testing.T) {
	sets := map[string][]Stratum{}
	for _, r := range reference.Table(t, "lifetime-difference/strata-units.csv") {
		b := int(reference.Number(t, r["batch"]))
		for len(sets[r["set"]]) < b {
			sets[r["set"]] = append(sets[r["set"]], Stratum{})
		}
		s := &sets[r["set"]][b-1]
		i := censored.Interval{After: reference.Number(t, r["after"]), By: reference.Number(t, r["by"]), Units: 1}
		if r["other"] == "1" {
			s.Other = append(s.Other, i)
		} else {
			s.Reference = append(s.Reference, i)
		}
	}
	rows := reference.Table(t, "lifetime-difference/strata.csv")
	if len(rows) != 10 {
		t.Fatalf("%d rows", len(rows))
	}
	worst := 0.0
	for _, r := range rows {
		for _, level := range []struct {
			confidence float64
			low, high  string
		}{{0.95, "low", "high"}, {1 - 0.05/3, "low_three", "high_three"}} {
			d := FitDifference(DifferenceInput{Strata: sets[r["set"]], Distribution: Distribution(r["distribution"]), Confidence: level.confidence})
			if d.Status != Fitted || d.Failed[0] != reference.Number(t, r["failed"]) || d.Failed[1] != reference.Number(t, r["against_failed"]) || d.Strata != int(reference.Number(t, r["strata"])) {
				t.Errorf("%v: %s %s, failed %v, %d strata", r, d.Status, d.Reason, d.Failed, d.Strata)
				continue
			}
			last := len(d.Locations) - 1
			if r["set"] == "silent" && !(math.IsNaN(d.Locations[3]) && math.IsNaN(d.Locations[4])) {
				t.Errorf("batches that tell nothing have locations: %v", d.Locations)
			}
			for _, q := range []struct {
				name string
				got  float64
			}{
				{"ln_ratio", d.LnRatio}, {"se", d.SE}, {"first", d.Locations[0]}, {"last", d.Locations[last]}, {"scale", d.Scale}, {"loglik", d.LogLikelihood},
				{"none", d.LogLikelihood - d.ChiSquare/2}, {"chi", d.ChiSquare}, {"p", d.P}, {level.low, d.Low}, {level.high, d.High},
			} {
				want := reference.Number(t, r[q.name])
				off := math.Abs(q.got - want)
				worst = max(worst, off)
				if !(off <= 1e-6*math.Abs(want)) {
					t.Errorf("%s, %s, %s: %.9g; R has %.9g", r["set"], r["distribution"], q.name, q.got, want)
				}
			}
		}
	}
	t.Logf("largest difference %.1e", worst)
}

// Where there is no finite difference within batches none is told, whatever the batches
// together would show.
func TestNoDifferenceWithin(t *testing.T) {
	unit := func(after, by float64) censored.Interval {
		return censored.Interval{After: after, By: by, Units: 1}
	}
	early, late, middle := unit(0, 3), unit(12, inf), unit(3, 6)
	of := func(x ...censored.Interval) []censored.Interval { return x }
	for _, c := range []struct {
		name   string
		strata []Stratum
		status Status
		finite bool
	}{
		{"in the one batch all failed, in the other none", []Stratum{{of(early), of(early, early)}, {of(late), of(late)}}, EaOpen, false},
		{"none failed", []Stratum{{of(late), of(late)}, {of(late), of(late)}}, NoFailure, false},
		{"none passed", []Stratum{{of(early), of(early)}, {of(early), of(early)}}, NoPass, false},
		{"in no batch one of the other fails while one of the reference passes", []Stratum{{of(early, middle, late), of(late)}, {of(early), of(middle, late, early)}}, EaOpen, false},
		{"the other way round too", []Stratum{{of(early, middle, late), of(late, middle)}, {of(early, middle), of(middle, late, early)}}, "", true},
		{"one moment in each, of one ratio", []Stratum{{of(unit(0, 3), unit(3, inf)), of(unit(0, 6), unit(6, inf))}, {of(unit(0, 6), unit(6, inf)), of(unit(0, 12), unit(12, inf))}}, Separated, false},
		{"one moment in each, of two ratios", []Stratum{{of(unit(0, 3), unit(3, inf)), of(unit(0, 6), unit(6, inf))}, {of(unit(0, 6), unit(6, inf)), of(unit(0, 6), unit(6, inf))}}, "", true},
		{"no batch with units of both", []Stratum{{of(early, late, middle), nil}, {nil, of(early, middle, late)}}, EaOpen, false},
		{"failed before storage in a batch that tells nothing else", []Stratum{{of(early, middle, late), of(late, middle, early)}, {of(unit(0, 0)), of(late)}}, AtStart, false},
		{"none", []Stratum{{of(early, middle, late), of(late, middle, early)}, {of(unit(math.NaN(), 3)), nil}}, Refused, false},
	} {
		d := FitDifference(DifferenceInput{Strata: c.strata, Distribution: Weibull, Confidence: 0.95})
		if c.finite {
			// Where a top is there the climb gets to it, or tells that it has no trend.
			if d.Status != Fitted && d.Status != NoTrend {
				t.Errorf("%s: %s (%s)", c.name, d.Status, d.Reason)
			}
			continue
		}
		if d.Status != c.status || d.Reason == "" || d.LnRatio != 0 {
			t.Errorf("%s: %s (%s), %g", c.name, d.Status, d.Reason, d.LnRatio)
		}
	}
}

// The order of batches changes nothing, nor do batches in which none failed or none
// passed; swapped groups turn the sign; a unit of time of its own for each batch changes
// nothing; and the interval leaves out zero just where p is below its level.
func TestStrataProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		looks := []float64{1, 2, 3, 6, 9, 12}
		draw := func(name string) []censored.Interval {
			return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) censored.Interval {
				i := rapid.IntRange(0, len(looks)).Draw(t, "look")
				x := censored.Interval{By: math.Inf(1), Units: float64(rapid.IntRange(1, 3).Draw(t, "units"))}
				if i > 0 {
					x.After = looks[i-1]
				}
				if i < len(looks) {
					x.By = looks[i]
				}
				return x
			}), 1, 8).Draw(t, name)
		}
		var strata, turned, more, times []Stratum
		for range rapid.IntRange(1, 4).Draw(t, "batches") {
			s := Stratum{Reference: draw("reference"), Other: draw("other")}
			factor := rapid.Float64Range(0.1, 10).Draw(t, "factor")
			scaled := func(g []censored.Interval) (out []censored.Interval) {
				for _, i := range g {
					out = append(out, censored.Interval{After: factor * i.After, By: factor * i.By, Units: i.Units})
				}
				return out
			}
			strata = append(strata, s)
			turned = append(turned, Stratum{Reference: s.Other, Other: s.Reference})
			none := []censored.Interval{{After: 12, By: math.Inf(1), Units: 4}}
			all := []censored.Interval{{By: 1, Units: 2}}
			more = append([]Stratum{s, {Reference: none, Other: none}, {Reference: all, Other: all}}, more...)
			times = append(times, Stratum{Reference: scaled(s.Reference), Other: scaled(s.Other)})
		}
		for _, of := range []Distribution{Lognormal, Weibull} {
			fit := func(s []Stratum) *Difference {
				return FitDifference(DifferenceInput{Strata: s, Distribution: of, Confidence: 0.95})
			}
			d := fit(strata)
			if d.Status == NotConverged || d.Status == Flat {
				t.Fatalf("%s: %s", d.Status, d.Reason)
			}
			for name, x := range map[string]*Difference{"turned": fit(turned), "with more": fit(more), "in other times": fit(times)} {
				if x.Status != d.Status {
					if d.Strata == 0 {
						continue // of batches that tell nothing, those added may name another reason
					}
					t.Fatalf("%s (%s), %s %s (%s)", d.Status, d.Reason, name, x.Status, x.Reason)
				}
				if d.Status != Fitted {
					continue
				}
				sign, low, high := 1.0, x.Low, x.High
				if name == "turned" {
					sign, low, high = -1, -x.High, -x.Low
				}
				same := func(x, y float64) bool { return x == y || math.Abs(x-y) <= 1e-5*(1+math.Abs(x)) }
				if !same(d.LnRatio, sign*x.LnRatio) || !same(d.Low, low) || !same(d.High, high) || !same(d.P, x.P) || !same(d.SE, x.SE) || !same(d.LogLikelihood, x.LogLikelihood) || d.Strata != x.Strata {
					t.Fatalf("%+v, %s %+v", d, name, x)
				}
			}
			if d.Status == Fitted && math.Abs(d.P-0.05) > 1e-6 && (d.Low > 0 || d.High < 0) != (d.P < 0.05) {
				t.Fatalf("p %g, %g to %g", d.P, d.Low, d.High)
			}
		}
	})
}
