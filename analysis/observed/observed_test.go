package observed_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/observed"
	"shelfspan/study"
)

var inf = math.Inf(1)

func grade(upper float64) *study.Attribute {
	return &study.Attribute{ID: "appearance", Kind: study.Grade, Lower: -inf, Upper: upper, Decimals: -1,
		Grades: []string{"none", "slight", "moderate", "marked"}}
}

// pulled makes a sample pulled on its planned day; 12 months are then 11.992
// months of 30.4375 days.
func pulled(batch int, unit string, planned, value float64) observed.Sample {
	return observed.Sample{Batch: batch, Unit: unit, PlannedMonths: planned, Months: planned * 0.9993, Value: value, InWindow: true}
}

func TestEveryUnitPassesSetsNoLimit(t *testing.T) {
	j := observed.Judge(grade(2), []observed.Sample{
		pulled(0, "u1", 0, 0), pulled(0, "u1", 3, 1), pulled(0, "u1", 6, 2), pulled(1, "u2", 0, 0), pulled(1, "u2", 6, 2),
	})
	if !math.IsInf(j.Life, 1) || j.Failure != nil {
		t.Errorf("life %v, failure %v; want none", j.Life, j.Failure)
	}
}

func TestLifeEndsAtTheLastPassingPull(t *testing.T) {
	for _, c := range []struct {
		name        string
		samples     []observed.Sample
		life        float64
		failure     int
		lastPassing float64
	}{
		{"one unit of three fails at 12 months", []observed.Sample{
			pulled(0, "a", 0, 0), pulled(0, "a", 9, 1), pulled(0, "a", 12, 2), pulled(0, "b", 12, 3), pulled(0, "c", 12, 2), pulled(0, "a", 18, 1),
		}, 9, 3, 9},
		{"the first pull fails", []observed.Sample{pulled(0, "", 3, 3), pulled(0, "", 6, 1)}, 0, 0, 0},
		{"failed at the start", []observed.Sample{pulled(0, "", 0, 3), pulled(0, "", 6, 1)}, 0, 0, 0},
		{"planned 12 months passed on the day, failed at 18", []observed.Sample{
			pulled(0, "", 0, 0), pulled(0, "", 12, 1), pulled(0, "", 18, 3)}, 12, 2, 12},
		{"the batch that fails was not pulled at 9", []observed.Sample{
			pulled(0, "", 6, 1), pulled(1, "", 6, 1), pulled(1, "", 9, 1), pulled(0, "", 12, 3), pulled(1, "", 12, 1)}, 6, 3, 6},
		{"the last passing pull was made at 8 months for a planned 12", []observed.Sample{
			pulled(0, "", 6, 1), {PlannedMonths: 12, Months: 8, Value: 1}, pulled(0, "", 18, 3)}, 8, 2, 8},
		{"the failure planned for 12 months was seen at 8", []observed.Sample{
			pulled(0, "", 6, 1), pulled(0, "", 9, 1), {PlannedMonths: 12, Months: 8, Value: 3}}, 6, 2, 6},
		{"the failure planned for 18 months was seen before the one at 12", []observed.Sample{
			pulled(0, "", 6, 1), pulled(0, "", 12, 3), {PlannedMonths: 18, Months: 8, Value: 3}}, 6, 2, 6},
		{"a pull planned for 18 months passed at 8", []observed.Sample{
			pulled(0, "", 6, 1), {PlannedMonths: 18, Months: 8, Value: 1}, pulled(0, "", 12, 3)}, 8, 2, 8},
		{"one unit of the pull before is undecided", []observed.Sample{
			pulled(0, "a", 3, 1), pulled(0, "a", 6, 1), {Unit: "b", PlannedMonths: 6, Months: 6, Value: 3, Censor: study.BelowThat, InWindow: true},
			pulled(0, "a", 9, 3)}, 3, 3, 3},
		{"a later first failure of a batch with a gap", []observed.Sample{
			pulled(0, "", 9, 1), pulled(0, "", 12, 3), pulled(1, "", 6, 1), pulled(1, "", 18, 3)}, 6, 1, 6},
	} {
		j := observed.Judge(grade(2), c.samples)
		if j.Life != c.life {
			t.Errorf("%s: life %v, want %v", c.name, j.Life, c.life)
		}
		if j.Failure == nil || j.Failure.Sample != c.failure || j.Failure.LastPassing != c.lastPassing {
			t.Errorf("%s: failure %+v, want sample %d after %v", c.name, j.Failure, c.failure, c.lastPassing)
		}
	}
}

