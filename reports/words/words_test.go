package words

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/study"
)

// A bound printed is never longer than the bound computed.
func TestBoundIsCutAndEstimateRounded(t *testing.T) {
	for _, c := range []struct {
		months          float64
		bound, estimate string
	}{
		{15.5567, "15.5", "15.6"},
		{15.99, "15.9", "16.0"},
		{0, "0.0", "0.0"},
		{24.3 - 1e-12, "24.3", "24.3"}, // a hair short by rounding in the machine, not by the data
		{math.Inf(1), "not reached", "not reached"},
		{math.NaN(), "none stated", "none stated"},
	} {
		if got := Bound(c.months); got != c.bound {
			t.Errorf("Bound(%v) = %q, want %q", c.months, got, c.bound)
		}
		if got := Estimate(c.months); got != c.estimate {
			t.Errorf("Estimate(%v) = %q, want %q", c.months, got, c.estimate)
		}
	}
}

func TestNumbersReadAsPeopleWriteThem(t *testing.T) {
	for _, c := range []struct {
		x      float64
		digits int
		want   string
	}{
		{18000, 10, "18000"}, {42000, 3, "42000"}, {0.00012345, 3, "0.000123"}, {1.5e-7, 2, "1.5e-07"}, {-0.0185991, 4, "-0.0186"},
		{math.NaN(), 3, "–"}, {math.Inf(-1), 3, "–"},
	} {
		if got := Number(c.x, c.digits); got != c.want {
			t.Errorf("Number(%v, %d) = %q, want %q", c.x, c.digits, got, c.want)
		}
	}
	for p, want := range map[float64]string{0.2499: "0.250", 0.0004: "<0.001", 0.001: "0.001", 1: "1.000"} {
		if got := P(p); got != want {
			t.Errorf("P(%v) = %q, want %q", p, got, want)
		}
	}
	if got := P(math.NaN()); got != "–" {
		t.Errorf("P(NaN) = %q", got)
	}
}

// A column of numbers has the decimals that its smallest error bears.
func TestColumnsOfNumbers(t *testing.T) {
	for _, c := range []struct {
		digits int
		xs     []float64
		want   int
	}{
		{2, []float64{0.0031, 0.00049}, 5}, {2, []float64{0, 0.27}, 2}, {5, []float64{30125.4}, 0}, {5, []float64{10.351}, 3},
		{2, []float64{0, math.NaN()}, 0}, {2, []float64{1e-17}, 10},
	} {
		if got := Decimals(c.digits, c.xs...); got != c.want {
			t.Errorf("Decimals(%d, %v) = %d, want %d", c.digits, c.xs, got, c.want)
		}
	}
	for want, x := range map[string]float64{"-0.00020": -0.000198, "0.00000": -0.000001, "0.04649": 0.046494, "–": math.NaN()} {
		if got := Fixed(x, 5); got != want {
			t.Errorf("Fixed(%v, 5) = %q, want %q", x, got, want)
		}
	}
}

// What intercept and slope are in stands beside them.
func TestScales(t *testing.T) {
	viscosity := study.Attribute{Kind: study.Measure, Unit: "mPa.s", Basis: study.BasisPercent}
	pH := study.Attribute{Kind: study.Measure, Unit: "[pH]"}
	for _, c := range []struct {
		a                *study.Attribute
		model            study.Model
		intercept, slope string
	}{
		{&viscosity, study.ZeroOrder, "mPa.s", "mPa.s per month"},
		{&viscosity, study.FirstOrder, "ln(mPa.s)", "ln(mPa.s) per month"},
		{&viscosity, study.SecondOrder, "1/(mPa.s)", "1/(mPa.s) per month"},
		{&viscosity, study.SquareRootTime, "mPa.s", "mPa.s per √month"},
		{&pH, study.ZeroOrder, "", "per month"},
		{&pH, study.FirstOrder, "ln(value)", "ln(value) per month"},
	} {
		if intercept, slope := Scales(c.a, string(c.model)); intercept != c.intercept || slope != c.slope {
			t.Errorf("%s, %s: %q, %q", c.a.Unit, c.model, intercept, slope)
		}
	}
}

