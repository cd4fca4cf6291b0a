package extrapolation_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/extrapolation"
	"shelfspan/analysis/observed"
	"shelfspan/study"
)

var (
	inf = math.Inf(1)
	nan = math.NaN()
)

// Conditions of the study of the tests.
const (
	store = iota
	intermediate
	accelerated
)

// Attributes of the study of the tests.
const (
	assay = iota
	appearance
	weight
)

// balm is a study of a balm stored at some temperature, with three batches.
func balm(celsius, intermediateCelsius, acceleratedCelsius float64) *study.Study {
	return &study.Study{
		StoreAt: store, Rules: study.ICHQ1E,
		Conditions: []study.Condition{
			{ID: "store", Role: study.LongTerm, Temperature: celsius, Humidity: 60},
			{ID: "between", Role: study.Intermediate, Temperature: intermediateCelsius, Humidity: 65},
			{ID: "hot", Role: study.Accelerated, Temperature: acceleratedCelsius, Humidity: 75},
		},
		Batches: []study.Batch{{ID: "B1"}, {ID: "B2"}, {ID: "B3"}},
		Packs:   []study.Pack{{ID: "tube", WaterPercent: nan, Orientations: []study.Orientation{study.Upright}}},
		Attributes: []study.Attribute{
			{ID: "assay", Kind: study.Measure, Lower: 90, Upper: inf, Decimals: 1, SignificantChange: 5},
			{ID: "appearance", Kind: study.Grade, Lower: -inf, Upper: 2, Decimals: -1, SignificantChange: nan},
			{ID: "weight-loss", Kind: study.Weighing, Lower: -inf, Upper: 3, Decimals: 2, SignificantChange: nan},
		},
	}
}

var batches = []int{0, 1, 2}

// samples gives one sample of each batch at each of the times, pulled on the
// day: 12 planned months are 11.992 elapsed ones.
func samples(value float64, times ...float64) []observed.Sample {
	var out []observed.Sample
	for b := range batches {
		for _, t := range times {
			out = append(out, observed.Sample{Batch: b, PlannedMonths: t, Months: t * 365 / 12 / study.DaysPerMonth, Value: value, InWindow: true})
		}
	}
	return out
}

// ending gives samples of one value that end in another at the last time in
// batch B2.
func ending(value, last float64, times ...float64) []observed.Sample {
	out := samples(value, times...)
	out[2*len(times)-1].Value = last
	return out
}

// times are the usual pulls up to some months.
func times(upTo float64) []float64 {
	var out []float64
	for _, t := range []float64{0, 3, 6, 9, 12, 18, 24, 36} {
		if t <= upTo {
			out = append(out, t)
		}
	}
	return out
}

func series(attribute, condition int, s []observed.Sample) extrapolation.Series {
	return extrapolation.Series{Attribute: attribute, Condition: condition, Samples: s}
}

