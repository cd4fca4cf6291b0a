package words

import (
	"math"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/analysis/agreement"
	"shelfspan/analysis/lifetime"
	"shelfspan/study"
)

// A share that may have failed never shrinks in the printing.
func TestAtMostIsNeverRoundedDown(t *testing.T) {
	for share, want := range map[float64]string{0.3930: "40 %", 0.05: "5.0 %", 0.04501: "4.6 %", 0.1: "10 %", 0.1001: "11 %", 1: "100 %", math.NaN(): "–"} {
		if got := AtMost(share); got != want {
			t.Errorf("AtMost(%v) = %q, want %q", share, got, want)
		}
	}
}

func TestBracket(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		after, by float64
		want      string
	}{{9.07, 12.02, "9.1 to 12"}, {0, 3.06, "by 3.1"}, {18, inf, "after 18"}, {0, 0, "at the start"}, {math.NaN(), math.NaN(), "–"}} {
		if got := Bracket(c.after, c.by); got != c.want {
			t.Errorf("Bracket(%v, %v) = %q, want %q", c.after, c.by, got, c.want)
		}
	}
}

// unitsOf is a made-up answer of two packs at a storage condition.
func unitsOf(failed ...int) (*analysis.Evaluation, []*analysis.Lifetime) {
	s := &study.Study{StoreAt: 0, Conditions: []study.Condition{{ID: "25C60", Temperature: 25}},
		Packs:      []study.Pack{{ID: "tube", Orientations: []study.Orientation{study.Upright}}, {ID: "jar", Orientations: []study.Orientation{study.Upright}}},
		Attributes: []study.Attribute{{ID: "look", Kind: study.Grade}}}
	e := &analysis.Evaluation{Dataset: &study.Dataset{Study: s}, Confidence: 0.95}
	for pack, n := range failed {
		year := study.Duration{N: 12, Unit: study.Months}
		e.Lifetimes = append(e.Lifetimes, &analysis.Lifetime{Pack: pack, Share: 0.05, Confidence: 0.95, Conditions: []analysis.UnitsAt{{
			Units: 40, Failed: n, Pulls: []analysis.PullSeen{{Planned: year, Months: 12, Units: 20, Failed: n, AtMost: 0.14}}}}})
	}
	return e, e.Lifetimes
}

