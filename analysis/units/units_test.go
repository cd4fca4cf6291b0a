package units_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/regression"
	"shelfspan/analysis/units"
	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/testdata/reference"
)

// The reference numbers are R's: testdata/reference/units/units.R fits each unit
// by lm, tests by aov and finds every crossing by uniroot.
// same asks for agreement to 9 significant digits.
func same(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.IsNaN(want) && math.IsNaN(got) || got == want {
		return
	}
	if !(math.Abs(got-want) <= 1e-9*math.Abs(want)) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

// readUnits gives the units of a case.
func readUnits(t *testing.T, rows []map[string]string, name string) []units.Unit {
	t.Helper()
	var out []units.Unit
	for _, r := range rows {
		if r["case"] != name {
			continue
		}
		if len(out) == 0 || out[len(out)-1].Label != r["unit"] {
			out = append(out, units.Unit{Batch: int(reference.Number(t, r["batch"])) - 1, Label: r["unit"]})
		}
		u := &out[len(out)-1]
		u.Points = append(u.Points, kinetics.Point{Months: reference.Number(t, r["months"]), Value: reference.Number(t, r["value"])})
	}
	return out
}

func cases(rows []map[string]string) (names []string, byCase map[string][]map[string]string) {
	byCase = make(map[string][]map[string]string)
	for _, r := range rows {
		if byCase[r["case"]] == nil {
			names = append(names, r["case"])
		}
		byCase[r["case"]] = append(byCase[r["case"]], r)
	}
	return names, byCase
}

func compare(t *testing.T, out regression.Output, want []map[string]string) {
	t.Helper()
	if len(out.Fits) != len(want) {
		t.Fatalf("%d fits (%s), want %d", len(out.Fits), out.Status, len(want))
	}
	w := want[0]
	if string(out.Pooling.Decision) != w["decision"] {
		t.Errorf("decision %s, want %s", out.Pooling.Decision, w["decision"])
	}
	same(t, "F of the slopes", out.Pooling.SlopesF, reference.Number(t, w["slopes_f"]))
	same(t, "p of the slopes", out.Pooling.SlopesP, reference.Number(t, w["slopes_p"]))
	same(t, "degrees of freedom", float64(out.DF), reference.Number(t, w["df"]))
	same(t, "sd between units", out.ResidualSD, reference.Number(t, w["sd"]))
	shortest := math.Inf(1)
	for i, f := range out.Fits {
		w := want[i]
		same(t, "units", float64(f.N), reference.Number(t, w["n"]))
		same(t, "slope", f.Slope, reference.Number(t, w["slope"]))
		same(t, "slope's error", f.SlopeSE, reference.Number(t, w["slope_se"]))
		same(t, "estimate", f.Estimate, reference.Number(t, w["estimate_months"]))
		same(t, "shelf life", f.ShelfLife, reference.Number(t, w["shelf_life_months"]))
		shortest = min(shortest, f.ShelfLife)
	}
	same(t, "shortest shelf life", out.ShelfLife, shortest)
}

func input(t *testing.T, w map[string]string) regression.Input {
	t.Helper()
	return regression.Input{Lower: reference.Number(t, w["lower"]), Upper: reference.Number(t, w["upper"]), Alpha: 0.25, Confidence: 0.95}
}

func TestRatesAgainstR(t *testing.T) {
	data := reference.Table(t, "units/weighings.csv")
	names, want := cases(reference.Table(t, "units/weighings-answers.csv"))
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			out, _ := units.Rates(readUnits(t, data, name), input(t, want[name][0]))
			compare(t, out, want[name])
			if p := out.Pooling.InterceptsP; !math.IsNaN(p) {
				t.Errorf("intercepts were tested: p = %v", p)
			}
			// The band is a rate with its error times the time.
			f := out.Fits[0]
			mean, lower, upper := f.Curve(10)
			same(t, "mean at 10 months", mean, 10*f.Slope)
			if out.JudgedUpper {
				same(t, "upper limit at 10 months", upper, 10*(f.Slope+out.Quantile*f.SlopeSE))
			}
			if out.JudgedLower {
				same(t, "lower limit at 10 months", lower, 10*(f.Slope-out.Quantile*f.SlopeSE))
			}
		})
	}
}