// The rows of the table of ICH Q1E 2.4 and 2.5, each with X = 12 months.
func TestDecisionTree(t *testing.T) {
	good := func(condition int, upTo float64) extrapolation.Series {
		return series(assay, condition, samples(100, times(upTo)...))
	}
	fallen := func(condition int) extrapolation.Series {
		return series(assay, condition, ending(100, 94, times(6)...))
	}
	grades := func(condition int, upTo, last float64) extrapolation.Series {
		return series(appearance, condition, ending(0, last, times(upTo)...))
	}
	for _, c := range []struct {
		name       string
		celsius    [3]float64
		attribute  int
		regression bool
		series     []extrapolation.Series
		rule       string
		branch     extrapolation.Case
		cap        float64
	}{
		{"no change in grades anywhere", [3]float64{25, 30, 40}, appearance, false,
			[]extrapolation.Series{grades(store, 12, 0), grades(accelerated, 6, 0)}, "ICH Q1E 2.4.1.1", extrapolation.NoChangeSeen, 24},
		{"no significant change, regression done", [3]float64{25, 30, 40}, assay, true,
			[]extrapolation.Series{good(store, 12), good(accelerated, 6)}, "ICH Q1E 2.4.1.2", extrapolation.NoSignificantChange, 24},
		{"no significant change, grades that differ at storage", [3]float64{25, 30, 40}, appearance, false,
			[]extrapolation.Series{grades(store, 12, 1), grades(accelerated, 6, 0)}, "ICH Q1E 2.4.1.2", extrapolation.NoSignificantChange, 18},
		{"no significant change, grades that differ when hot", [3]float64{25, 30, 40}, appearance, false,
			[]extrapolation.Series{grades(store, 12, 0), grades(accelerated, 6, 2)}, "ICH Q1E 2.4.1.2", extrapolation.NoSignificantChange, 18},
		{"no significant change, a measure not amenable", [3]float64{25, 30, 40}, assay, false,
			[]extrapolation.Series{good(store, 12), good(accelerated, 6)}, "ICH Q1E 2.4.1.2", extrapolation.NoSignificantChange, 18},
		{"significant change, none at intermediate, regression done", [3]float64{25, 30, 40}, assay, true,
			[]extrapolation.Series{good(store, 12), good(intermediate, 6), fallen(accelerated)}, "ICH Q1E 2.4.2.1", extrapolation.IntermediateUnchanged, 18},
		{"significant change, none at intermediate, not amenable", [3]float64{25, 30, 40}, assay, false,
			[]extrapolation.Series{good(store, 12), good(intermediate, 6), fallen(accelerated)}, "ICH Q1E 2.4.2.1", extrapolation.IntermediateUnchanged, 15},
		{"significant change at both", [3]float64{25, 30, 40}, assay, true,
			[]extrapolation.Series{good(store, 12), fallen(intermediate), fallen(accelerated)}, "ICH Q1E 2.4.2.2", extrapolation.IntermediateChanged, 12},
		{"significant change, nothing at intermediate", [3]float64{25, 30, 40}, assay, true,
			[]extrapolation.Series{good(store, 12), fallen(accelerated)}, "ICH Q1E 2.4.2", extrapolation.IntermediateMissing, 12},
		{"significant change, 3 months at intermediate", [3]float64{25, 30, 40}, assay, true,
			[]extrapolation.Series{good(store, 12), good(intermediate, 3), fallen(accelerated)}, "ICH Q1E 2.4.2", extrapolation.IntermediateMissing, 12},
		{"significant change in another attribute, not tested at intermediate", [3]float64{25, 30, 40}, assay, true,
			[]extrapolation.Series{good(store, 12), good(intermediate, 6), good(accelerated, 6), grades(accelerated, 6, 3)}, "ICH Q1E 2.4.2", extrapolation.IntermediateMissing, 12},
		{"significant change in another attribute, kept at intermediate", [3]float64{25, 30, 40}, assay, true,
			[]extrapolation.Series{good(store, 12), good(intermediate, 6), good(accelerated, 6), grades(accelerated, 6, 3), grades(intermediate, 6, 2)}, "ICH Q1E 2.4.2.1", extrapolation.IntermediateUnchanged, 18},
		{"3 months at accelerated", [3]float64{25, 30, 40}, assay, true,
			[]extrapolation.Series{good(store, 12), good(accelerated, 3)}, "ICH Q1E 2.4", extrapolation.AcceleratedMissing, 12},
		{"attribute not tested at accelerated", [3]float64{25, 30, 40}, appearance, false,
			[]extrapolation.Series{grades(store, 12, 0), good(accelerated, 6)}, "ICH Q1E 2.4", extrapolation.AcceleratedMissing, 12},
		{"accelerated is only 5 °C warmer", [3]float64{25, 28, 30}, assay, true,
			[]extrapolation.Series{good(store, 12), good(accelerated, 6)}, "ICH Q1E 2.4", extrapolation.AcceleratedMissing, 12},
		{"30 °C long-term, no significant change", [3]float64{30, 33, 40}, assay, true,
			[]extrapolation.Series{good(store, 12), good(accelerated, 6)}, "ICH Q1E 2.4.1.2", extrapolation.NoSignificantChange, 24},
		{"30 °C long-term, significant change", [3]float64{30, 33, 40}, assay, true,
			[]extrapolation.Series{good(store, 12), good(intermediate, 6), fallen(accelerated)}, "ICH Q1E 2.4.2", extrapolation.NoIntermediate, 12},
		{"kept at an intermediate cooler than storage, which shows nothing", [3]float64{25, 20, 40}, assay, true,
			[]extrapolation.Series{good(store, 12), good(intermediate, 6), fallen(accelerated)}, "ICH Q1E 2.4.2", extrapolation.IntermediateMissing, 12},
		{"33 °C long-term, significant change, none at a cooler intermediate", [3]float64{33, 30, 45}, assay, true,
			[]extrapolation.Series{good(store, 12), good(intermediate, 6), fallen(accelerated)}, "ICH Q1E 2.4.2", extrapolation.NoIntermediate, 12},
		{"refrigerated, regression done", [3]float64{5, 15, 25}, assay, true,
			[]extrapolation.Series{good(store, 12), good(accelerated, 6)}, "ICH Q1E 2.5.1.1", extrapolation.NoSignificantChange, 18},
		{"refrigerated, grades without change", [3]float64{5, 15, 25}, appearance, false,
			[]extrapolation.Series{grades(store, 12, 1), grades(accelerated, 6, 0)}, "ICH Q1E 2.5.1.1", extrapolation.NoSignificantChange, 15},
		{"refrigerated, no change seen", [3]float64{5, 15, 25}, appearance, false,
			[]extrapolation.Series{grades(store, 12, 0), grades(accelerated, 6, 0)}, "ICH Q1E 2.5.1.1", extrapolation.NoChangeSeen, 18},
		{"refrigerated, significant change", [3]float64{5, 15, 25}, assay, true,
			[]extrapolation.Series{good(store, 12), good(intermediate, 6), fallen(accelerated)}, "ICH Q1E 2.5.1.2", extrapolation.NoIntermediate, 12},
		{"freezer", [3]float64{-20, 5, 25}, assay, true,
			[]extrapolation.Series{good(store, 12), good(accelerated, 6)}, "ICH Q1E 2.5.2", extrapolation.InFreezer, 12},
	} {
		s := balm(c.celsius[0], c.celsius[1], c.celsius[2])
		l := extrapolation.Assess(s, 0, 0, c.series).Limit(c.attribute, batches, c.regression)
		if l.Observed != 12 || l.Cap != c.cap || l.Rule != c.rule || l.Case != c.branch {
			t.Errorf("%s: X %v, cap %v by %s (%s); want 12, %v by %s (%s)", c.name, l.Observed, l.Cap, l.Rule, l.Case, c.cap, c.rule, c.branch)
		}
	}
}

