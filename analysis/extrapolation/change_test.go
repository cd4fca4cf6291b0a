package extrapolation_test

import (
	"math"
	"strings"
	"testing"

	"shelfspan/analysis/extrapolation"
	"shelfspan/analysis/observed"
	"shelfspan/study"
	"shelfspan/study/finding"
)

func at(batch int, planned, value float64) observed.Sample {
	return observed.Sample{Batch: batch, PlannedMonths: planned, Months: planned, Value: value, InWindow: true}
}

func codes(ws []finding.Warning) string {
	var out []string
	for _, w := range ws {
		out = append(out, w.Code)
	}
	return strings.Join(out, " ")
}

func TestSignificantChange(t *testing.T) {
	s := balm(25, 30, 40)
	s.Attributes = []study.Attribute{
		{ID: "assay", Kind: study.Measure, Lower: 90, Upper: inf, Decimals: 1, SignificantChange: 5},
		{ID: "seal", Kind: study.PassFail, Lower: -inf, Upper: 0, Decimals: -1, SignificantChange: nan},
		{ID: "pH", Kind: study.Measure, Lower: 4.5, Upper: 6.5, Decimals: 1, SignificantChange: nan},
		{ID: "ratio", Kind: study.Measure, Lower: 90, Upper: inf, Decimals: 1, Basis: study.BasisPercent, SignificantChange: nan},
		{ID: "weight-loss", Kind: study.Weighing, Lower: -inf, Upper: 8, Decimals: 2, SignificantChange: 5},
		{ID: "viscosity", Kind: study.Measure, Lower: 18000, Upper: inf, Decimals: 0, SignificantChange: 20, Baseline: study.Duration{N: 1, Unit: study.Months}},
	}
	for _, c := range []struct {
		name      string
		attribute int
		samples   []observed.Sample
		months    float64 // of the change; 0 where there is none
		sign      extrapolation.Sign
		percent   float64
	}{
		{"exactly 5 % down", 0, []observed.Sample{at(0, 0, 100), at(0, 3, 95)}, 3, extrapolation.ChangeFromInitial, -5},
		{"exactly 5 % up", 0, []observed.Sample{at(0, 0, 100), at(0, 3, 105)}, 3, extrapolation.ChangeFromInitial, 5},
		{"5 % of 110, which binary numbers do not hold", 0, []observed.Sample{at(0, 0, 110), at(0, 3, 104.5)}, 3, extrapolation.ChangeFromInitial, -5},
		{"4.9 % down", 0, []observed.Sample{at(0, 0, 100), at(0, 3, 95.1)}, 0, "", 0},
		{"rounding does not make 4.96 a 5", 0, []observed.Sample{at(0, 0, 100), at(0, 3, 95.04)}, 0, "", 0},
		{"the mean of the units counts, not one of them", 0, []observed.Sample{at(0, 0, 100), at(0, 6, 94), at(0, 6, 98)}, 0, "", 0},
		{"each batch against its own initial", 0, []observed.Sample{at(0, 0, 100), at(0, 6, 98), at(1, 0, 104), at(1, 6, 98)}, 6, extrapolation.ChangeFromInitial, -100.0 * 6 / 104},
		{"at 9 months, after the six of the test", 0, []observed.Sample{at(0, 0, 100), at(0, 6, 96), at(0, 9, 80)}, 0, "", 0},
		{"at 26 weeks, 182 days", 0, []observed.Sample{at(0, 0, 100), at(0, 182/study.DaysPerMonth, 94)}, 182 / study.DaysPerMonth, extrapolation.ChangeFromInitial, -6},
		{"the criterion is missed before 5 % is reached", 0, []observed.Sample{at(0, 0, 92), at(0, 6, 89.94)}, 6, extrapolation.CriterionMissed, nan},
		{"89.95 rounds to 90.0", 0, []observed.Sample{at(0, 0, 92), at(0, 6, 89.95)}, 0, "", 0},
		{"one unit of a batch fails", 1, []observed.Sample{at(0, 0, 0), at(0, 6, 0), at(0, 6, 1), at(0, 6, 0)}, 6, extrapolation.UnitFailed, nan},
		{"the first of two", 1, []observed.Sample{at(0, 6, 1), at(0, 3, 1)}, 3, extrapolation.UnitFailed, nan},
		{"no significant_change declared, within its limits", 2, []observed.Sample{at(0, 0, 6.4), at(0, 6, 4.5)}, 0, "", 0},
		{"above the upper limit, rounded", 2, []observed.Sample{at(0, 0, 6.4), at(0, 6, 6.55)}, 6, extrapolation.CriterionMissed, nan},
		{"percent of the measured initial", 3, []observed.Sample{at(0, 0, 50), at(0, 6, 44.9)}, 6, extrapolation.CriterionMissed, nan},
		{"a weighing is its own change", 4, []observed.Sample{at(0, 0, 0), at(0, 3, 4.99), at(0, 6, 5)}, 6, extrapolation.ChangeFromInitial, 5},
		{"time zero itself is no change", 2, []observed.Sample{at(0, 0, 7), at(0, 6, 6)}, 0, "", 0},
		{"the baseline is the initial value", 5, []observed.Sample{at(0, 0, 9000), at(0, 1, 30000), at(0, 6, 24500)}, 0, "", 0},
		{"20 % from the baseline", 5, []observed.Sample{at(0, 0, 9000), at(0, 1, 30000), at(0, 6, 24000)}, 6, extrapolation.ChangeFromInitial, -20},
		{"censored beyond the limit", 0, []observed.Sample{at(0, 0, 100), {PlannedMonths: 6, Value: 80, Censor: study.BelowThat, InWindow: true}}, 6, extrapolation.UnitFailed, nan},
	} {
		a := extrapolation.Assess(s, 0, 0, []extrapolation.Series{series(c.attribute, accelerated, c.samples)})
		if c.months == 0 {
			if len(a.Changes) != 0 {
				t.Errorf("%s: found %+v, want none", c.name, a.Changes)
			}
			continue
		}
		if len(a.Changes) != 1 {
			t.Errorf("%s: %d changes, want 1: %+v", c.name, len(a.Changes), a.Changes)
			continue
		}
		g := a.Changes[0]
		if g.Months != c.months || g.Sign != c.sign || !g.Counted ||
			math.IsNaN(c.percent) != math.IsNaN(g.Percent) || math.Abs(g.Percent-c.percent) > 1e-9 {
			t.Errorf("%s: %+v; want %s at %v months, %v %%", c.name, g, c.sign, c.months, c.percent)
		}
	}
}