func TestLinesAgainstR(t *testing.T) {
	data := reference.Table(t, "units/returned.csv")
	names, want := cases(reference.Table(t, "units/returned-answers.csv"))
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			in := input(t, want[name][0])
			if name == "first-order" {
				in.Model = study.FirstOrder
			}
			out, _ := units.Lines(readUnits(t, data, name), in)
			compare(t, out, want[name])
			same(t, "F of the levels", out.Pooling.InterceptsF, reference.Number(t, want[name][0]["intercepts_f"]))
			same(t, "p of the levels", out.Pooling.InterceptsP, reference.Number(t, want[name][0]["intercepts_p"]))
			for i, f := range out.Fits {
				same(t, "intercept", f.Intercept, reference.Number(t, want[name][i]["intercept"]))
				if in.Model != study.FirstOrder {
					mean, lower, _ := f.Curve(10)
					same(t, "error of the mean at 10 months", (mean-lower)/out.Quantile, reference.Number(t, want[name][i]["se10"]))
				}
			}
		})
	}
}

// The 15 units of NIST/SEMATECH e-Handbook 8.4.2.3 (figures from memory), their
// rates in percent an hour against R's lm(percent ~ 0 + hours).
func TestRatesOfDegradationReadouts(t *testing.T) {
	points := make(map[string][]kinetics.Point)
	for _, r := range reference.Table(t, "degradation-readouts.csv") {
		points[r["unit"]] = append(points[r["unit"]], kinetics.Point{Months: reference.Number(t, r["hours"]), Value: reference.Number(t, r["percent"])})
	}
	rates := reference.Table(t, "units/degradation-rates.csv")
	if len(rates) != 15 || len(points) != 15 {
		t.Fatalf("%d rates, %d units", len(rates), len(points))
	}
	for _, r := range rates {
		got, ok := units.Rate(points[r["unit"]])
		if !ok {
			t.Errorf("unit %s has no rate", r["unit"])
		}
		same(t, "unit "+r["unit"], got, reference.Number(t, r["rate"]))
	}
}

func weighed(batch int, label string, rate float64, times ...float64) units.Unit {
	u := units.Unit{Batch: batch, Label: label}
	for _, m := range times {
		u.Points = append(u.Points, kinetics.Point{Months: m, Value: rate * m})
	}
	return u
}

func upTo(upper float64) regression.Input {
	return regression.Input{Lower: math.Inf(-1), Upper: upper, Alpha: 0.25, Confidence: 0.95}
}

func has(ws []finding.Warning, code, text string) bool {
	for _, w := range ws {
		if w.Code == code && strings.Contains(w.Text, text) {
			return true
		}
	}
	return false
}

// twoUnits is the bound of the mean of two rates, 0.1 and 0.3: 0.2 + t·0.1 with
// t(0.95, 1) = tan(0.45π), the quantile of the Cauchy distribution.
var twoUnits = 0.2 + 0.1*math.Tan(0.45*math.Pi)

