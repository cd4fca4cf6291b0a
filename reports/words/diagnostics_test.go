package words

import (
	"math"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/study"
)

// turned gives an analysis a course that rises for 5.62 months and then falls.
func turned(a *analysis.Analysis) *analysis.Analysis {
	a.Diagnostics = &analysis.Diagnostics{
		Tests:    9,
		Course:   &analysis.Course{Rises: true, TurnsAt: 5.62, TurnP: 0.0004},
		Findings: []analysis.Finding{{Code: analysis.CodeTurns, Warned: true, P: 0.0004, Batch: -1}},
	}
	return a
}

// The shelf life is not stated without saying that the line behind it is none to
// rely on, and a claim is not said to be supported without reserve.
func TestTurningQualifiesTheConclusion(t *testing.T) {
	e := evaluation(func(v *analysis.Supported) {
		turned(v.Analysis)
		v.MeetsClaim, v.ClaimMonths = true, 12
	})
	got := Conclusion(e)
	want := []string{
		"Not to be relied on: the line of assay in tube. It rises until about 5.6 months and then falls (p < 0.001), and no straight line describes that; the rule was applied as where no regression can be made, and the line's bound may only shorten what it allows.",
		"The claim of 12 months is within these months, with the reservation stated above.",
	}
	if len(got) != 3 || got[1] != want[0] || got[2] != want[1] {
		t.Errorf("got  %s", strings.Join(got, "\n     "))
	}
	e.Supported.Analysis.Diagnostics.Findings[0].Warned = false // noted alone
	if got := strings.Join(Conclusion(e), "\n"); strings.Contains(got, "relied on") {
		t.Errorf("a turn that is noted alone qualifies the conclusion:\n%s", got)
	}
}

func TestTested(t *testing.T) {
	e := &analysis.Evaluation{Analyses: []*analysis.Analysis{{}, turned(&analysis.Analysis{}), {Diagnostics: &analysis.Diagnostics{Tests: 4}}}}
	if got, want := Tested(e), "13 tests in 2 analyses: 1 warned of (p < 0.01)."; got != want || !Warned(e) {
		t.Errorf("%q, want %q", got, want)
	}
	e.Analyses[1].Diagnostics.Findings[0].Warned = false
	if got, want := Tested(e), "13 tests in 2 analyses: 1 noted (p < 0.05)."; got != want || Warned(e) {
		t.Errorf("%q, want %q", got, want)
	}
	if got := Tested(&analysis.Evaluation{Analyses: []*analysis.Analysis{{}}}); got != "" {
		t.Errorf("of nothing: %q", got)
	}
}

func TestFindingResult(t *testing.T) {
	s := &study.Study{Batches: []study.Batch{{ID: "B1"}, {ID: "B2"}}}
	a := turned(&analysis.Analysis{})
	at := study.Duration{N: 9, Unit: study.Months}
	for want, f := range map[string]analysis.Finding{
		"rises, then falls, turning at about 5.6 M": a.Diagnostics.Findings[0],
		"B2 9M":     {Code: analysis.CodeOutlier, Batch: 1, Planned: at, Samples: []int{3}},
		"B2 9M (2)": {Code: analysis.CodeOutOfTrend, Batch: 1, Planned: at, Samples: []int{3, 4}},
		"":          {Code: analysis.CodeBends, Batch: -1},
	} {
		if got := FindingResult(s, a, &f); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	pH := &study.Attribute{Kind: study.Measure, Decimals: 2}
	x := &analysis.Expectation{Lower: [2]float64{0, 5.2}, Upper: [2]float64{0, 5.4}}
	if got := Limits(pH, x); got != "5.20 to 5.40" {
		t.Error(got)
	}
	if x.Upper[1] = math.Inf(1); Limits(pH, x) != "≥ 5.20" {
		t.Error(Limits(pH, x))
	}
}
