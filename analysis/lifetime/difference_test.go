package lifetime

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/censored"
	"shelfspan/testdata/reference"
)

// groups gives the units of an attribute in a pack and in the jar.
func groups(t *testing.T, attribute, pack string) (other, control []censored.Interval) {
	t.Helper()
	for _, r := range reference.Table(t, "lifetime-difference/units.csv") {
		i := censored.Interval{After: reference.Number(t, r["after"]), By: reference.Number(t, r["by"]), Units: 1}
		switch {
		case r["attribute"] != attribute:
		case r["pack"] == pack:
			other = append(other, i)
		case r["pack"] == "jar":
			control = append(control, i)
		}
	}
	return other, control
}

// The difference of two groups, its error, likelihood-ratio test and profile
// interval are those of R's survreg with a factor.
func TestDifferenceAgainstR(t *testing.T) {
	rows := reference.Table(t, "lifetime-difference/difference.csv")
	if len(rows) != 6 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, r := range rows {
		other, control := groups(t, r["attribute"], r["pack"])
		for _, level := range []struct {
			confidence float64
			low, high  string
		}{{0.95, "low", "high"}, {1 - 0.05/3, "low_three", "high_three"}} {
			d := FitDifference(DifferenceInput{Strata: []Stratum{{Reference: control, Other: other}}, Distribution: Distribution(r["distribution"]), Confidence: level.confidence})
			if d.Status != Fitted || d.Failed[0] != reference.Number(t, r["failed"]) || d.Failed[1] != reference.Number(t, r["against_failed"]) {
				t.Errorf("%v: %s %s, failed %v", r, d.Status, d.Reason, d.Failed)
				continue
			}
			for _, q := range []struct {
				name string
				got  float64
			}{
				{"ln_ratio", d.LnRatio}, {"se", d.SE}, {"location", d.Locations[0]}, {"scale", d.Scale}, {"loglik", d.LogLikelihood}, {"chi", d.ChiSquare}, {"p", d.P},
				{level.low, d.Low}, {level.high, d.High},
			} {
				if want := reference.Number(t, r[q.name]); math.Abs(q.got-want) > 1e-6*math.Abs(want) {
					t.Errorf("%s, %s, %s, %s: %.9g; R has %.9g", r["attribute"], r["pack"], r["distribution"], q.name, q.got, want)
				}
			}
		}
	}
}

// Where there is no finite difference none is told.
func TestNoDifference(t *testing.T) {
	unit := func(after, by float64) censored.Interval {
		return censored.Interval{After: after, By: by, Units: 1}
	}
	mixed := []censored.Interval{unit(0, 3), unit(3, 6), unit(6, inf), unit(3, inf), unit(0, 6)}
	for _, c := range []struct {
		name           string
		other, control []censored.Interval
		status         Status
	}{
		{"none failed in one", []censored.Interval{unit(6, inf), unit(6, inf)}, mixed, EaOpen},
		{"all failed in one at the first look", []censored.Interval{unit(0, 3), unit(0, 3)}, mixed, EaOpen},
		{"none failed", []censored.Interval{unit(6, inf)}, []censored.Interval{unit(6, inf)}, NoFailure},
		{"one moment in each", []censored.Interval{unit(0, 3), unit(3, inf)}, []censored.Interval{unit(0, 6), unit(6, inf)}, Separated},
		{"no units in one", nil, mixed, NoData},
		{"failed before storage", []censored.Interval{unit(0, 0), unit(3, 6)}, mixed, AtStart},
		{"none", []censored.Interval{unit(math.NaN(), 3)}, mixed, Refused},
	} {
		d := FitDifference(DifferenceInput{Strata: []Stratum{{Reference: c.control, Other: c.other}}, Distribution: Lognormal, Confidence: 0.95})
		if d.Status != c.status || d.Reason == "" || d.LnRatio != 0 {
			t.Errorf("%s: %s (%s), %g", c.name, d.Status, d.Reason, d.LnRatio)
		}
	}
}

// Swapping the groups turns the sign, and time in another unit changes nothing; the
// interval leaves out zero just where p is below its level.
func TestDifferenceProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		looks := []float64{1, 2, 3, 6, 9, 12}
		draw := func(name string) []censored.Interval {
			return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) censored.Interval {
				i := rapid.IntRange(0, len(looks)).Draw(t, "look")
				x := censored.Interval{After: 0, By: math.Inf(1), Units: float64(rapid.IntRange(1, 3).Draw(t, "units"))}
				if i > 0 {
					x.After = looks[i-1]
				}
				if i < len(looks) {
					x.By = looks[i]
				}
				return x
			}), 4, 12).Draw(t, name)
		}
		a, b := draw("a"), draw("b")
		scaled := func(g []censored.Interval) []censored.Interval {
			out := append([]censored.Interval(nil), g...)
			for i := range out {
				out[i].After, out[i].By = out[i].After*30, out[i].By*30
			}
			return out
		}
		for _, of := range []Distribution{Lognormal, Weibull} {
			fit := func(control, other []censored.Interval) *Difference {
				return FitDifference(DifferenceInput{Strata: []Stratum{{Reference: control, Other: other}}, Distribution: of, Confidence: 0.95})
			}
			d, turned, days := fit(a, b), fit(b, a), fit(scaled(a), scaled(b))
			if d.Status != turned.Status || d.Status != days.Status {
				t.Fatalf("%s, %s turned, %s in days", d.Status, turned.Status, days.Status)
			}
			if d.Status != Fitted {
				continue
			}
			same := func(x, y float64) bool { return x == y || math.Abs(x-y) <= 1e-5*(1+math.Abs(x)) }
			if !same(d.LnRatio, -turned.LnRatio) || !same(d.Low, -turned.High) || !same(d.High, -turned.Low) || !same(d.P, turned.P) || !same(d.SE, turned.SE) {
				t.Fatalf("%+v turned %+v", d, turned)
			}
			if !same(d.LnRatio, days.LnRatio) || !same(d.Low, days.Low) || !same(d.P, days.P) {
				t.Fatalf("%+v in days %+v", d, days)
			}
			if math.Abs(d.P-0.05) > 1e-6 && (d.Low > 0 || d.High < 0) != (d.P < 0.05) {
				t.Fatalf("p %g, %g to %g", d.P, d.Low, d.High)
			}
		}
	})
}
