package arrhenius

import (
	"math"
	"strings"
	"testing"

	"shelfspan/testdata/reference"
)

// ln k against 1/T of hydrogen iodide: 185 kJ/mol as printed in OpenStax
// Chemistry 2e, its worked example; 185.308 by least squares.
func TestHydrogenIodide(t *testing.T) {
	in := UnitRatesInput{Confidence: 0.95, PoolAlpha: 0.25, Upper: inf}
	for i, row := range reference.Rows(t, "hydrogen-iodide.csv") {
		in.Conditions = append(in.Conditions, Condition{Name: row[0], Celsius: reference.Number(t, row[0]) - 273.15, Humidity: nan})
		in.Units = append(in.Units, UnitRate{Condition: i, PerMonth: reference.Number(t, row[1])})
	}
	r := FitUnitRates(in)
	if r.Status != Fitted || math.Abs(r.EaKJ-185.308) > 0.0005 {
		t.Errorf("%s %s: %.4f kJ/mol, want 185.308", r.Status, r.Reason, r.EaKJ)
	}
}

// Degradation read-outs of 15 units at 65, 85 and 105 °C (NIST/SEMATECH
// e-Handbook 8.4.2.3): rates through the origin, ln rate on 1/T, 0.8211 eV with
// standard error 0.0954 by survreg of R's survival 3.5, whose maximum
// likelihood divides by n where least squares divides by n − 2. The source takes
// 0 °C as 273.16 K and 1/k as 11605 K/eV.
func TestDegradationReadouts(t *testing.T) {
	in := UnitRatesInput{Confidence: 0.95, PoolAlpha: 0.25, Upper: 30}
	var last string
	var ty, tt float64
	flush := func() {
		if tt > 0 {
			in.Units = append(in.Units, UnitRate{Condition: len(in.Conditions) - 1, PerMonth: ty / tt})
		}
		ty, tt = 0, 0
	}
	unit := ""
	for _, row := range reference.Rows(t, "degradation-readouts.csv") {
		if row[1] != unit {
			flush()
			unit = row[1]
		}
		if row[0] != last {
			last = row[0]
			in.Conditions = append(in.Conditions, Condition{Name: last, Celsius: reference.Number(t, last) + 0.01, Humidity: nan})
		}
		hours := reference.Number(t, row[2])
		ty += hours * reference.Number(t, row[3])
		tt += hours * hours
	}
	flush()
	if len(in.Units) != 15 {
		t.Fatalf("%d units", len(in.Units))
	}
	r := FitUnitRates(in)
	volts := 1000 / GasConstant / 11605
	if got := r.EaKJ * volts; math.Abs(got-0.8211) > 0.00005 {
		t.Errorf("Ea = %.5f eV, want 0.8211", got)
	}
	if got := r.EaSE * volts * math.Sqrt(13.0/15); math.Abs(got-0.0954) > 0.00005 {
		t.Errorf("se = %.5f eV, want 0.0954", got)
	}
	if r.LinearityP < 0.05 {
		t.Errorf("linearity p = %v", r.LinearityP)
	}
}

// Against lm, anova, confint and predict of R; script and output stand in
// testdata/reference/arrhenius.
func TestUnitRatesReference(t *testing.T) {
	cases := map[string]*UnitRatesInput{
		"alike": {Conditions: dry(25, 30, 40), At: []Target{{25, nan}, {5, nan}}},
		"apart": {Conditions: dry(25, 30, 40, 45), At: []Target{{25, nan}, {5, nan}}},
		"damp": {Conditions: []Condition{{"25C60", 25, 60}, {"30C35", 30, 35}, {"40C75", 40, 75}, {"40C20", 40, 20}},
			At: []Target{{25, 40}, {20, 60}}},
	}
	for _, row := range reference.Rows(t, "arrhenius/unit-rates.csv") {
		c := cases[row[0]]
		c.Units = append(c.Units, UnitRate{int(reference.Number(t, row[1])), int(reference.Number(t, row[2])), reference.Number(t, row[3])})
	}
	got := map[string]map[string]float64{}
	for name, in := range cases {
		in.Confidence, in.PoolAlpha, in.Upper = 0.95, 0.25, 5
		r := FitUnitRates(*in)
		if r.Status != Fitted {
			t.Fatalf("%s: %s", name, r.Reason)
		}
		got[name] = quantities(r)
		if name == "apart" { // the same where own rates are asked for and the test would not have found them
			in.PoolAlpha, in.ByBatch = 1e-12, true
			if own := FitUnitRates(*in); own.EaKJ != r.EaKJ || own.DF != r.DF || own.Predictions[0].ShelfLife != r.Predictions[0].ShelfLife {
				t.Errorf("asked for by batch: %+v, found: %+v", own, r)
			}
		}
	}
	for _, row := range reference.Rows(t, "arrhenius/unitrates.csv") {
		value, ok := got[row[0]][row[1]]
		want := reference.Number(t, row[2])
		if !ok || !(math.Abs(value-want) <= 1e-9*math.Abs(want)) {
			t.Errorf("%s %s = %.12g, R has %.12g", row[0], row[1], value, want)
		}
	}
}