func TestPassFail(t *testing.T) {
	a := &study.Attribute{ID: "seal", Kind: study.PassFail, Lower: -inf, Upper: 0, Decimals: -1}
	j := observed.Judge(a, []observed.Sample{pulled(0, "a", 3, 0), pulled(0, "a", 6, 0), pulled(0, "b", 6, 1)})
	if j.Life != 3 || j.Failure.Sample != 2 {
		t.Errorf("life %v, failure %+v", j.Life, j.Failure)
	}
}

func TestMeasureIsJudgedRounded(t *testing.T) {
	a := &study.Attribute{ID: "assay", Kind: study.Measure, Lower: 90, Upper: inf, Decimals: 1}
	j := observed.Judge(a, []observed.Sample{pulled(0, "", 0, 100), pulled(0, "", 6, 89.95), pulled(0, "", 9, 89.94)})
	if j.Failure == nil || j.Failure.Sample != 2 || j.Life != 6 {
		t.Errorf("failure %+v, life %v; 89.95 rounds to 90.0 and passes, 89.94 does not", j.Failure, j.Life)
	}
}

func TestBases(t *testing.T) {
	percent := &study.Attribute{ID: "assay", Kind: study.Measure, Lower: 90, Upper: inf, Decimals: 1, Basis: study.BasisPercent}
	// Batch 0 begins at (49+51)/2 = 50: 44.98 is 89.96 %, rounded to 90.0; 44.97 is
	// 89.94 %, rounded to 89.9. Batch 1 begins at 40: 36 is 90 %.
	j := observed.Judge(percent, []observed.Sample{
		pulled(0, "a", 0, 49), pulled(0, "b", 0, 51), pulled(0, "a", 3, 44.98), pulled(0, "a", 6, 44.97),
		pulled(1, "a", 0, 40), pulled(1, "a", 6, 36),
	})
	want := []observed.Outcome{observed.Met, observed.Met, observed.Met, observed.Missed, observed.Met, observed.Met}
	// A unit of 49 against the mean of 50 is 98 %: met.
	for i, w := range want {
		if j.Outcomes[i] != w {
			t.Errorf("percent of initial: sample %d is %v, want %v", i, j.Outcomes[i], w)
		}
	}
	change := &study.Attribute{ID: "pH", Kind: study.Measure, Lower: -0.5, Upper: 0.5, Decimals: 1, Basis: study.BasisChange}
	j = observed.Judge(change, []observed.Sample{
		pulled(0, "", 0, 5.6), pulled(0, "", 3, 5.06), pulled(0, "", 6, 5.04), // −0.54 → −0.5; −0.56 → −0.6
		pulled(1, "", 3, 5.6), // no initial
	})
	want = []observed.Outcome{observed.Met, observed.Met, observed.Missed, observed.Undecided}
	for i, w := range want {
		if j.Outcomes[i] != w {
			t.Errorf("change: sample %d is %v, want %v", i, j.Outcomes[i], w)
		}
	}
	if len(j.Warnings) != 1 || j.Warnings[0].Code != "undecided" {
		t.Errorf("warnings %v, want one of code undecided", j.Warnings)
	}
}

// No percentage of an initial value of zero or below, or of one that is only
// known to lie below something.
func TestInitialThatCannotBeReferredTo(t *testing.T) {
	a := &study.Attribute{ID: "assay", Kind: study.Measure, Lower: 90, Upper: inf, Decimals: 1, Basis: study.BasisPercent}
	for _, initial := range []observed.Sample{
		pulled(0, "", 0, 0), pulled(0, "", 0, -2), {Value: 5, Censor: study.BelowThat, InWindow: true},
	} {
		if j := observed.Judge(a, []observed.Sample{initial, pulled(0, "", 6, 1)}); j.Outcomes[1] != observed.Undecided {
			t.Errorf("against an initial value of %v (%v): %v", initial.Value, initial.Censor, j.Outcomes[1])
		}
	}
}

func TestBaselineExemptsWhatCameBefore(t *testing.T) {
	a := &study.Attribute{ID: "viscosity", Kind: study.Measure, Lower: 80, Upper: inf, Decimals: 0, Basis: study.BasisPercent,
		Baseline: study.Duration{N: 7, Unit: study.Days}}
	week := 7 / study.DaysPerMonth
	j := observed.Judge(a, []observed.Sample{
		pulled(0, "", 0, 10), pulled(0, "", week, 100), pulled(0, "", 3, 80), pulled(0, "", 6, 79),
	})
	want := []observed.Outcome{observed.Exempt, observed.Met, observed.Met, observed.Missed}
	for i, w := range want {
		if j.Outcomes[i] != w {
			t.Errorf("sample %d is %v, want %v", i, j.Outcomes[i], w)
		}
	}
}