func TestChangeThatCannotBeJudgedIsTold(t *testing.T) {
	s := balm(25, 30, 40)
	for _, c := range []struct {
		name    string
		samples []observed.Sample
	}{
		{"no initial", []observed.Sample{at(0, 3, 95), at(0, 6, 95)}},
		{"initial of zero", []observed.Sample{at(0, 0, 0), at(0, 3, 95), at(0, 6, 95)}},
		{"censored initial", []observed.Sample{{Value: 200, Censor: study.BelowThat, InWindow: true}, at(0, 3, 95), at(0, 6, 95)}},
	} {
		a := extrapolation.Assess(s, 0, 0, []extrapolation.Series{series(assay, accelerated, c.samples)})
		if codes(a.Warnings) != "change-not-judged" || !strings.Contains(a.Warnings[0].Text, "2 pulls") {
			t.Errorf("%s: warnings %v", c.name, a.Warnings)
		}
	}
}

func TestExpectedChangeIsToldNotCounted(t *testing.T) {
	s := balm(25, 30, 40)
	s.Attributes[appearance].ExpectedAtAccelerated = "the balm melts above 35 °C"
	all := []extrapolation.Series{
		series(assay, store, samples(100, times(12)...)), series(assay, accelerated, samples(100, times(6)...)),
		series(appearance, accelerated, ending(0, 3, times(6)...)),
	}
	a := extrapolation.Assess(s, 0, 0, all)
	if len(a.Changes) != 1 || a.Changes[0].Counted || !strings.Contains(a.Changes[0].Note, "melts above 35") {
		t.Errorf("changes %+v", a.Changes)
	}
	if codes(a.Warnings) != "change-not-counted" || !strings.Contains(a.Warnings[0].Text, "B2 at 6 months") {
		t.Errorf("warnings %v", a.Warnings)
	}
	if l := a.Limit(assay, batches, true); l.Cap != 24 || len(l.Changes) != 0 {
		t.Errorf("cap %v, changes %v; want 24 and none", l.Cap, l.Changes)
	}
	// What is expected when hot is not expected at the intermediate condition.
	s.Attributes[assay].ExpectedAtAccelerated = ""
	all[1] = series(assay, accelerated, ending(100, 90, times(6)...))
	all = append(all, series(assay, intermediate, samples(100, times(6)...)), series(appearance, intermediate, ending(0, 3, times(6)...)))
	if l := extrapolation.Assess(s, 0, 0, all).Limit(assay, batches, true); l.Case != extrapolation.IntermediateChanged {
		t.Errorf("grade 3 at the intermediate condition: %s", l.Case)
	}
}