func TestRatesStatus(t *testing.T) {
	for _, c := range []struct {
		name    string
		units   []units.Unit
		in      regression.Input
		status  regression.Status
		life    float64 // NaN: not looked at
		code    string
		warning string
	}{
		// Rates 0.1 and 0.3: mean 0.2, sd 0.1414214, error 0.1, t(0.95, 1) = 6.313752.
		{"two units", []units.Unit{weighed(0, "a", 0.1, 0, 3, 6), weighed(0, "b", 0.3, 0, 3, 6)}, upTo(3), regression.Fitted, 3 / twoUnits, "one-batch", ""},
		{"the start counts as a time, given or not", []units.Unit{weighed(0, "a", 0.1, 3, 6), weighed(0, "b", 0.3, 3, 6)}, upTo(3), regression.Fitted, 3 / twoUnits, "", ""},
		{"one unit", []units.Unit{weighed(0, "a", 0.1, 0, 3, 6)}, upTo(3), regression.NotFitted, math.NaN(), "not-fitted", "no batch has two units"},
		{"one unit a batch", []units.Unit{weighed(0, "a", 0.1, 0, 3, 6), weighed(1, "b", 0.1, 0, 3, 6), weighed(2, "c", 0.1, 0, 3, 6)}, upTo(3), regression.NotFitted, math.NaN(), "not-fitted", "no batch has two units"},
		{"weighed once after the start", []units.Unit{weighed(0, "a", 0.1, 0, 3), weighed(0, "b", 0.1, 0, 3)}, upTo(3), regression.TooFewTimes, math.NaN(), "too-few-times", ""},
		{"no units", nil, upTo(3), regression.TooFewTimes, math.NaN(), "too-few-times", "no results"},
		{"a unit lost after its start is left out", []units.Unit{weighed(0, "a", 0.1, 0, 3, 6), weighed(0, "lost", 0, 0), weighed(0, "b", 0.3, 0, 3, 6)}, upTo(3), regression.Fitted, 3 / twoUnits, "unit-left-out", "Unit lost is left out"},
		{"no loss at all", []units.Unit{weighed(0, "a", 0, 0, 3, 6), weighed(0, "b", 0, 0, 3, 6)}, upTo(3), regression.NeverReached, math.Inf(1), "no-variation", ""},
		{"a gain, and only loss is limited", []units.Unit{weighed(0, "a", -0.10, 0, 3, 6), weighed(0, "b", -0.11, 0, 3, 6)}, upTo(3), regression.NeverReached, math.Inf(1), "", ""},
		{"a loss that does not vary", []units.Unit{weighed(0, "a", 0.1, 0, 3, 6), weighed(0, "b", 0.1, 0, 3, 6)}, upTo(3), regression.Fitted, 30, "no-residual", ""},
		{"no limit", []units.Unit{weighed(0, "a", 0.1, 0, 3, 6), weighed(0, "b", 0.3, 0, 3, 6)}, upTo(math.Inf(1)), regression.NoCriterion, math.NaN(), "", ""},
		{"no loss is allowed", []units.Unit{weighed(0, "a", 0.1, 0, 3, 6), weighed(0, "b", 0.3, 0, 3, 6)}, upTo(0), regression.BreachedAtStart, 0, "breached-at-start", ""},
		{"no number", []units.Unit{weighed(0, "a", math.NaN(), 0, 3, 6), weighed(0, "b", 0.3, 0, 3, 6)}, upTo(3), regression.NotFitted, math.NaN(), "not-fitted", ""},
	} {
		out, warnings := units.Rates(c.units, c.in)
		if out.Status != c.status {
			t.Errorf("%s: status %s, want %s (%v)", c.name, out.Status, c.status, warnings)
		}
		if !math.IsNaN(c.life) && !(out.ShelfLife == c.life || math.Abs(out.ShelfLife-c.life) < 1e-9) {
			t.Errorf("%s: shelf life %.9g, want %v", c.name, out.ShelfLife, c.life)
		}
		if c.code != "" && !has(warnings, c.code, c.warning) {
			t.Errorf("%s: warnings %v, want %s: %s", c.name, warnings, c.code, c.warning)
		}
		if c.status == regression.NotFitted && len(out.Fits) != 0 {
			t.Errorf("%s: not fitted, but there are fits", c.name)
		}
	}
}

func TestBaselineIsNotUsedForWeighings(t *testing.T) {
	in := upTo(3)
	in.Baseline = 1
	out, warnings := units.Rates([]units.Unit{weighed(0, "a", 0.1, 0, 3, 6), weighed(0, "b", 0.1, 0, 3, 6)}, in)
	if !(math.Abs(out.ShelfLife-30) < 1e-9) || !has(warnings, "baseline-not-used", "") {
		t.Errorf("shelf life %v, warnings %v", out.ShelfLife, warnings)
	}
}