func TestCriterion(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		a    study.Attribute
		want string
	}{
		{study.Attribute{Kind: study.Measure, Unit: "mPa.s", Lower: 18000, Upper: 42000}, "18000 to 42000 mPa.s"},
		{study.Attribute{Kind: study.Measure, Unit: "%", Lower: 90, Upper: inf}, "≥ 90 %"},
		{study.Attribute{Kind: study.Measure, Unit: "[pH]", Lower: 5, Upper: 6.2}, "5 to 6.2"},
		{study.Attribute{Kind: study.Measure, Unit: "%", Basis: study.BasisPercent, Lower: 90, Upper: inf}, "≥ 90 % of initial"},
		{study.Attribute{Kind: study.Measure, Unit: "[pH]", Basis: study.BasisChange, Lower: -0.5, Upper: 0.5}, "−0.5 to 0.5 change from initial"},
		{study.Attribute{Kind: study.Weighing, Unit: "%", Lower: -inf, Upper: 5}, "≤ 5 % lost"},
		{study.Attribute{Kind: study.Grade, Grades: []string{"none", "slight", "moderate"}, Lower: -inf, Upper: 1}, "at most slight"},
		{study.Attribute{Kind: study.PassFail, Lower: -inf, Upper: 0}, "pass"},
		{study.Attribute{Kind: study.Measure, Lower: -inf, Upper: inf}, "none"},
	} {
		if got := Criterion(&c.a); got != c.want {
			t.Errorf("%+v: %q, want %q", c.a, got, c.want)
		}
	}
}

// evaluation is a study with one attribute in one pack and a verdict on it.
func evaluation(change func(*analysis.Supported)) *analysis.Evaluation {
	s := &study.Study{
		ID: "T-1", StoreAt: 0, Claim: study.Duration{N: 30, Unit: study.Months},
		Conditions: []study.Condition{{ID: "25C60", Temperature: 25, Humidity: 60}},
		Batches:    []study.Batch{{ID: "B1"}, {ID: "B2"}, {ID: "B3"}},
		Packs:      []study.Pack{{ID: "tube", Orientations: []study.Orientation{study.Upright}}},
		Attributes: []study.Attribute{{ID: "assay", Unit: "%", Kind: study.Measure, Lower: 90, Upper: math.Inf(1), Decimals: 1}},
	}
	v := &analysis.Supported{
		Verdict: analysis.Verdict{
			Months: 15, Regression: 15.5567, Observed: 12, Cap: 24, Rule: "ICH Q1E 2.4.1.2", RuleText: "At most 24 months.", LimitedBy: "regression",
			Analysis: &analysis.Analysis{OneSided: true},
		},
		ClaimMonths: 30,
	}
	change(v)
	v.Verdicts = []analysis.Verdict{v.Verdict}
	return &analysis.Evaluation{Dataset: &study.Dataset{Study: s}, Confidence: 0.95, Supported: v}
}