// The bounds meet at X = 12 (2X and X + 12; 1.5X and X + 6) and 6 (1.5X and
// X + 3): multiplication and addition by hand.
func TestReachByMonthsOfData(t *testing.T) {
	for _, c := range []struct{ x, noChange, intermediateKept, notAmenable float64 }{
		{0, 0, 0, 0},
		{3, 6, 4.5, 4.5},
		{6, 12, 9, 9},
		{9, 18, 13.5, 12},
		{12, 24, 18, 15},
		{18, 30, 24, 21},
		{24, 36, 30, 27},
		{36, 48, 42, 39},
	} {
		s := balm(25, 30, 40)
		stored := series(assay, store, samples(100, times(c.x)...))
		kept := series(assay, intermediate, samples(100, times(6)...))
		for _, d := range []struct {
			last, cap  float64
			regression bool
		}{{100, c.noChange, true}, {94, c.intermediateKept, true}, {94, c.notAmenable, false}} {
			hot := series(assay, accelerated, ending(100, d.last, times(6)...))
			l := extrapolation.Assess(s, 0, 0, []extrapolation.Series{stored, kept, hot}).Limit(assay, batches, d.regression)
			if l.Observed != c.x || l.Cap != d.cap {
				t.Errorf("X = %v, %v left when hot, regression %v: X %v, cap %v, want %v", c.x, d.last, d.regression, l.Observed, l.Cap, d.cap)
			}
		}
	}
}

