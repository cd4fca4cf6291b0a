package lifetime

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/censored"
	"shelfspan/study/finding"
)

// at makes observations at one temperature: after, by, units.
func at(celsius float64, list ...[3]float64) []Observation {
	var out []Observation
	for _, x := range list {
		out = append(out, Observation{Celsius: celsius, Interval: censored.Interval{After: x[0], By: x[1], Units: x[2]}})
	}
	return out
}

// has reports whether a warning of a code is among some.
func has(warnings []finding.Warning, code string) bool {
	return slices.ContainsFunc(warnings, func(w finding.Warning) bool { return w.Code == code })
}

// Where the likelihood has no top the answer says so, and why; where it has one
// by a hair there is an answer.
func TestExistence(t *testing.T) {
	type of = [3]float64
	join := slices.Concat[[]Observation]
	for _, c := range []struct {
		name      string
		units     []Observation
		arrhenius bool
		want      Status
		reason    string
	}{
		{"no units", nil, false, NoData, "of no unit"},
		{"nothing known", at(25, of{0, inf, 3}), false, NoData, "of no unit"},
		{"none failed", at(25, of{3, inf, 10}, of{6, inf, 5}), false, NoFailure, "known to have failed"},
		{"all failed when first looked at", at(25, of{0, 3, 10}, of{0, 6, 5}), false, NoPass, "known to have passed"},
		{"failed before storage", at(25, of{0, 0, 1}, of{3, 6, 5}, of{6, 9, 5}), false, AtStart, "1 unit failed before storage began"},
		{"all failures in one interval", at(25, of{3, 6, 5}), false, Separated, "between 3 and 6"},
		{"all failures in one interval, and passes before it", at(25, of{3, 6, 5}, of{2, inf, 4}), false, Separated, "between 3 and 6"},
		{"all failures in one interval, and passes at its end", at(25, of{3, 6, 5}, of{6, inf, 4}), false, Separated, "by 6"},
		{"one look", at(25, of{6, inf, 5}, of{0, 6, 5}), false, Separated, "by 6"},
		{"passes up to 6, failures from 9 on", at(25, of{3, inf, 5}, of{6, inf, 5}, of{0, 9, 5}, of{0, 12, 5}), false, Separated, "between 6 and 9"},
		{"one lifetime", at(25, of{6, 6, 1}), false, Separated, "by 6"},
		{"lifetimes alike", at(25, of{6, 6, 5}), false, Separated, "by 6"},
		{"two lifetimes", at(25, of{6, 6, 1}, of{7, 7, 1}), false, Fitted, ""},
		{"two intervals that touch", at(25, of{3, 6, 5}, of{6, 9, 5}), false, Separated, "by 6"},
		{"three intervals", at(25, of{3, 6, 5}, of{6, 9, 5}, of{9, 12, 5}), false, Fitted, ""},
		{"two intervals apart", at(25, of{3, 6, 5}, of{9, 12, 5}), false, Fitted, ""},
		{"a pass after a failure", at(25, of{0, 6, 1}, of{9, inf, 1}, of{3, inf, 9}, of{0, 12, 9}), false, Fitted, ""},
		// 5 of 10 failed at 3, and 5 of 10 at 12: see TestTrendOfUnitsOpenedOnce.
		{"no trend", at(25, of{0, 3, 5}, of{3, inf, 5}, of{0, 12, 5}, of{12, inf, 5}), false, NoTrend, "not failed more often"},
		{"falling", at(25, of{0, 3, 6}, of{3, inf, 4}, of{0, 12, 4}, of{12, inf, 6}), false, NoTrend, "not failed more often"},
		{"rising", at(25, of{0, 3, 4}, of{3, inf, 6}, of{0, 12, 6}, of{12, inf, 4}), false, Fitted, ""},

		{"one temperature", at(25, of{3, 6, 5}, of{6, 9, 5}, of{9, 12, 5}), true, OneTemperature, "one temperature only"},
		{"a line parts them", join(at(25, of{12, inf, 5}), at(40, of{0, 6, 3}, of{3, inf, 3}), at(50, of{0, 2, 5})), true, Separated, "on one line"},
		// The moments would be 8 to 9, 2 to 3 and 6 to 12: on no line.
		{"no line parts them", join(at(25, of{0, 9, 5}, of{8, inf, 5}), at(40, of{0, 3, 5}, of{2, inf, 3}), at(50, of{6, inf, 3}, of{0, 12, 5})), true, Fitted, ""},
		{"failures at the hottest only", join(at(25, of{12, inf, 9}), at(40, of{3, 6, 2}, of{6, 9, 2}, of{9, 12, 2})), true, EaOpen, "as hot as any"},
		{"failures at the coldest only", join(at(50, of{12, inf, 9}), at(40, of{3, 6, 2}, of{6, 9, 2}, of{9, 12, 2})), true, EaOpen, "as cold as any"},
		{"passes at the coldest, first looks at the hottest", join(at(25, of{12, inf, 9}), at(40, of{3, 6, 2}, of{6, 9, 2}, of{9, 12, 2}), at(50, of{0, 1, 9})), true, EaOpen, "as hot as any"},
		{"one failure at the colder", join(at(25, of{12, inf, 9}, of{9, 12, 1}), at(40, of{3, 6, 2}, of{6, 9, 2}, of{9, 12, 2})), true, Fitted, ""},
		{"temperature, but no trend in time", join(at(25, of{0, 3, 2}, of{3, inf, 8}, of{0, 12, 2}, of{12, inf, 8}), at(40, of{0, 3, 7}, of{3, inf, 3}, of{0, 12, 7}, of{12, inf, 3})), true, NoTrend, "not failed more often"},
		{"two temperatures of one look each", join(at(25, of{0, 6, 2}, of{6, inf, 8}), at(40, of{0, 6, 7}, of{6, inf, 3})), true, Separated, "on one line"},
	} {
		for _, d := range []Distribution{Lognormal, Weibull} {
			r := Fit(Input{Where: "seal", Observations: c.units, Distribution: d, Arrhenius: c.arrhenius, Confidence: 0.95})
			if r.Status != c.want {
				t.Errorf("%s, %s: %s (%s), want %s; %d steps", c.name, d, r.Status, r.Reason, c.want, r.Iterations)
				continue
			}
			if c.want == Fitted {
				continue
			}
			if !strings.Contains(r.Reason, c.reason) || len(r.Warnings) != 1 || r.Warnings[0].Code != string(c.want) || r.Warnings[0].Where != "seal" {
				t.Errorf("%s, %s: %q, warnings %v", c.name, d, r.Reason, r.Warnings)
			}
			if _, err := r.Quantile(0.05, 25, 0.95); !errors.Is(err, ErrNotFitted) {
				t.Errorf("%s, %s: a quantile all the same, %v", c.name, d, err)
			}
		}
	}
}

