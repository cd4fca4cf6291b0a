package chart

import (
	"math"
	"strings"
	"testing"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// TestResiduals: each sample that was fitted stands in both charts, at its time and
// at its quantile, and nothing else does.
func TestResiduals(t *testing.T) {
	d := one("assay", study.Measure, 90, math.Inf(1), 2)
	a := falling(d, "separate", 0.4, 0.2)
	over, normal, ok := Residuals(d, a)
	if !ok {
		t.Fatal("nothing is drawn")
	}
	// Of six samples a batch five were fitted; what they leave over is what falling
	// adds to its lines: 0.3 sin(7 i + b), less the 0.002 of a month by which they
	// were pulled early.
	n := 0
	for b, slope := range []float64{0.4, 0.2} {
		k := 0
		for i, m := range []float64{0, 3, 6, 9, 12, 18} {
			if i == 4 {
				continue
			}
			want := xy{m * 0.998, 0.3*math.Sin(float64(7*i+b)) - slope*0.002*m}
			if got := over.points[b].at[k]; math.Abs(got.x-want.x) > 1e-9 || math.Abs(got.y-want.y) > 1e-9 {
				t.Errorf("batch %d, %g months: %v, want %v", b, m, got, want)
			}
			if normal.points[b].at[k].y != over.points[b].at[k].y {
				t.Errorf("batch %d, %g months: another residual in the second chart", b, m)
			}
			k++
			n++
		}
		if len(over.points[b].at) != k || len(normal.points[b].at) != k {
			t.Errorf("batch %d has %d and %d marks, want %d", b, len(over.points[b].at), len(normal.points[b].at), k)
		}
	}
	if n != 10 {
		t.Fatal(n)
	}
	// The third sample that was fitted is of 6 months: 0.3 sin(14) − 0.4 · 0.012, the
	// ninth of ten: (9 − 3/8) / (10 + 1/4) = 0.841, whose quantile is 1.00.
	if got := over.points[0].says(2); got != "batch B1, 6M, pulled 1970-01-01: residual 0.292, normal quantile 1.00" {
		t.Errorf("a mark says %q", got)
	}
	if over.points[1].says(3) != normal.points[1].says(3) || !strings.HasPrefix(over.points[1].says(3), "batch B2, 9M") {
		t.Errorf("the marks of one sample say %q and %q", over.points[1].says(3), normal.points[1].says(3))
	}
	got := draws(t, over, 240, 112)
	for _, want := range []string{"residual (%)", "time in storage (months)"} {
		if !got.has(want) {
			t.Errorf("the chart lacks %q; it says %v", want, got.texts)
		}
	}
	if got := draws(t, normal, 240, 112); !got.has("normal quantile (standard deviations)") {
		t.Errorf("it says %v", got.texts)
	}
	a.Samples = a.Samples[:4]
	if _, _, ok := Residuals(d, a); ok {
		t.Error("four residuals are drawn")
	}
	if _, _, ok := Residuals(one("weight", study.Weighing, 0, 5, 2), falling(d, "pooled", 0.4, 0.2)); ok {
		t.Error("units that are weighed again and again have residuals of the mean")
	}
}

// TestPulls: a row for each condition, a mark for each pull by its state, windows,
// and the last day of the results.
func TestPulls(t *testing.T) {
	months := func(n ...int32) (out []study.Duration) {
		for _, m := range n {
			d := study.Duration{N: m, Unit: study.Months}
			if m == 0 {
				d = study.Duration{}
			}
			out = append(out, d)
		}
		return out
	}
	d := one("assay", study.Measure, 90, math.Inf(1), 1)
	s := d.Study
	s.ID, s.Start = "MB-26", study.NewDate(2025, 1, 13)
	s.Batches[0].Placed, s.Batches[0].Made = study.NoDate, study.NoDate
	s.Calendar = study.Calendar{Workdays: [7]bool{true, true, true, true, true, true, true}, Shift: study.ShiftNone, Windows: []study.Window{{UpTo: months(60)[0], Days: 7}}}
	s.Attributes[0].Units, s.Attributes[0].Sampling = 1, study.Destructive
	s.Conditions[0].Pulls, s.Conditions[0].Chamber = months(0, 3, 6, 9), -1
	s.Conditions = append(s.Conditions, study.Condition{ID: "a condition of a long name", Temperature: 40, Humidity: 75, Pulls: months(3), Chamber: -1})
	at := func(m int32, condition int16) study.Result {
		return study.Result{Planned: months(m)[0], Condition: condition, Pulled: months(m)[0].AddTo(s.Start, 0)}
	}
	d.Results = []study.Result{at(0, -1), at(3, 0), at(6, 0)}
	c, ok := Pulls(schedule.Plan(s), d)
	if !ok {
		t.Fatal("nothing is drawn")
	}
	marks := map[marker][]xy{}
	for _, p := range c.points {
		marks[p.marker] = append(marks[p.marker], p.at...)
	}
	// Days from 1970: 2025-01-13 is 20101, then 90, 181 and 273 more.
	for state, want := range map[schedule.State][]xy{
		schedule.Done: {{20101, 2}, {20191, 1}, {20282, 1}}, schedule.Missing: {{20191, 0}}, schedule.Open: {{20374, 1}}, schedule.Partial: nil,
	} {
		for _, m := range pullMarks {
			if m.state != state {
				continue
			}
			if len(marks[m.mark]) != len(want) {
				t.Fatalf("%s: %v, want %v", state, marks[m.mark], want)
			}
			for i := range want {
				if marks[m.mark][i] != want[i] {
					t.Errorf("%s: %v, want %v", state, marks[m.mark][i], want[i])
				}
			}
		}
	}
	said := map[string]bool{}
	for _, p := range c.points {
		for i := range p.at {
			said[p.says(i)] = true
		}
	}
	for _, want := range []string{"before storage, time zero, planned 2025-01-13, window 2025-01-06 to 2025-01-20: done", "25C60, 3M, planned 2025-04-13, window 2025-04-06 to 2025-04-20: done",
		"25C60, 9M, planned 2025-10-13, window 2025-10-06 to 2025-10-20: to come", "a condition of a long name, 3M, planned 2025-04-13, window 2025-04-06 to 2025-04-20: missing"} {
		if !said[want] {
			t.Errorf("no mark says %q; they say %v", want, said)
		}
	}
	if got := c.lines[1].points; got[0].x != 20191-7 || got[1].x != 20191+8 {
		t.Errorf("the window of 3M goes from %v to %v, want 7 days to both sides", got[0].x, got[1].x)
	}
	drawn := draws(t, c, 480, 120)
	for _, want := range []string{"time zero", "25C60", "a condition of a …", "results reach to 2025-07-13", "2025-04", "done", "missing", "to come", "window"} {
		if !drawn.has(want) {
			t.Errorf("the chart lacks %q; it says %v", want, drawn.texts)
		}
	}
	if drawn.has("done in part") || strings.Contains(c.Description, "NaN") {
		t.Error("the legend has a state that no pull is in")
	}
	if _, ok := Pulls(&schedule.Schedule{Study: s}, d); ok {
		t.Error("a plan without pulls is drawn")
	}
}

// TestCalendarTicks: whatever the length, months are told apart and few enough.
func TestCalendarTicks(t *testing.T) {
	first := study.NewDate(2025, 1, 31) // and 60 days on it is 2025-04-01
	for months, want := range map[int]string{0: "", 2: "2025-02 2025-03 2025-04", 15: "2025-03 2025-05 2025-07 2025-09 2025-11 2026-01 2026-03", 40: "2025-07 2026-01 2026-07 2027-01 2027-07 2028-01", 66: "2025-07 2026-01 2026-07 2027-01 2027-07 2028-01 2028-07 2029-01 2029-07 2030-01 2030-07"} {
		last := study.Date(int(first) + months*30)
		if got := texts(calendarTicks(first, last)); got != want {
			t.Errorf("%d months: %s, want %s", months, got, want)
		}
	}
	if n := len(calendarTicks(first, first+40000)); n > 12 || n < 5 {
		t.Errorf("a century has %d ticks", n)
	}
}