func TestObserved(t *testing.T) {
	all := samples(100, times(12)...)
	late := samples(100, times(12)...)
	late[4].InWindow = false // B1 at 12 months
	lacking := append(samples(100, times(9)...), observed.Sample{Batch: 0, PlannedMonths: 12, InWindow: true}, observed.Sample{Batch: 2, PlannedMonths: 12, InWindow: true})
	uneven := append(samples(100, times(9)...), observed.Sample{Batch: 0, PlannedMonths: 12, InWindow: true}, observed.Sample{Batch: 1, PlannedMonths: 12, InWindow: true},
		observed.Sample{Batch: 2, PlannedMonths: 18, InWindow: true})
	years := samples(100, 0, 6)
	years = append(years, observed.Sample{Batch: 0, PlannedMonths: 12, InWindow: true}, observed.Sample{Batch: 1, PlannedMonths: 12 * 1.0000000001, InWindow: true},
		observed.Sample{Batch: 2, PlannedMonths: 12, InWindow: true})
	for _, c := range []struct {
		name    string
		samples []observed.Sample
		batches []int
		want    float64
	}{
		{"a 12-month pull on its day is 12 months and not 11.992", all, batches, 12},
		{"a late pull of one batch", late, batches, 9},
		{"a batch lacks its last pull", lacking, batches, 9},
		{"that batch does not count", lacking, []int{0, 2}, 12},
		{"the batches end in different pulls", uneven, batches, 9},
		{"a batch has no result", samples(100, 0, 6)[:4], batches, 0},
		{"12M and 1Y are one pull", years, batches, 12},
		{"no samples", nil, batches, 0},
		{"no batches", all, nil, 0},
	} {
		if got := extrapolation.Observed(c.samples, c.batches); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%s: X = %v, want %v", c.name, got, c.want)
		}
	}
}