// Without spread within the batches, any difference between them is beyond
// doubt, and none is none.
func TestRatesWithoutSpread(t *testing.T) {
	batches := func(second float64) []units.Unit {
		return []units.Unit{weighed(0, "a", 0.1, 0, 3, 6), weighed(0, "b", 0.1, 0, 3, 6), weighed(1, "c", second, 0, 3, 6), weighed(1, "d", second, 0, 3, 6)}
	}
	out, _ := units.Rates(batches(0.2), upTo(3))
	if out.Pooling.Decision != pooling.Separate || out.Pooling.SlopesP != 0 || out.Limiting != 1 {
		t.Errorf("%+v", out.Pooling)
	}
	same(t, "shelf life", out.ShelfLife, 15)
	out, _ = units.Rates(batches(0.1), upTo(3))
	if out.Pooling.Decision != pooling.Pooled || out.Pooling.SlopesP != 1 || out.Limiting != -1 {
		t.Errorf("%+v", out.Pooling)
	}
}

func TestLinesStatus(t *testing.T) {
	line := func(batch int, label string, a, b float64, times ...float64) units.Unit {
		u := units.Unit{Batch: batch, Label: label}
		for _, m := range times {
			u.Points = append(u.Points, kinetics.Point{Months: m, Value: a + b*m})
		}
		return u
	}
	in := regression.Input{Lower: 90, Upper: math.Inf(1), Alpha: 0.25, Confidence: 0.95}
	// Lines 100 − 0.1t and 100 − 0.3t: mean 100 − 0.2t, the error of the mean at t is
	// 0.1t, t(0.95, 1) = 6.313752.
	two := []units.Unit{line(0, "a", 100, -0.1, 0, 3, 6), line(0, "b", 100, -0.3, 0, 3, 6)}
	out, _ := units.Lines(two, in)
	if out.Status != regression.Fitted || !(math.Abs(out.ShelfLife-10/twoUnits) < 1e-9) {
		t.Errorf("two units: %s, %.9g", out.Status, out.ShelfLife)
	}
	out, warnings := units.Lines(append(two, line(0, "once", 95, 0, 3)), in)
	if out.Status != regression.Fitted || !(math.Abs(out.ShelfLife-10/twoUnits) < 1e-9) || !has(warnings, "unit-left-out", "Unit once is left out") {
		t.Errorf("a unit measured once: %s, %.9g, %v", out.Status, out.ShelfLife, warnings)
	}
	// Two times make a line for a unit where its batch has three: those of 100 − 0.1t
	// and 100 − 0.3t are the same from 0 and 6 months alone.
	twice := []units.Unit{two[0], line(0, "b", 100, -0.3, 0, 6)}
	if out, warnings = units.Lines(twice, in); out.Status != regression.Fitted || !(math.Abs(out.ShelfLife-10/twoUnits) < 1e-9) || has(warnings, "unit-left-out", "") {
		t.Errorf("a unit measured twice: %s, %.9g, %v", out.Status, out.ShelfLife, warnings)
	}
	if out, warnings = units.Lines(two[:1], in); out.Status != regression.NotFitted || !has(warnings, "not-fitted", "no batch has two units") {
		t.Errorf("one unit: %s, %v", out.Status, warnings)
	}
	if out, _ = units.Lines([]units.Unit{line(0, "a", 100, -0.1, 0, 3), line(0, "b", 100, -0.3, 0, 3)}, in); out.Status != regression.TooFewTimes {
		t.Errorf("two times: %s", out.Status)
	}
	// On the change from the initial only the slopes count: −0.2t ± 0.1t·6.313752.
	change := in
	change.Basis, change.Lower = study.BasisChange, -5
	far := []units.Unit{line(0, "a", 100, -0.1, 0, 3, 6), line(0, "b", 40, -0.3, 0, 3, 6)}
	if out, _ = units.Lines(far, change); !(math.Abs(out.ShelfLife-5/twoUnits) < 1e-9) {
		t.Errorf("change from the initial: %.9g", out.ShelfLife)
	}
	// With a baseline of 3 months what came before does not count.
	late := in
	late.Baseline = 3
	for i := range two {
		two[i].Points = append(two[i].Points, kinetics.Point{Months: 9, Value: two[i].Points[2].Value - 3*(0.1+0.2*float64(i))})
		two[i].Points[0].Value = 50
	}
	if out, _ = units.Lines(two, late); !(math.Abs(out.ShelfLife-10/twoUnits) < 1e-9) {
		t.Errorf("baseline: %.9g (%s)", out.ShelfLife, out.Status)
	}
}