// What is no input is refused, whatever the rest is.
func TestRefuses(t *testing.T) {
	type of = [3]float64
	good := at(25, of{3, 6, 5}, of{6, 9, 5}, of{9, 12, 5})
	for name, in := range map[string]Input{
		"no distribution":   {Observations: good, Confidence: 0.95},
		"another":           {Observations: good, Distribution: "gamma", Confidence: 0.95},
		"no confidence":     {Observations: good, Distribution: Weibull},
		"NaN confidence":    {Observations: good, Distribution: Weibull, Confidence: math.NaN()},
		"full confidence":   {Observations: good, Distribution: Weibull, Confidence: 1},
		"by before after":   {Observations: append(at(25, of{6, 3, 1}), good...), Distribution: Weibull, Confidence: 0.95},
		"no number":         {Observations: append(at(25, of{math.NaN(), 3, 1}), good...), Distribution: Weibull, Confidence: 0.95},
		"units below zero":  {Observations: append(at(25, of{3, 6, -1}), good...), Distribution: Weibull, Confidence: 0.95},
		"no temperature":    {Observations: append(at(math.NaN(), of{3, 6, 1}), good...), Distribution: Weibull, Confidence: 0.95},
		"below all warmth":  {Observations: append(at(-274, of{3, 6, 1}), good...), Distribution: Weibull, Confidence: 0.95},
		"as hot as can be":  {Observations: append(at(inf, of{3, 6, 1}), good...), Distribution: Weibull, Confidence: 0.95},
		"units without end": {Observations: append(at(25, of{3, 6, inf}), good...), Distribution: Weibull, Confidence: 0.95},
	} {
		if r := Fit(in); r.Status != Refused || r.Reason == "" {
			t.Errorf("%s: %s, %s", name, r.Status, r.Reason)
		}
	}
}