// What no failure shows is told of the packs in which none failed.
func TestNoFailure(t *testing.T) {
	for _, c := range []struct {
		failed []int
		want   string
	}{
		{[]int{0, 0}, "At 25C60 no unit has failed. That says little of single units: none of 20 at 12M says with 95 % confidence that at most 14 % have failed by then; for at most 5 % it would take 59 units without a failure."},
		{[]int{1, 0}, "At 25C60 no unit has failed in jar. That says little"},
		{[]int{1, 2}, ""},
	} {
		e, l := unitsOf(c.failed...)
		if got := NoFailure(e, l); !strings.HasPrefix(got, c.want) || c.want == "" && got != "" {
			t.Errorf("%v: %q, want %q", c.failed, got, c.want)
		}
	}
	e, l := unitsOf(0)
	p := &l[0].Conditions[0].Pulls[0]
	p.Units, p.AtMost, p.Months = 80, 0.0368, 11.47
	want := "At 25C60 no unit has failed. None of 80 at 11.4 months says with 95 % confidence that at most 3.7 % have failed by then."
	if got := NoFailure(e, l); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// A bound that the data do not set is never written as a number, and no number
// stands without its confidence and method.
func TestLifetimesClaimNoMoreThanTheirNumbers(t *testing.T) {
	e, l := unitsOf(3)
	candidate := func(d lifetime.Distribution, calibrated, profile float64) analysis.LifetimeCandidate {
		return analysis.LifetimeCandidate{Result: &lifetime.Result{Status: lifetime.Fitted, Distribution: d, AICc: 30, EaKJ: 80, EaLow: 60, EaHigh: math.Inf(1)},
			Bounds: []analysis.UnitBound{{Quantile: lifetime.Quantile{Celsius: 25, Estimate: 10.44, Calibrated: calibrated, Profile: profile, Wald: 6.99, Open: calibrated == 0}, Storage: true}}}
	}
	fit := &analysis.LifetimeFit{Units: 40, Failed: 3, Temperatures: 2, CommonP: math.NaN(),
		Candidates: []analysis.LifetimeCandidate{candidate(lifetime.Lognormal, 3.28, 4.87), candidate(lifetime.Weibull, 0, 3.9)}}
	l[0].Joint = fit
	got := strings.Join(LifetimeOverTemperatures(e, l[0]), " ")
	want := "Lifetimes over 2 temperatures (3 of 40 units failed), lognormal (AICc 30.0; Weibull 30.0): activation energy 80.0 kJ/mol (95 % interval 60.0 to open). " +
		"At 25 °C, 5 % of the units are estimated to have failed by 10.4 months; allowing for how few failed, the one-sided 95 % lower bound is 3.2; without that it is 4.8 by the profile likelihood and 6.9 by Wald (Weibull: 10.4, bound open). " +
		"Whether one activation energy and one spread hold for all conditions could not be tested."
	if got != want {
		t.Errorf("%q\nwant %q", got, want)
	}
	fit.CommonP = 0.01
	said := LifetimeOverTemperatures(e, l[0])
	if !strings.Contains(said[0], "do not fit all conditions (p = 0.010): a prediction from them together is not to be relied on") || strings.Contains(said[0], "10.4") {
		t.Errorf("the warning does not come before the number: %q", said)
	}
	fit.Candidates[0] = candidate(lifetime.Lognormal, 0, 4.87)
	if got := strings.Join(LifetimeOverTemperatures(e, l[0]), " "); !strings.Contains(got, "allowing for how few failed, there is no one-sided 95 % lower bound above zero; without that it is 4.8 by the profile likelihood and 6.9 by Wald") {
		t.Errorf("%q", got)
	}
	fit.Candidates[0] = candidate(lifetime.Lognormal, 0, 0)
	if got := strings.Join(LifetimeOverTemperatures(e, l[0]), " "); !strings.Contains(got, "the data set no one-sided 95 % lower bound above zero") {
		t.Errorf("%q", got)
	}
	fit.Candidates[0].Status, fit.Candidates[0].Reason = lifetime.EaOpen, "the energy is open"
	if got := LifetimeOverTemperatures(e, l[0]); len(got) != 1 || got[0] != "The temperatures together give no distribution of lifetimes: the energy is open." {
		t.Errorf("%q", got)
	}
}

func TestAgreementInWords(t *testing.T) {
	e, _ := unitsOf(0)
	for _, c := range []struct {
		result agreement.Result
		want   string
	}{
		{agreement.Result{Status: agreement.Computed, Units: 20, Kappa: 0.746, Low: 0.67, High: 0.822}, "A and B both graded 20 samples and gave 15 of them the same grade; linearly weighted kappa 0.75 (95 % interval 0.67 to 0.82)."},
		{agreement.Result{Status: agreement.Computed, Units: 20, Kappa: 0.45, Low: -0.02, High: 0.9}, "That is poor"},
		{agreement.Result{Status: agreement.OneGrade, Units: 20, Kappa: math.NaN()}, "is not defined"},
		{agreement.Result{Status: agreement.ByMargins, Units: 20, Kappa: math.NaN()}, "kappa tells nothing"},
		{agreement.Result{Status: agreement.NoError, Units: 20, Kappa: 1}, "kappa 1.00"},
	} {
		g := &analysis.Agreement{Assessors: [2]string{"A", "B"}, Result: c.result, Table: [][]int{{10, 5}, {0, 5}}}
		if got := Agreement(e, g); !strings.Contains(got, c.want) || strings.Contains(got, "NaN") {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
