package schedule_test

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// results gives one result of each attribute for one batch at one planned time.
func results(s *study.Study, condition, batch int, planned study.Duration, pulled study.Date) []study.Result {
	var out []study.Result
	for j := range s.Attributes {
		out = append(out, study.Result{
			Condition: int16(condition), Batch: uint16(batch), Attribute: uint16(j), Planned: planned, Pulled: pulled, Tested: study.NoDate, InWindow: true,
		})
	}
	return out
}

// TestStatus plays the first half-year of the balm: time zero done, B1 pulled
// at 3M on its day, B2 four days after its window closed on 2025-04-20, B3
// never; the 6M pull of 40C75 done two days early, before its window.
func TestStatus(t *testing.T) {
	s := balm(t)
	p := schedule.Plan(s)
	d := &study.Dataset{Study: s, Texts: []string{""}}
	three, six := times(t, "3M")[0], times(t, "6M")[0]
	for b := range s.Batches {
		d.Results = append(d.Results, results(s, -1, b, study.Duration{}, study.NoDate)...)
	}
	d.Results = append(d.Results, results(s, 0, 0, three, day(t, "2025-04-14"))...)
	d.Results = append(d.Results, results(s, 0, 1, three, day(t, "2025-04-24"))...)
	d.Results = append(d.Results, results(s, 1, 0, six, day(t, "2025-07-04"))[:1]...)
	// Off the plan: it matches no line, but tells that 2025-07-21 has come, the
	// day after the windows of 6M closed.
	d.Results = append(d.Results, study.Result{Condition: 0, Planned: study.Duration{}, Pulled: day(t, "2025-07-21"), OffPlan: true})

	if got := schedule.AsOf(p, d).String(); got != "2025-07-21" {
		t.Errorf("as of %s, want 2025-07-21", got)
	}
	all := schedule.Status(s, p, d)
	lines := 0
	for i := range p.Pulls {
		lines += len(p.Pulls[i].Lines)
	}
	if len(all) != lines {
		t.Fatalf("%d statuses of %d lines", len(all), lines)
	}
	of := func(id string) []schedule.PullStatus {
		i := slices.IndexFunc(p.Pulls, func(x schedule.Pull) bool { return x.ID == id })
		return schedule.Of(all, i)
	}
	none := study.NoDate
	status := func(id string, line int, want schedule.PullStatus) {
		t.Helper()
		got := of(id)[line]
		want.Pull, want.Line = got.Pull, line
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s line %d: %s", id, line, diff)
		}
	}
	everything := []int{0, 1, 2, 3}
	for b := range s.Batches {
		status("MB-26-T0", b, schedule.PullStatus{State: schedule.Done, Results: 4, First: none, Last: none})
	}
	on := day(t, "2025-04-14")
	status("MB-26-25C60-3M", 0, schedule.PullStatus{State: schedule.Done, Results: 4, First: on, Last: on})
	late := day(t, "2025-04-24")
	status("MB-26-25C60-3M", 1, schedule.PullStatus{State: schedule.Done, Results: 4, First: late, Last: late, Outside: 4})
	status("MB-26-25C60-3M", 2, schedule.PullStatus{State: schedule.Missing, First: none, Last: none, Untested: everything})
	early := day(t, "2025-07-04")
	status("MB-26-40C75-6M", 0, schedule.PullStatus{State: schedule.Partial, Results: 1, First: early, Last: early, Outside: -2, Untested: []int{1, 2, 3}})
	status("MB-26-25C60-6M", 0, schedule.PullStatus{State: schedule.Missing, First: none, Last: none, Untested: everything})
	// On the last day of its window a pull is not yet missing.
	d.Results[len(d.Results)-1].Pulled = day(t, "2025-07-20")
	before := all
	all = schedule.Status(s, p, d)
	status("MB-26-25C60-6M", 0, schedule.PullStatus{State: schedule.Open, First: none, Last: none, Untested: everything})
	all = before
	status("MB-26-25C60-9M", 0, schedule.PullStatus{State: schedule.Open, First: none, Last: none, Untested: everything})
}

// TestStatusWithoutDays: results that state only planned times count as pulled
// on the planned date, so 1M, with its window closed on 2025-02-16, is missing
// once 3M (2025-04-14) has results, and 3M of another batch is still open.
func TestStatusWithoutDays(t *testing.T) {
	s := balm(t)
	p := schedule.Plan(s)
	d := &study.Dataset{Study: s, Texts: []string{""}, Results: results(s, 1, 0, times(t, "3M")[0], study.NoDate)}
	if got := schedule.AsOf(p, d).String(); got != "2025-04-14" {
		t.Errorf("as of %s, want 2025-04-14", got)
	}
	want := map[string]schedule.State{"MB-26-40C75-1M": schedule.Missing, "MB-26-40C75-3M": schedule.Open, "MB-26-40C75-6M": schedule.Open}
	for _, x := range schedule.Status(s, p, d) {
		if state, ok := want[p.Pulls[x.Pull].ID]; ok && p.Pulls[x.Pull].Lines[x.Line].Batch == 1 && x.State != state {
			t.Errorf("%s is %s, want %s", p.Pulls[x.Pull].ID, x.State, state)
		}
	}
}

// TestStatusWithoutResults: with nothing to go by, nothing is missing.
func TestStatusWithoutResults(t *testing.T) {
	s := balm(t)
	p := schedule.Plan(s)
	d := &study.Dataset{Study: s, Texts: []string{""}}
	for _, x := range schedule.Status(s, p, d) {
		if x.State != schedule.Open {
			t.Errorf("%s is %s", p.Pulls[x.Pull].ID, x.State)
		}
	}
}

// A pull is what all of its lines are; where they differ, something was tested or
// nothing was.
func TestTogether(t *testing.T) {
	for want, lists := range map[schedule.State][][]schedule.State{
		schedule.Done: {{schedule.Done}, {schedule.Done, schedule.Done}}, schedule.Open: {{schedule.Open, schedule.Open}}, schedule.Missing: {{schedule.Missing}, {schedule.Missing, schedule.Open}},
		schedule.Partial: {{schedule.Partial}, {schedule.Done, schedule.Open}, {schedule.Done, schedule.Missing}, {schedule.Missing, schedule.Partial, schedule.Open}},
	} {
		for _, states := range lists {
			var lines []schedule.PullStatus
			for _, s := range states {
				lines = append(lines, schedule.PullStatus{State: s})
			}
			if got := schedule.Together(lines); got != want {
				t.Errorf("%v together are %s, want %s", states, got, want)
			}
		}
	}
}
