package words

import (
	"strings"
	"testing"

	"shelfspan/study"
)

// What was changed of a result is said of its value, a day, the tare, or of its place
// in the analysis; a day that was not there is said so.
func TestChange(t *testing.T) {
	d := &study.Dataset{
		Study: &study.Study{Batches: []study.Batch{{ID: "B1"}}, Packs: []study.Pack{{}}, Conditions: []study.Condition{{ID: "25C60"}},
			Attributes: []study.Attribute{{ID: "assay"}}},
		Texts: []string{"", "1"},
	}
	r := study.Result{Unit: 1, Planned: study.Duration{N: 3, Unit: study.Months}}
	change := func(kind study.ChangeKind, part study.Part, before, after string) study.Change {
		return study.Change{ID: "R4-2-assay-C", Kind: kind, Part: part, Result: r, Before: before, After: after, Event: 7}
	}
	for _, c := range []struct {
		change            study.Change
		says, kind, state string
	}{
		{change(study.Amended, study.PartValue, "99.1", "98.9"), "98.9, was 99.1.", "amended", "amended to 98.9, was 99.1"},
		{change(study.Amended, study.PartPulled, "2026-05-02", "2026-04-02"), "pulled on 2026-04-02, was 2026-05-02.", "amended: day pulled", "amended: pulled on 2026-04-02, was 2026-05-02"},
		{change(study.Amended, study.PartTested, "", "2026-04-02"), "tested on 2026-04-02, was not stated.", "amended: day tested", "amended: tested on 2026-04-02, was not stated"},
		{change(study.Amended, study.PartTare, "9.4", "9.5"), "tare 9.5 g, was 9.4.", "amended: tare, g", "amended: tare 9.5 g, was 9.4"},
		{change(study.Excluded, "", "98.9", ""), "98.9, excluded from the analysis.", "excluded", "98.9 excluded"},
		{change(study.Restored, "", "98.9", ""), "98.9, put back into the analysis.", "restored", "98.9 put back"},
	} {
		if got, want := Change(d, &c.change), "R4-2-assay-C, assay of B1 at 25C60, 3M, unit 1: "+c.says; got != want {
			t.Errorf("%s, want %s", got, want)
		}
		if got := ChangeKind(&c.change); got != c.kind {
			t.Errorf("%s, want %s", got, c.kind)
		}
		if got, want := ChangesOf([]study.Change{c.change}), c.state; !strings.HasPrefix(got, want) {
			t.Errorf("%s, want %s", got, want)
		}
	}
	day := change(study.Amended, study.PartPulled, "2026-05-02", "2026-04-02")
	other := change(study.Amended, study.PartPulled, "2026-05-03", "2026-04-02")
	if got := Together(d, []study.Change{day, day, other, day}); len(got) != 4 || got[2] != Change(d, &other) {
		t.Errorf("%q", got)
	}
	want := "4 results (R4-2-assay-C, R4-2-assay-C, R4-2-assay-C, R4-2-assay-C): pulled on 2026-04-02, was 2026-05-02."
	if got := Together(d, []study.Change{other, day, day, day, day}); len(got) != 2 || got[1] != want {
		t.Errorf("%q", got)
	}
	event := study.Event{Kind: study.EventAmendRows, Subject: "SB-25C60-3M", Reason: "mistyped",
		Detail: `{"part":"pulled","after":"2026-04-02","touched":[{"table":3,"line":2,"attribute":"assay","before":"2026-05-02"},{"table":3,"line":3,"attribute":"assay"}]}`}
	if got, want := Event(&event), "SB-25C60-3M: pulled on 2026-04-02, was 2026-05-02 or not stated, of 2 results. Reason: mistyped"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// A reason makes no deviation.
func TestPullReason(t *testing.T) {
	for want, r := range map[string]study.PullRecord{
		"":               {},
		"Reason: spring": {Reason: "spring"},
		"A deviation: 2 days after its window closed. Reason: locked":                             {Reason: "locked", Outside: 2},
		"A deviation: 1 day before its window opened. Reason: holidays":                           {Reason: "holidays", Outside: -1},
		"A deviation: other units than planned. Reason: one leaked":                               {Reason: "one leaked", Other: true},
		"A deviation: 2 days after its window closed, and other units than planned. Reason: both": {Reason: "both", Outside: 2, Other: true},
	} {
		if got := PullReason(&r); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