func TestPercentLost(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		initial, mass, tare, fill, want float64
		base                            units.Base
		ok                              bool
	}{
		{171.4, 169.9, 21.4, 148, 1, units.NetByTare, true}, // 1.5 g of 150 g
		{171.4, 169.9, nan, 150, 1, units.NetByFill, true},
		{150, 148.5, nan, nan, 1, units.GrossShare, true},
		{150, 151.5, nan, nan, -1, units.GrossShare, true},
		{20, 19, 21.4, nan, 0, "", false},
		{0, 0, nan, nan, 0, "", false},
	} {
		got, base, ok := units.PercentLost(c.initial, c.mass, c.tare, c.fill)
		if !(math.Abs(got-c.want) < 1e-12) || ok != c.ok || ok && base != c.base {
			t.Errorf("PercentLost(%v, %v, %v, %v) = %v of %s, %v", c.initial, c.mass, c.tare, c.fill, got, base, ok)
		}
	}
}

// The order of the units, of their readings and the labels of the batches do not
// matter; a tighter limit and a higher confidence never lengthen the shelf life;
// reading a unit twice as often at the same values does not shorten it.
func TestRatesInvariants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		batches := rapid.IntRange(1, 3).Draw(t, "batches")
		var us []units.Unit
		for b := range batches {
			for i := range rapid.IntRange(2, 4).Draw(t, "units") {
				u := units.Unit{Batch: b, Label: fmt.Sprint(b, i)}
				for _, m := range []float64{0, 3, 6, 9} {
					v := 0.0
					if m > 0 {
						v = float64(rapid.IntRange(0, 3000).Draw(t, "lost")) / 1000 // a balance reads so many digits
					}
					u.Points = append(u.Points, kinetics.Point{Months: m, Value: v})
				}
				us = append(us, u)
			}
		}
		life := func(us []units.Unit, in regression.Input) float64 {
			out, _ := units.Rates(us, in)
			if len(out.Fits) == 0 {
				t.Fatalf("not fitted: %s", out.Status)
			}
			return out.ShelfLife
		}
		near := func(a, b float64) bool { return a == b || math.Abs(a-b) <= 1e-9*math.Abs(a) }
		base := life(us, upTo(5))

		mixed := rapid.Permutation(us).Draw(t, "order")
		relabelled := make([]units.Unit, len(mixed))
		for i, u := range mixed {
			relabelled[i] = units.Unit{Batch: batches - 1 - u.Batch, Label: u.Label, Points: rapid.Permutation(u.Points).Draw(t, "readings")}
		}
		if got := life(relabelled, upTo(5)); !near(base, got) {
			t.Fatalf("relabelled and reordered: %v and %v", base, got)
		}
		if got := life(us, upTo(4)); got > base {
			t.Fatalf("a tighter limit lengthens %v to %v", base, got)
		}
		surer := upTo(5)
		surer.Confidence = 0.99
		if got := life(us, surer); got > base {
			t.Fatalf("a higher confidence lengthens %v to %v", base, got)
		}
		twice := make([]units.Unit, len(us))
		for i, u := range us {
			twice[i] = units.Unit{Batch: u.Batch, Label: u.Label, Points: append(append([]kinetics.Point(nil), u.Points...), u.Points...)}
		}
		if got := life(twice, upTo(5)); !near(base, got) {
			t.Fatalf("readings entered twice move %v to %v", base, got)
		}
	})
}