// Of units looked at once at one temperature there is a finite spread just where
// the mean log time of the looks that found a failure is later than that of the
// looks that found a pass, whatever the distribution: at φ = 0 every look is as
// likely to find a failure, and the gradient by φ is a positive multiple of that
// difference.
func TestTrendOfUnitsOpenedOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var units []Observation
		var failed, passed, nf, np float64
		latestPass, earliestFail := 0.0, inf
		for range rapid.IntRange(2, 12).Draw(t, "units") {
			month := float64(rapid.IntRange(1, 6).Draw(t, "months"))
			if rapid.Bool().Draw(t, "failed") {
				units = append(units, at(25, [3]float64{0, month, 1})...)
				failed, nf, earliestFail = failed+math.Log(month), nf+1, min(earliestFail, month)
			} else {
				units = append(units, at(25, [3]float64{month, inf, 1})...)
				passed, np, latestPass = passed+math.Log(month), np+1, max(latestPass, month)
			}
		}
		later := failed/nf - passed/np
		want := Fitted
		switch {
		case nf == 0:
			want = NoFailure
		case np == 0:
			want = NoPass
		case latestPass <= earliestFail:
			want = Separated
		case later < 1e-9: // 0 but for rounding is no trend
			want = NoTrend
		}
		for _, d := range []Distribution{Lognormal, Weibull} {
			if r := Fit(Input{Observations: units, Distribution: d, Confidence: 0.95}); r.Status != want {
				t.Fatalf("%s: %s, want %s; %v", d, r.Status, want, units)
			}
		}
	})
}

// Whatever units are drawn, what is fitted is the top: nearby parameters are no
// likelier. The bounds are no later than the estimate, and no climb fails. Flat is
// an answer where intervals are much wider than the spread.
func TestFitIsTheTop(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := Input{Observations: drawSample(t), Arrhenius: rapid.Bool().Draw(t, "arrhenius"), Confidence: 0.9,
			Distribution: rapid.SampledFrom([]Distribution{Lognormal, Weibull}).Draw(t, "distribution")}
		r := Fit(in)
		if r.Status == NotConverged {
			t.Fatalf("%s: %s", r.Status, r.Reason)
		}
		if r.Status != Fitted {
			return
		}
		f := r.fit
		p := &problem{sample: f.sample, columns: [][]float64{ones(len(f.x))}, origin: make([]float64, len(f.x))}
		if in.Arrhenius {
			p.columns = append(p.columns, f.x)
		}
		n := p.parameters()
		g, h := make([]float64, n), make([]float64, n*n)
		top := p.look(f.top.at, g, h)
		near := make([]float64, n)
		for range 10 {
			for j := range near {
				near[j] = f.top.at[j] + rapid.Float64Range(-0.1, 0.1).Draw(t, "off")*math.Sqrt(f.top.inverse[j*n+j])
			}
			if l := p.look(near, g, h); near[n-1] > 0 && l > top+1e-9 {
				t.Fatalf("log-likelihood %.12g at %v, %.12g at the fit %v", l, near, top, f.top.at)
			}
		}
		q, err := r.Quantile(0.05, 30, 0.95)
		if err != nil || !(q.Profile <= q.Estimate) || !(q.Wald <= q.Estimate) ||
			has(q.Warnings, "profile-not-converged") || has(r.Warnings, "profile-not-converged") {
			t.Fatalf("%+v, %v, %v", q, err, r.Warnings)
		}
		if in.Arrhenius && !(r.EaLow <= r.EaKJ && r.EaKJ <= r.EaHigh) {
			t.Fatalf("Ea %v from %v to %v", r.EaKJ, r.EaLow, r.EaHigh)
		}
	})
}
