package words

import (
	"math"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/analysis/lifetime"
)

// The factor's interval is rounded outwards, so that none is narrower in print than it
// is, and only where the lifetimes differ is it said that units fail sooner or later.
func TestUnitsCompared(t *testing.T) {
	c := &analysis.Comparison{
		Outcome: analysis.Differs, PAdjusted: 0.02, LastMonths: 18, Failed: [2]int{18, 18}, AgainstFailed: [2]int{13, 18}, Error: analysis.ErrorLifetimes,
		Lifetimes: &lifetime.Difference{Status: lifetime.Fitted, Distribution: lifetime.Weibull, LnRatio: math.Log(0.714), Low: math.Log(0.4899), High: math.Log(0.9901)},
	}
	if got := TimeFactor(c); got != "0.71 (0.48–1)" {
		t.Errorf("the factor is %s", got)
	}
	const sooner = "by 18 months 18 of 18 units failed, against 13 of 18; the time to a failure is 0.71 (0.48–1) times as long (p = 0.020 by Weibull lifetimes): units fail sooner."
	if got := unitsCompared(c); got != sooner {
		t.Errorf("%s", got)
	}
	c.Lifetimes.LnRatio, c.Lifetimes.Low, c.Lifetimes.High = math.Log(12.34), math.Log(1.2345), math.Inf(1)
	if got := TimeFactor(c); got != "12 (1.2–no end)" {
		t.Errorf("the factor is %s", got)
	}
	if got := unitsCompared(c); !strings.HasSuffix(got, "units fail later.") {
		t.Errorf("%s", got)
	}
	c.Outcome = analysis.NotShown
	if got := unitsCompared(c); !strings.HasSuffix(got, "no difference is shown, and one within that interval may be hidden.") || strings.Contains(got, "sooner") || strings.Contains(got, "later") {
		t.Errorf("%s", got)
	}
	c.Lifetimes = nil
	if got := unitsCompared(c); !strings.HasSuffix(got, "no difference is shown, and so few units can hide a large one.") || TimeFactor(c) != "" {
		t.Errorf("%s", got)
	}
}

// Whether a comparison of units is made within batches is in its sentence and at its
// letter, and what is not in its p-value as well.
func TestByBatches(t *testing.T) {
	c := &analysis.Comparison{Outcome: analysis.NotShown, PAdjusted: 0.3, LastMonths: 18, Failed: [2]int{3, 18}, AgainstFailed: [2]int{1, 18}}
	for _, x := range []struct {
		strata *analysis.Strata
		by     analysis.ErrorOf
		want   string
		mark   string
	}{
		{&analysis.Strata{Batches: 1, Both: 1}, analysis.ErrorCounts, "(p = 0.300):", "(c): "},
		{&analysis.Strata{Batches: 4, Both: 1}, analysis.ErrorCounts, "(p = 0.300, batches together):", "how they vary is not in p."},
		{&analysis.Strata{Batches: 4, Both: 3, Telling: 3}, analysis.ErrorCountsWithin, "(p = 0.300, within 3 batches):", "that the difference itself may vary from batch to batch is not in p,"},
		{&analysis.Strata{Batches: 4, Both: 3, Telling: 2}, analysis.ErrorCountsWithin, "(p = 0.300, within 3 batches, of which 2 tell):", "adds nothing to it."},
		{&analysis.Strata{Batches: 3, Both: 3, Telling: 1}, analysis.ErrorCountsWithin, "(p = 0.300, within 3 batches, of which one tells):", "(cb): "},
		{&analysis.Strata{Batches: 3, Both: 3}, analysis.ErrorCountsWithin, "(p = 0.300, within 3 batches, of which none tells):", "(cb): "},
	} {
		c.Strata, c.Error = x.strata, x.by
		if got := unitsCompared(c); !strings.Contains(got, x.want) {
			t.Errorf("%+v: %s", x.strata, got)
		}
		marks := ErrorMarks([]*analysis.Comparison{c})
		if !strings.Contains(marks, x.mark) || strings.Contains(marks, "the difference itself") != (x.by == analysis.ErrorCountsWithin) {
			t.Errorf("%s: %s", x.by, marks)
		}
	}
	c.Error = analysis.ErrorLifetimesWithin
	if got := ErrorMarks([]*analysis.Comparison{c}); !strings.HasPrefix(got, "(lb): ") || !strings.Contains(got, "a location for each batch") {
		t.Errorf("%s", got)
	}
}