func TestCensored(t *testing.T) {
	a := &study.Attribute{ID: "count", Kind: study.Measure, Lower: -inf, Upper: 100, Decimals: 0}
	b := &study.Attribute{ID: "preservative", Kind: study.Measure, Lower: 0.5, Upper: inf, Decimals: 1}
	for _, c := range []struct {
		a     *study.Attribute
		value float64
		side  study.Censor
		want  observed.Outcome
	}{
		{a, 10, study.BelowThat, observed.Met},
		{a, 100, study.BelowThat, observed.Met},
		{a, 300, study.BelowThat, observed.Undecided},
		{a, 100, study.AboveThat, observed.Missed},
		{a, 50, study.AboveThat, observed.Undecided},
		{b, 0.5, study.BelowThat, observed.Missed},
		{b, 0.6, study.BelowThat, observed.Undecided},
		{b, 0.5, study.AboveThat, observed.Met},
	} {
		j := observed.Judge(c.a, []observed.Sample{{Value: c.value, Censor: c.side, InWindow: true}})
		if j.Outcomes[0] != c.want {
			t.Errorf("%s %v %v: %v, want %v", c.a.ID, c.side, c.value, j.Outcomes[0], c.want)
		}
	}
}

func TestAnUndecidedPullIsNoPassingPull(t *testing.T) {
	a := &study.Attribute{ID: "count", Kind: study.Measure, Lower: -inf, Upper: 100, Decimals: 0}
	j := observed.Judge(a, []observed.Sample{
		pulled(0, "", 0, 10), pulled(0, "", 3, 20),
		{PlannedMonths: 6, Months: 6, Value: 300, Censor: study.BelowThat, InWindow: true}, pulled(0, "", 9, 200),
	})
	if j.Life != 3 || j.Failure.LastPassing != 3 {
		t.Errorf("life %v, want 3", j.Life)
	}
}

func TestUnchanged(t *testing.T) {
	a := grade(2)
	same := []observed.Sample{pulled(0, "", 0, 1), pulled(0, "", 6, 1), pulled(1, "", 0, 0), pulled(1, "", 6, 0)}
	if !observed.Unchanged(a, same) {
		t.Error("every grade equals its batch's initial one, and counts as changed")
	}
	if observed.Unchanged(a, append(same, pulled(1, "", 9, 1))) {
		t.Error("a grade that differs from the initial one counts as no change")
	}
	if observed.Unchanged(a, append(same, observed.Sample{Batch: 1, PlannedMonths: 9, Censor: study.AboveThat, InWindow: true})) {
		t.Error("a censored value counts as no change")
	}
	if observed.Unchanged(a, append(same, pulled(2, "", 9, 0))) {
		t.Error("a batch without an initial grade counts as no change")
	}
}

func TestFailureDoesNotDependOnOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 20).Draw(t, "n")
		samples := make([]observed.Sample, n)
		for i := range samples {
			samples[i] = pulled(rapid.IntRange(0, 2).Draw(t, "batch"), rapid.StringMatching("[a-c]").Draw(t, "unit"),
				float64(3*rapid.IntRange(0, 6).Draw(t, "pull")), float64(rapid.IntRange(0, 3).Draw(t, "grade")))
		}
		shuffled := rapid.Permutation(samples).Draw(t, "order")
		a, b := observed.Judge(grade(2), samples), observed.Judge(grade(2), shuffled)
		if a.Life != b.Life || (a.Failure == nil) != (b.Failure == nil) {
			t.Fatalf("life %v and %v", a.Life, b.Life)
		}
		if a.Failure != nil && samples[a.Failure.Sample] != shuffled[b.Failure.Sample] {
			t.Fatalf("first failure %+v and %+v", samples[a.Failure.Sample], shuffled[b.Failure.Sample])
		}
		// A tighter criterion never lengthens the life.
		if tight := observed.Judge(grade(1), samples); tight.Life > a.Life {
			t.Fatalf("life %v with grade 2 allowed, %v with grade 1", a.Life, tight.Life)
		}
	})
}