func TestIncompletePullIsTold(t *testing.T) {
	stored := samples(100, times(12)...)
	stored[4].InWindow = false
	stored = stored[:14] // B3 lacks 12 months
	l := extrapolation.Assess(balm(25, 30, 40), 0, 0, []extrapolation.Series{series(assay, store, stored)}).Limit(assay, batches, true)
	if l.Observed != 9 || len(l.Warnings) != 1 || l.Warnings[0].Code != "incomplete-pull" {
		t.Fatalf("X %v, warnings %v", l.Observed, l.Warnings)
	}
	const want = "assay store tube: results later than 9 months do not count as long-term data of every batch: at 12 months B1 was pulled outside its window; B3 has no result."
	if got := l.Warnings[0].String(); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func TestRulesNone(t *testing.T) {
	s := balm(25, 30, 40)
	s.Rules = study.NoRules
	a := extrapolation.Assess(s, 0, 0, []extrapolation.Series{series(assay, store, samples(100, times(12)...)), series(appearance, store, samples(0, times(9)...))})
	if l := a.Limit(assay, batches, true); !math.IsInf(l.Cap, 1) || l.Observed != 12 || l.Rule != "none" {
		t.Errorf("regression: cap %v, X %v, rule %s", l.Cap, l.Observed, l.Rule)
	}
	if l := a.Limit(appearance, batches, false); l.Cap != 9 || l.Rule != "none" {
		t.Errorf("grades: cap %v, rule %s; want what was observed, 9", l.Cap, l.Rule)
	}
	empty := extrapolation.Assess(s, 0, 0, nil)
	if l := empty.Limit(assay, batches, true); !math.IsInf(l.Cap, 1) || l.Observed != 0 {
		t.Errorf("no data: cap %v, X %v", l.Cap, l.Observed)
	}
}

// Of two accelerated conditions the one followed for longer tells.
func TestLongestAcceleratedCondition(t *testing.T) {
	for _, upTo := range [][2]float64{{6, 3}, {3, 6}} {
		s := balm(25, 45, 40)
		s.Conditions[intermediate].Role = study.Accelerated
		l := extrapolation.Assess(s, 0, 0, []extrapolation.Series{
			series(assay, store, samples(100, times(12)...)), series(assay, intermediate, samples(100, times(upTo[0])...)),
			series(assay, accelerated, samples(100, times(upTo[1])...))}).Limit(assay, batches, true)
		if l.AcceleratedMonths != 6 || l.Cap != 24 {
			t.Errorf("%v months at two accelerated conditions: %v taken, cap %v", upTo, l.AcceleratedMonths, l.Cap)
		}
	}
}

func TestRefrigeratedTakes25AsAccelerated(t *testing.T) {
	s := balm(5, 25, 40) // 25 °C has the role intermediate
	fallen := series(assay, accelerated, ending(100, 80, times(6)...))
	a := extrapolation.Assess(s, 0, 0, []extrapolation.Series{
		series(assay, store, samples(100, times(12)...)), series(assay, intermediate, samples(100, times(6)...)), fallen})
	l := a.Limit(assay, batches, true)
	if l.Cap != 18 || l.Accelerated != intermediate {
		t.Errorf("cap %v at condition %d; want 18, judged at 25 °C", l.Cap, l.Accelerated)
	}
	if len(a.Warnings) != 1 || a.Warnings[0].Code != "accelerated-other" {
		t.Errorf("warnings %v; want that 40 °C is not used", a.Warnings)
	}
}

func TestTextTellsRuleAndFacts(t *testing.T) {
	s := balm(25, 30, 40)
	a := extrapolation.Assess(s, 0, 0, []extrapolation.Series{
		series(assay, store, samples(100, times(12)...)),
		series(assay, intermediate, samples(100, times(9)...)),
		series(assay, accelerated, ending(100, 94, times(6)...))})
	l := a.Limit(assay, batches, true)
	const want = "Room temperature storage, significant change at the accelerated condition (assay at hot, 6 months), none in 9 months at between, regression done: " +
		"at most 1.5X and X + 6 months; X = 12 months of long-term data give 18 months."
	if l.Text != want {
		t.Errorf("got  %s\nwant %s", l.Text, want)
	}
	if len(l.Changes) != 1 || l.Changes[0].Batch != 1 || l.Changes[0].Sign != extrapolation.ChangeFromInitial {
		t.Errorf("changes %+v", l.Changes)
	}
}

func TestWholeMonths(t *testing.T) {
	for _, c := range []struct {
		months float64
		want   int
	}{{15.5567, 15}, {24, 24}, {23.9999999999, 24}, {23.99, 23}, {0, 0}, {-1, 0}, {inf, 0}, {nan, 0}} {
		if got := extrapolation.WholeMonths(c.months); got != c.want {
			t.Errorf("WholeMonths(%v) = %d, want %d", c.months, got, c.want)
		}
	}
}

// For any evidence: the cap lies between X and X + 12, more long-term data never
// shorten it, and a significant change never lengthens it.
func TestLimitInvariants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := balm(rapid.SampledFrom([]float64{-20, 5, 25, 30}).Draw(t, "store"), 30, 40)
		attribute := rapid.SampledFrom([]int{assay, appearance}).Draw(t, "attribute")
		regression := attribute == assay && rapid.Bool().Draw(t, "regression")
		good, bad := 100.0, 80.0
		if attribute == appearance {
			good, bad = 1, 3
		}
		pull := rapid.SampledFrom([]float64{0, 3, 6, 9, 12, 18, 24, 36})
		upTo, longer := pull.Draw(t, "x"), pull.Draw(t, "longer")
		if longer < upTo {
			upTo, longer = longer, upTo
		}
		last := func(name string) float64 {
			if rapid.Bool().Draw(t, name) {
				return bad
			}
			return good
		}
		warmer := []extrapolation.Series{
			series(attribute, intermediate, ending(good, last("intermediate"), times(pull.Draw(t, "intermediate months"))...)),
			series(attribute, accelerated, ending(good, last("accelerated"), times(pull.Draw(t, "accelerated months"))...)),
		}
		limit := func(upTo float64, warmer []extrapolation.Series) extrapolation.Limit {
			all := append([]extrapolation.Series{series(attribute, store, samples(good, times(upTo)...))}, warmer...)
			return extrapolation.Assess(s, 0, 0, all).Limit(attribute, batches, regression)
		}
		l := limit(upTo, warmer)
		if l.Cap < l.Observed || l.Cap > l.Observed+12 || l.Observed != upTo {
			t.Fatalf("X %v, cap %v", l.Observed, l.Cap)
		}
		if m := limit(longer, warmer); m.Cap < l.Cap {
			t.Fatalf("X %v gives %v, X %v gives %v", upTo, l.Cap, longer, m.Cap)
		}
		for i := range warmer {
			worse := append([]extrapolation.Series(nil), warmer...)
			changed := append([]observed.Sample(nil), worse[i].Samples...)
			changed[rapid.IntRange(0, len(changed)-1).Draw(t, "which")].Value = bad
			worse[i].Samples = changed
			if m := limit(upTo, worse); m.Cap > l.Cap {
				t.Fatalf("a change lengthens the cap from %v (%s) to %v (%s)", l.Cap, l.Case, m.Cap, m.Case)
			}
		}
	})
}