func TestConclusion(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*analysis.Supported)
		want   []string
	}{
		"regression limits": {func(*analysis.Supported) {}, []string{
			"Supported shelf life at 25C60 (25 °C, 60 % RH): 15 months, limited by assay in tube. The regression limits it: the one-sided 95 % confidence limit of the mean meets the criterion at 15.5 months; the rule would allow at most 24 months (ICH Q1E 2.4.1.2). The data reach 12 months; what lies beyond is extrapolated.",
			"The claim of 30 months is not supported by these data.",
		}},
		"rule limits": {func(v *analysis.Supported) { v.Months, v.Regression, v.LimitedBy = 24, math.Inf(1), "extrapolation" }, []string{
			"Supported shelf life at 25C60 (25 °C, 60 % RH): 24 months, limited by assay in tube. The rule on extrapolation limits it (ICH Q1E 2.4.1.2): at most 24 months. The regression itself reaches no limit. The data reach 12 months; what lies beyond is extrapolated.",
			"The claim of 30 months is not supported by these data.",
		}},
		"claim met": {func(v *analysis.Supported) { v.Months, v.MeetsClaim, v.ClaimMonths = 15, true, 12 }, []string{
			"Supported shelf life at 25C60 (25 °C, 60 % RH): 15 months, limited by assay in tube. The regression limits it: the one-sided 95 % confidence limit of the mean meets the criterion at 15.5 months; the rule would allow at most 24 months (ICH Q1E 2.4.1.2). The data reach 12 months; what lies beyond is extrapolated.",
			"The claim of 12 months is supported by these data under this rule.",
		}},
		"a failure was seen": {func(v *analysis.Supported) {
			v.Months, v.LimitedBy = 9, "failure"
			v.Failure = &analysis.Failure{Batch: 1, Unit: "7", Planned: study.Duration{N: 12, Unit: study.Months}, Value: 89.4, LastPassing: 9}
		}, []string{
			"A failure was observed at the storage condition: assay in tube, batch B2, unit 7, at 12M was 89.4 % (criterion ≥ 90 %).",
			"Supported shelf life at 25C60 (25 °C, 60 % RH): 9 months, limited by assay in tube. The failure that was observed caps it at 9 months, the last pull that every failing batch is known to have passed; the rule would allow at most 24 months (ICH Q1E 2.4.1.2).",
			"The claim of 30 months is not supported by these data.",
		}},
		"long enough, but not everything was judged": {func(v *analysis.Supported) {
			v.ClaimMonths = 12
			v.Undecided = []analysis.Undecided{{Reason: "no results at 25C60"}}
		}, []string{
			"Supported shelf life at 25C60 (25 °C, 60 % RH), of what could be judged: 15 months, limited by assay in tube. The regression limits it: the one-sided 95 % confidence limit of the mean meets the criterion at 15.5 months; the rule would allow at most 24 months (ICH Q1E 2.4.1.2). The data reach 12 months; what lies beyond is extrapolated.",
			"The claim of 12 months is not shown: not every attribute could be judged.",
			"Not judged, and so not covered by the above: assay in tube (no results at 25C60).",
		}},
		"nothing could be judged": {func(v *analysis.Supported) {
			v.Verdict = analysis.Verdict{}
			v.Undecided = []analysis.Undecided{{Reason: "no results at 25C60"}}
		}, []string{
			"No shelf life can be stated: no attribute with an acceptance criterion could be judged at the storage condition.",
			"The claim of 30 months is not shown: not every attribute could be judged.",
			"Not judged, and so not covered by the above: assay in tube (no results at 25C60).",
		}},
		"a part was asked for": {func(v *analysis.Supported) { v.Partial, v.MeetsClaim, v.ClaimMonths, v.Observed = true, true, 12, 18 }, []string{
			"Supported shelf life at 25C60 (25 °C, 60 % RH), of the part of the study that was asked for: 15 months, limited by assay in tube. The regression limits it: the one-sided 95 % confidence limit of the mean meets the criterion at 15.5 months; the rule would allow at most 24 months (ICH Q1E 2.4.1.2).",
			"The claim of 12 months is supported by the part of the study that was asked for; the rest was not judged.",
		}},
		"breached at the start": {func(v *analysis.Supported) {
			v.Months, v.Regression, v.Analysis = 0, 0, &analysis.Analysis{Status: analysis.BreachedAtStart}
		}, []string{
			"Supported shelf life at 25C60 (25 °C, 60 % RH): 0 months, limited by assay in tube. The regression limits it: the two-sided 95 % confidence limit of the mean is at or beyond the criterion already at the start; the rule would allow at most 24 months (ICH Q1E 2.4.1.2).",
			"The claim of 30 months is not supported by these data.",
		}},
		"no regression": {func(v *analysis.Supported) {
			v.Months, v.Regression, v.LimitedBy, v.Analysis = 12, math.NaN(), "extrapolation", &analysis.Analysis{Status: analysis.NotFitted}
		}, []string{
			"Supported shelf life at 25C60 (25 °C, 60 % RH): 12 months, limited by assay in tube. The rule on extrapolation limits it (ICH Q1E 2.4.1.2): at most 24 months.",
			"The claim of 30 months is not supported by these data.",
			"No regression could be made, so that only what was observed and the rule stand behind the shelf life: assay in tube.",
		}},
	} {
		got := Conclusion(evaluation(c.change))
		if strings.Join(got, "\n") != strings.Join(c.want, "\n") {
			t.Errorf("%s:\ngot  %s\nwant %s", name, strings.Join(got, "\n     "), strings.Join(c.want, "\n     "))
		}
	}
}

// Without a storage condition there is nothing a shelf life could be stated of.
func TestConclusionWithoutStorage(t *testing.T) {
	e := evaluation(func(*analysis.Supported) {})
	e.Dataset.Study.StoreAt, e.Supported = -1, nil
	const want = "No shelf life can be stated: the study names no condition that stands for storage as labelled. The claim of 30 months is not shown."
	if got := Conclusion(e); len(got) != 1 || got[0] != want {
		t.Errorf("got %q", got)
	}
}

// Fewer batches than ICH Q1A(R2) 2.2.3 asks for are told with the conclusion.
func TestConclusionFromFewBatches(t *testing.T) {
	for n, want := range map[int]string{
		1: "The study has 1 batch and says nothing of any other; ICH Q1A(R2) 2.2.3 asks for at least three.",
		2: "The study has 2 batches; ICH Q1A(R2) 2.2.3 asks for at least three.",
		3: "The claim of 30 months is not supported by these data.",
	} {
		e := evaluation(func(*analysis.Supported) {})
		e.Dataset.Study.Batches = e.Dataset.Study.Batches[:n]
		got := Conclusion(e)
		if last := got[len(got)-1]; last != want {
			t.Errorf("%d: %q", n, last)
		}
	}
}

