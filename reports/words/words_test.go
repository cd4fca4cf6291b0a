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
	for p, want := range map[float64]string{0.2499: "0.250", 0.0004: "< 0.001", 0.001: "0.001", 1: "1.000"} {
		if got := P(p); got != want {
			t.Errorf("P(%v) = %q, want %q", p, got, want)
		}
	}
	if got := P(math.NaN()); got != "–" {
		t.Errorf("P(NaN) = %q", got)
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
		Batches:    []study.Batch{{ID: "B1"}, {ID: "B2"}},
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
			"Supported shelf life at 25C60 (25 °C, 60 % RH): 15 months, limited by assay in tube. The regression limits it: the one-sided 95 % confidence limit of the mean meets the criterion at 15.5 months; the rule would allow at most 24 months (ICH Q1E 2.4.1.2).",
			"The claim of 30 months is not supported by these data.",
		}},
		"rule limits": {func(v *analysis.Supported) { v.Months, v.Regression, v.LimitedBy = 24, math.Inf(1), "extrapolation" }, []string{
			"Supported shelf life at 25C60 (25 °C, 60 % RH): 24 months, limited by assay in tube. The rule limits it: ICH Q1E 2.4.1.2: At most 24 months. The regression itself reaches no limit.",
			"The claim of 30 months is not supported by these data.",
		}},
		"claim met": {func(v *analysis.Supported) { v.Months, v.MeetsClaim, v.ClaimMonths = 15, true, 12 }, []string{
			"Supported shelf life at 25C60 (25 °C, 60 % RH): 15 months, limited by assay in tube. The regression limits it: the one-sided 95 % confidence limit of the mean meets the criterion at 15.5 months; the rule would allow at most 24 months (ICH Q1E 2.4.1.2).",
			"The claim of 12 months is supported by these data under this rule.",
		}},
		"a failure was seen": {func(v *analysis.Supported) {
			v.Months, v.LimitedBy = 9, "failure"
			v.Failure = &analysis.Failure{Batch: 1, Unit: "7", Planned: study.Duration{N: 12, Unit: study.Months}, Value: 89.4, LastPassing: 9}
		}, []string{
			"A failure was observed at the storage condition: assay in tube, batch B2, unit 7, at 12M was 89.4 % (criterion ≥ 90 %).",
			"Supported shelf life at 25C60 (25 °C, 60 % RH): 9 months, limited by assay in tube. The failure that was observed caps it at the last pull before it, 9 months.",
			"The claim of 30 months is not supported by these data.",
		}},
		"long enough, but not everything was judged": {func(v *analysis.Supported) {
			v.ClaimMonths = 12
			v.Undecided = []analysis.Undecided{{Reason: "no results at 25C60"}}
		}, []string{
			"Supported shelf life at 25C60 (25 °C, 60 % RH): 15 months, limited by assay in tube. The regression limits it: the one-sided 95 % confidence limit of the mean meets the criterion at 15.5 months; the rule would allow at most 24 months (ICH Q1E 2.4.1.2).",
			"The claim of 12 months is not shown: not every attribute could be judged.",
			"Not judged, and so not covered by the shelf life above: assay in tube (no results at 25C60).",
		}},
		"nothing could be judged": {func(v *analysis.Supported) {
			v.Verdict = analysis.Verdict{}
			v.Undecided = []analysis.Undecided{{Reason: "no results at 25C60"}}
		}, []string{
			"No shelf life can be stated: no attribute with an acceptance criterion could be judged at the storage condition.",
			"The claim of 30 months is not shown: not every attribute could be judged.",
			"Not judged, and so not covered by the shelf life above: assay in tube (no results at 25C60).",
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
	if got := Conclusion(e); len(got) != 1 || !strings.HasPrefix(got[0], "No shelf life can be stated") {
		t.Errorf("got %q", got)
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