func TestWaterLossRatio(t *testing.T) {
	// ICH Q1A(R2) 2.2.7.3; the last row WHO TRS 1010 Annex 10. Printed to one decimal.
	for _, c := range []struct{ from, to, want float64 }{{60, 40, 1.5}, {65, 35, 1.9}, {75, 25, 3.0}, {75, 35, 2.6}} {
		if got := extrapolation.WaterLossRatio(c.from, c.to); math.Round(10*got)/10 != c.want {
			t.Errorf("from %v to %v %% RH: %v, want %v", c.from, c.to, got, c.want)
		}
	}
}

func TestWaterLossOfSemiPermeablePack(t *testing.T) {
	kept := []extrapolation.Series{series(assay, store, samples(100, times(12)...)), series(assay, accelerated, samples(100, times(6)...))}
	for _, c := range []struct {
		name     string
		water    float64 // percent of the net mass
		humidity float64
		celsius  float64
		samples  []observed.Sample
		percent  float64 // NaN where no loss is significant
		note     string
	}{
		// 1 % of net mass, half of it water: 2 % of the water at 75 % RH, 6 % at 25 % RH.
		{"converted from 75 % RH", 50, 75, 40, []observed.Sample{at(0, 0, 0), at(0, 3, 1)}, 6, "of the initial water, × 3 from 75 to 25 % RH"},
		{"not enough", 50, 75, 40, []observed.Sample{at(0, 0, 0), at(0, 3, 0.83)}, nan, ""},
		{"just enough: 5/3 % of the water", 60, 75, 40, []observed.Sample{at(0, 0, 0), at(0, 3, 1)}, 5, "of the initial water, × 3 from 75 to 25 % RH"},
		{"at 20 % RH there is nothing to convert", 100, 20, 40, []observed.Sample{at(0, 3, 5)}, 5, "of the initial water"},
		{"without a water content", nan, 75, 40, []observed.Sample{at(0, 3, 2)}, 6, "of the net mass, since the pack states no water_percent, × 3 from 75 to 25 % RH"},
		{"mean of the units", 100, 25, 40, []observed.Sample{at(0, 3, 4), at(0, 3, 5.9)}, nan, ""},
		{"after 3 months it is too late", 100, 25, 40, []observed.Sample{at(0, 3, 4.9), at(0, 6, 20)}, nan, ""},
		{"before 3 months it counts", 100, 25, 40, []observed.Sample{at(0, 1, 5.5), at(0, 3, 12)}, 5.5, "of the initial water"},
		{"no pull at 3 months: in proportion", 100, 25, 40, []observed.Sample{at(0, 6, 10.2)}, 5.1, "of the initial water, in proportion from 6 months"},
	} {
		s := balm(25, 30, 40)
		s.Packs[0].SemiPermeable, s.Packs[0].WaterPercent = true, c.water
		s.Conditions[accelerated].Humidity, s.Conditions[accelerated].Temperature = c.humidity, c.celsius
		s.Attributes[weight].Upper = 50
		a := extrapolation.Assess(s, 0, 0, append(kept, series(weight, accelerated, c.samples)))
		if math.IsNaN(c.percent) {
			if len(a.Changes) != 0 {
				t.Errorf("%s: %+v, want none", c.name, a.Changes)
			}
			continue
		}
		if len(a.Changes) != 1 || a.Changes[0].Sign != extrapolation.WaterLoss || math.Abs(a.Changes[0].Percent-c.percent) > 1e-9 || a.Changes[0].Note != c.note {
			t.Errorf("%s: %+v; want %v %% %s", c.name, a.Changes, c.percent, c.note)
		}
		if codes(a.Warnings) != "water-loss" || !strings.Contains(a.Warnings[0].Text, "over the whole shelf life") {
			t.Errorf("%s: warnings %v", c.name, a.Warnings)
		}
		// By itself it neither sets X nor calls for intermediate testing.
		if l := a.Limit(assay, batches, true); l.Cap != 24 {
			t.Errorf("%s: cap %v by %s, want 24", c.name, l.Cap, l.Rule)
		}
	}
}