// Rates of 80 kJ/mol but for one condition at three times its rate: that is the
// one named. A limit below zero is met at the start.
func TestUnitRatesThatBend(t *testing.T) {
	in := UnitRatesInput{Confidence: 0.95, PoolAlpha: 0.25, Upper: -1, Conditions: dry(20, 25, 30, 40, 50), At: []Target{{25, nan}}}
	for c, condition := range in.Conditions {
		rate := math.Exp(-80e3 / GasConstant * (1/(condition.Celsius+273.15) - 1/298.15))
		if c == 3 {
			rate *= 3
		}
		for _, spread := range []float64{0.95, 1, 1.05} {
			in.Units = append(in.Units, UnitRate{Condition: c, PerMonth: rate * spread})
		}
	}
	r := FitUnitRates(in)
	if !(r.LinearityP < 1e-6) || r.Bends != 3 || !strings.Contains(codes(r), "not-linear") {
		t.Errorf("p %v, bends at %d, %s", r.LinearityP, r.Bends, codes(r))
	}
	if p := r.Predictions[0]; p.Estimate != 0 || p.ShelfLife != 0 {
		t.Errorf("a limit below zero: %+v", p)
	}
}

// Where every condition bends the line, naming one takes a fit for each and not
// for each order in which they could be left out.
func TestManyConditionsThatBend(t *testing.T) {
	in := UnitRatesInput{Confidence: 0.95, PoolAlpha: 0.25, Upper: 5}
	for c := range 14 {
		in.Conditions = append(in.Conditions, dry(float64(20+2*c))...)
		for _, spread := range []float64{0.99, 1, 1.01} {
			in.Units = append(in.Units, UnitRate{Condition: c, PerMonth: spread * float64(1+(7*c)%5)})
		}
	}
	if r := FitUnitRates(in); r.Status != Fitted || r.Bends < 0 {
		t.Errorf("%s, bends at %d", r.Status, r.Bends)
	}
}

func TestUnitRatesRefused(t *testing.T) {
	good := UnitRatesInput{Confidence: 0.95, PoolAlpha: 0.25, Upper: 5, Conditions: dry(25, 40),
		Units: []UnitRate{{0, 0, 0.1}, {0, 0, 0.12}, {0, 1, 0.3}, {0, 1, 0.33}}, At: []Target{{25, nan}}}
	if r := FitUnitRates(good); r.Status != Fitted || !math.IsNaN(r.LinearityP) || len(r.Warnings) != 1 || r.Warnings[0].Code != "linearity-untested" {
		t.Errorf("two temperatures: %+v", r)
	}
	for _, c := range []struct {
		change func(*UnitRatesInput)
		reason string
	}{
		{func(in *UnitRatesInput) { in.Units[2].PerMonth = 0 }, "no logarithm"},
		{func(in *UnitRatesInput) { in.Units[2].PerMonth = -1 }, "no logarithm"},
		{func(in *UnitRatesInput) { in.Units[2].PerMonth = nan }, "no finite number"},
		{func(in *UnitRatesInput) { in.Units = in.Units[:2] }, "fewer than two temperatures"},
		{func(in *UnitRatesInput) { in.Units = nil }, "fewer than two temperatures"},
		{func(in *UnitRatesInput) { in.Units = in.Units[1:3] }, "too few"},
		{func(in *UnitRatesInput) { in.Units[0].Condition = 7 }, "no condition"},
		{func(in *UnitRatesInput) { in.Conditions[1].Celsius = nan }, "no temperature"},
		{func(in *UnitRatesInput) { in.Units[2].Batch, in.Units[3].Batch = 1, 1 }, "two of them"},
		{func(in *UnitRatesInput) { in.Confidence = 1 }, "confidence"},
		{func(in *UnitRatesInput) { in.At[0].Celsius = -300 }, "no temperature"},
	} {
		in := good
		in.Units = append([]UnitRate(nil), good.Units...)
		in.Conditions = append([]Condition(nil), good.Conditions...)
		in.At = append([]Target(nil), good.At...)
		c.change(&in)
		r := FitUnitRates(in)
		if r.Status != NotFitted || !strings.Contains(r.Reason, c.reason) || len(r.Warnings) == 0 {
			t.Errorf("%s %q, want a reason with %q", r.Status, r.Reason, c.reason)
		}
	}
}

// ASTM F1980 with Q10 = 2: 2^3.3 = 9.849; 365.25/9.849 is 37.1 days.
func TestAgeingFactor(t *testing.T) {
	f := AgeingFactor(2, 55, 22)
	if math.Abs(f-9.849) > 0.0005 {
		t.Errorf("factor %v, want 9.849", f)
	}
	if days := 365.25 / f; math.Abs(days-37.1) > 0.05 {
		t.Errorf("a year in %v days, want 37.1", days)
	}
	// ln 2 · R / (1/298.15 − 1/308.15) is 52.949 kJ/mol: Q10 = 2.
	if q := Q10(52.949); math.Abs(q-2) > 0.0001 {
		t.Errorf("Q10 %v, want 2", q)
	}
}