// A study that sets no rule is not told of one.
func TestConclusionWithoutRule(t *testing.T) {
	e := evaluation(func(v *analysis.Supported) {
		v.Months, v.Regression, v.Cap, v.Rule, v.MeetsClaim = 38, 38.2, math.Inf(1), "none", true
	})
	e.Dataset.Study.Rules = study.NoRules
	want := []string{
		"Supported shelf life at 25C60 (25 °C, 60 % RH): 38 months, limited by assay in tube. The regression limits it: the one-sided 95 % confidence limit of the mean meets the criterion at 38.2 months; no rule on extrapolation is applied. The data reach 12 months; what lies beyond is extrapolated.",
		"The claim of 30 months is supported by these data, with no rule on extrapolation applied.",
	}
	if got := Conclusion(e); strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got %q", got)
	}
}

// A life of nothing is told as what it is: a limit met before storage begins.
func TestPredictionAtTheStart(t *testing.T) {
	e := evaluation(func(*analysis.Supported) {})
	r := &analysis.Arrhenius{Status: analysis.Fitted, EaKJ: 83.04, EaLow: 70, EaHigh: math.Inf(1), LinearityP: math.NaN(), Temperatures: 2, Predictions: []analysis.Prediction{
		{Celsius: 25}, {Celsius: 5, Estimate: 1.26}, {Celsius: 0, Estimate: 30.06, ShelfLife: 20.99, Extrapolated: true}}}
	want := []string{
		"Activation energy 83.0 kJ/mol (95 % interval 70.0 to open), from 2 temperatures.",
		"At 25 °C the fitted path is at or beyond the limit already at the start.",
		"At 5 °C the fit predicts 1.3 months, with a bound of 0.0: the data do not rule out that the limit is met at once.",
		"At 0 °C the fit predicts 30.1 months, with a lower bound of 20.9 (outside the temperatures studied).",
		"Whether one activation energy fits all temperatures could not be tested.",
	}
	if got := Arrhenius(e, r); strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got %s", strings.Join(got, "\n    "))
	}
}

// That one activation energy does not fit stands before what rests on it.
func TestFailedLinearityComesFirst(t *testing.T) {
	e := evaluation(func(*analysis.Supported) {})
	r := &analysis.Arrhenius{Status: analysis.Fitted, EaKJ: 83, EaLow: 70, EaHigh: 96, LinearityP: 0.0004, BendsAt: 0, Temperatures: 3,
		Predictions: []analysis.Prediction{{Celsius: 25, Estimate: 30, ShelfLife: 20}}}
	want := []string{
		"Activation energy 83.0 kJ/mol (95 % interval 70.0 to 96.0), from 3 temperatures.",
		"One activation energy does not fit all temperatures (p < 0.001); 25C60 bends the line most: a prediction from this fit is not to be relied on.",
		"At 25 °C the fit predicts 30.0 months, with a lower bound of 20.0.",
	}
	if got := Arrhenius(e, r); strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got %s", strings.Join(got, "\n    "))
	}
	r.LinearityP = 0.41
	want = []string{want[0], want[2], "No departure from one activation energy over these temperatures was shown (p = 0.410)."}
	if got := Arrhenius(e, r); strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got %s", strings.Join(got, "\n    "))
	}
}

// No sentence speaks of proof or guarantee, and none prints a NaN.
func TestWordsNeverClaimMoreThanTheNumbers(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	bold := regexp.MustCompile(`(?i)\b(prove[sn]?|guarantee[ds]?|certain(ly)?|safe|NaN|\+?Inf)\b`)
	e := evaluation(func(*analysis.Supported) {})
	var all []string
	for _, status := range []analysis.Status{analysis.Fitted, analysis.NeverReached, analysis.BreachedAtStart, analysis.Observed, analysis.TooFewTimes, analysis.NotFitted, analysis.NoCriterion} {
		for _, life := range []float64{nan, inf, 0, 12.34} {
			all = append(all, Analysis(e, &analysis.Analysis{Status: status, ShelfLife: life, Estimate: life, LimitingBatch: -1, Confidence: 0.95}))
		}
	}
	for _, p := range []float64{nan, 0.001, 0.5} {
		for _, life := range []float64{nan, inf, 0, 12.34} {
			all = append(all, Arrhenius(e, &analysis.Arrhenius{
				Status: analysis.Fitted, EaKJ: 83, EaLow: math.Inf(-1), EaHigh: inf, LinearityP: p, BendsAt: -1, Temperatures: 3,
				Predictions: []analysis.Prediction{{Celsius: 25, Estimate: life, ShelfLife: life, Extrapolated: true}},
			})...)
		}
	}
	all = append(all, Conclusion(e)...)
	all = append(all, Disclaimer, Confidence, Q1EConditions)
	for _, s := range all {
		if bold.MatchString(s) {
			t.Errorf("%q", s)
		}
	}
}