func TestWeighingCriterion(t *testing.T) {
	for _, c := range []struct {
		name                       string
		semiPermeable, pressurised bool
		lost                       float64
		counted                    bool
	}{
		{"an impermeable pack", false, false, 3.1, true},
		{"a semi-permeable pack", true, false, 3.1, false},
		{"a semi-permeable pack that takes up mass", true, false, -3.1, true},
		{"a pressurised pack may lose propellant", true, true, 3.1, true},
	} {
		s := balm(25, 30, 40)
		s.Packs[0].SemiPermeable, s.Packs[0].Pressurised = c.semiPermeable, c.pressurised
		s.Attributes[weight].Lower = -3
		a := extrapolation.Assess(s, 0, 0, []extrapolation.Series{
			series(assay, store, samples(100, times(12)...)), series(assay, accelerated, samples(100, times(6)...)),
			series(weight, accelerated, []observed.Sample{at(0, 0, 0), at(0, 6, c.lost)})})
		missed := 0
		for _, x := range a.Changes {
			if x.Sign == extrapolation.CriterionMissed {
				missed++
				if x.Counted != c.counted {
					t.Errorf("%s: counted %v, want %v", c.name, x.Counted, c.counted)
				}
			}
		}
		if missed != 1 {
			t.Errorf("%s: %+v, want one criterion missed", c.name, a.Changes)
		}
		if l := a.Limit(assay, batches, true); (l.Cap == 12) != c.counted {
			t.Errorf("%s: cap %v", c.name, l.Cap)
		}
	}
}

func TestWaterLossWithoutHumidityIsTold(t *testing.T) {
	s := balm(25, 30, 40)
	s.Packs[0].SemiPermeable = true
	s.Conditions[accelerated].Humidity = nan
	a := extrapolation.Assess(s, 0, 0, []extrapolation.Series{series(weight, accelerated, []observed.Sample{at(0, 3, 2)})})
	if codes(a.Warnings) != "water-loss" || !strings.Contains(a.Warnings[0].Text, "does not allow it") {
		t.Errorf("warnings %v", a.Warnings)
	}
}

// Published: ICH Q1A(R2) 2.2.7.3 prints the ratios 1.5, 1.9 and 3.0 of the usual
// conditions to the low humidity of their temperature.
func TestLowHumidity(t *testing.T) {
	for _, c := range []struct{ celsius, usual, low, ratio float64 }{{25, 60, 40, 1.5}, {30, 65, 35, 1.9}, {40, 75, 25, 3.0}} {
		low, ok := extrapolation.LowHumidity(c.celsius)
		if !ok || low != c.low || math.Round(10*extrapolation.WaterLossRatio(c.usual, low))/10 != c.ratio {
			t.Errorf("at %v °C: %v %% RH, %v; want %v and a ratio of %v", c.celsius, low, ok, c.low, c.ratio)
		}
	}
	if low, ok := extrapolation.LowHumidity(5); ok || !math.IsNaN(low) {
		t.Errorf("at 5 °C: %v", low)
	}
}

// The loss of every batch is told, significant or not, and whether it is of 3
// months yet. 1 % of net mass, 80 % of it water: 1.25 % of the water, 3.75 % at
// 25 % RH.
func TestWaterLosses(t *testing.T) {
	c := study.Condition{Temperature: 40, Humidity: 75}
	p := study.Pack{SemiPermeable: true, WaterPercent: 80}
	lost, ok := extrapolation.WaterLosses(&c, &p, []observed.Sample{
		at(0, 0, 0), at(0, 1, 0.3), at(0, 3, 1), at(0, 6, 9), // 3 months decide
		at(1, 1, 0.4),              // none at 3 months yet: 0.4·1.25·3 = 1.5 so far
		at(2, 1, 2), at(2, 3, 0.1), // significant before
		at(3, 1, 0.1), at(3, 6, 1.6), // 6 % in 6 months: 3 % in 3
	})
	want := []extrapolation.WaterLost{
		{Batch: 0, Months: 3, Lost: 1, Percent: 3.75}, {Batch: 1, Months: 1, Lost: 0.4, Percent: 1.5, Early: true},
		{Batch: 2, Months: 1, Lost: 2, Percent: 7.5, Early: true, Significant: true}, {Batch: 3, Months: 6, Lost: 1.6, Percent: 3},
	}
	if !ok || len(lost) != len(want) {
		t.Fatalf("%+v, %v", lost, ok)
	}
	for i, w := range want {
		g := lost[i]
		if g.Batch != w.Batch || g.Months != w.Months || g.Lost != w.Lost || math.Abs(g.Percent-w.Percent) > 1e-12 || g.Early != w.Early || g.Significant != w.Significant || !g.OfWater || g.Ratio != 3 {
			t.Errorf("batch %d: %+v, want %+v", i, g, w)
		}
	}
	c.Temperature = 30
	if _, ok := extrapolation.WaterLosses(&c, &p, nil); ok {
		t.Error("made at 30 °C")
	}
}
