package schedule_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// TestDates compares a whole schedule with dates taken from a printed calendar:
// 2025-04-13 is a Sunday, a day from Monday 14 and two from Friday 11;
// 2025-07-13 a Sunday; 2025-10-13 a Monday; 2026-01-13 a Tuesday; 2026-07-13 a
// Monday; 2027-01-13 a Wednesday; 2028-01-13 a Thursday; 2025-02-13 a Thursday.
func TestDates(t *testing.T) {
	p := schedule.Plan(balm(t))
	var got []string
	for i := range p.Pulls {
		x := &p.Pulls[i]
		got = append(got, fmt.Sprintf("%s due %s on %s window %s %s", x.ID, x.Due, x.Date, x.Earliest, x.Latest))
	}
	want := []string{
		"MB-26-T0 due 2025-01-13 on 2025-01-13 window 2025-01-10 2025-01-16",
		"MB-26-40C75-1M due 2025-02-13 on 2025-02-13 window 2025-02-10 2025-02-16",
		"MB-26-25C60-3M due 2025-04-13 on 2025-04-14 window 2025-04-06 2025-04-20",
		"MB-26-40C75-3M due 2025-04-13 on 2025-04-14 window 2025-04-06 2025-04-20",
		"MB-26-25C60-6M due 2025-07-13 on 2025-07-14 window 2025-07-06 2025-07-20",
		"MB-26-40C75-6M due 2025-07-13 on 2025-07-14 window 2025-07-06 2025-07-20",
		"MB-26-25C60-9M due 2025-10-13 on 2025-10-13 window 2025-10-06 2025-10-20",
		"MB-26-25C60-12M due 2026-01-13 on 2026-01-13 window 2026-01-06 2026-01-20",
		"MB-26-25C60-18M due 2026-07-13 on 2026-07-13 window 2026-06-29 2026-07-27",
		"MB-26-25C60-24M due 2027-01-13 on 2027-01-13 window 2026-12-30 2027-01-27",
		"MB-26-25C60-36M due 2028-01-13 on 2028-01-13 window 2027-12-30 2028-01-27",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// TestShift moves single due days by each rule.
func TestShift(t *testing.T) {
	christmas := []string{"2025-12-25", "2025-12-26", "2026-01-01", "2026-01-02"}
	for _, c := range []struct {
		name     string
		shift    study.Shift
		holidays []string
		start    string
		time     string
		due      string
		want     string
	}{
		{"a workday stays", study.ShiftNearest, nil, "2025-01-13", "1M", "2025-02-13", "2025-02-13"},
		{"Saturday to Friday", study.ShiftNearest, nil, "2025-01-15", "1M", "2025-02-15", "2025-02-14"},
		{"Sunday to Monday", study.ShiftNearest, nil, "2025-01-16", "1M", "2025-02-16", "2025-02-17"},
		{"Saturday later", study.ShiftLater, nil, "2025-01-15", "1M", "2025-02-15", "2025-02-17"},
		{"Sunday earlier", study.ShiftEarlier, nil, "2025-01-16", "1M", "2025-02-16", "2025-02-14"},
		{"Sunday left alone", study.ShiftNone, nil, "2025-01-16", "1M", "2025-02-16", "2025-02-16"},
		// Wednesday 2025-02-12 free: Tuesday and Thursday are as near, the earlier is taken.
		{"a tie goes earlier", study.ShiftNearest, []string{"2025-02-12"}, "2025-01-13", "30D", "2025-02-12", "2025-02-11"},
		// 31 December 2025 is a Wednesday and works; 1 January a Thursday and 2 a Friday, free, 3 and 4 a weekend: 31 December is 2 days from 2 January, Monday 5 is 3.
		{"over new year, back", study.ShiftNearest, christmas, "2025-12-02", "1M", "2026-01-02", "2025-12-31"},
		{"over new year, on", study.ShiftNearest, christmas, "2025-12-03", "1M", "2026-01-03", "2026-01-05"},
		{"over new year, later", study.ShiftLater, christmas, "2025-12-01", "1M", "2026-01-01", "2026-01-05"},
		// 31 January + 1 month is 28 February 2025 (a Friday), 29 February 2028 (a Tuesday).
		{"the month's last day", study.ShiftNearest, nil, "2025-01-31", "1M", "2025-02-28", "2025-02-28"},
		{"the leap day", study.ShiftNearest, nil, "2028-01-31", "1M", "2028-02-29", "2028-02-29"},
		// 29 February 2028 + 1 year is 28 February 2029, a Wednesday; + 4 years 29 February 2032, a Sunday.
		{"a year from the leap day", study.ShiftNearest, nil, "2028-02-29", "1Y", "2029-02-28", "2029-02-28"},
		{"four years from the leap day", study.ShiftNearest, nil, "2028-02-29", "4Y", "2032-02-29", "2032-03-01"},
		{"weeks are days", study.ShiftNearest, nil, "2025-01-13", "6W", "2025-02-24", "2025-02-24"},
		// Placed on Friday, due on Saturday: Friday is the day the samples went in.
		{"never before storage", study.ShiftNearest, nil, "2025-01-10", "1D", "2025-01-11", "2025-01-13"},
		{"never before storage, earlier", study.ShiftEarlier, nil, "2025-01-10", "2D", "2025-01-12", "2025-01-13"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := balm(t)
			s.Start = day(t, c.start)
			s.Calendar.Shift = c.shift
			for _, h := range c.holidays {
				s.Calendar.Holidays = append(s.Calendar.Holidays, day(t, h))
			}
			s.Conditions[0].Pulls = times(t, c.time)
			p := pullOf(t, schedule.Plan(s), "MB-26-25C60-"+c.time)
			if p.Due.String() != c.due || p.Date.String() != c.want {
				t.Errorf("due %s on %s, want due %s on %s", p.Due, p.Date, c.due, c.want)
			}
		})
	}
}

// TestCycles: 5 cycles of 30 hours are 150 hours, 6.25 days, so the seventh day
// after Monday 2025-01-13, Monday 20; 150/24/30.4375 = 0.20534 months.
func TestCycles(t *testing.T) {
	s := balm(t)
	s.Conditions = append(s.Conditions, study.Condition{ID: "FT", Role: study.Cycling, Chamber: -1, CycleHours: 30, Pulls: times(t, "5C")})
	x := pullOf(t, schedule.Plan(s), "MB-26-FT-5C")
	if x.Date.String() != "2025-01-20" || fmt.Sprintf("%.5f", x.Months) != "0.20534" {
		t.Errorf("on %s, %v months", x.Date, x.Months)
	}
	if x.Latest-x.Due != 3 {
		t.Errorf("window of %d days, want the 3 of times up to a month", x.Latest-x.Due)
	}
}

// TestUnits counts by hand. A pull opens 4 + 2 = 6 units of an arm, on which
// the 3 for pH are found; 4 more are returned. At 25C60 an arm stores
// 7 × 6 + 4 = 46, at 40C75 3 × 6 + 4 = 22; three arms each, 138 + 66 = 204.
// Reserves: 10 % of 46 is 4.6, so 5; of 22 is 2.2, so 3; 3 × 8 = 24. Time zero
// opens 3 × 6 = 18 and measures the 2 × 4 = 8 returned units of each batch.
// Needed are 18 + 204 = 222; retained 3 × 5 = 15; to fill 222 + 24 + 15 = 261.
func TestUnits(t *testing.T) {
	p := schedule.Plan(balm(t))
	want := schedule.Units{Initial: 18, Stored: 204, Reserve: 24, Retained: 15, ByCondition: []int{138, 66}}
	if diff := cmp.Diff(want, p.Units); diff != "" {
		t.Error(diff)
	}
	if p.Units.Needed() != 222 || p.Units.Total() != 261 {
		t.Errorf("needed %d, total %d; want 222, 261", p.Units.Needed(), p.Units.Total())
	}
	x := pullOf(t, p, "MB-26-25C60-3M")
	if x.Units() != 18 || x.Returned() != 12 || len(x.Lines) != 3 {
		t.Errorf("3M opens %d and returns %d in %d lines; want 18, 12, 3", x.Units(), x.Returned(), len(x.Lines))
	}
	zero := pullOf(t, p, "MB-26-T0")
	if diff := cmp.Diff(schedule.Line{Batch: 1, Orientation: 0, Units: 6, Returned: 8, Attributes: []int{0, 1, 2, 3}}, zero.Lines[1]); diff != "" {
		t.Error(diff)
	}
	wantShare := schedule.Share{Batch: 0, Pack: 0, Initial: 6, Stored: 68, Reserve: 8, Retained: 5}
	if diff := cmp.Diff(wantShare, p.Shares()[0]); diff != "" {
		t.Error(diff)
	}
}

// TestSampling counts the units of one pull of one arm.
func TestSampling(t *testing.T) {
	for _, c := range []struct {
		name             string
		attributes       []study.Attribute
		opened, returned int
	}{
		{"destructive tests add up", []study.Attribute{attribute("a", study.Destructive, 4), attribute("b", study.Destructive, 2)}, 6, 0},
		{"shared on opened units", []study.Attribute{attribute("a", study.Destructive, 4), attribute("b", study.Shared, 3)}, 4, 0},
		{"shared adds what is short", []study.Attribute{attribute("a", study.Destructive, 4), attribute("b", study.Shared, 6)}, 6, 0},
		{"shared tests share", []study.Attribute{attribute("a", study.Shared, 2), attribute("b", study.Shared, 3)}, 3, 0},
		{"shared does not open returned units", []study.Attribute{attribute("a", study.Returned, 5), attribute("b", study.Shared, 2)}, 2, 5},
		{"returned tests have their own", []study.Attribute{attribute("a", study.Returned, 5), attribute("b", study.Returned, 2)}, 0, 7},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := balm(t)
			s.Attributes = c.attributes
			p := schedule.Plan(s)
			l := pullOf(t, p, "MB-26-25C60-6M").Lines[0]
			if l.Units != c.opened || l.Returned != c.returned {
				t.Errorf("opens %d, returns %d; want %d, %d", l.Units, l.Returned, c.opened, c.returned)
			}
			// Seven pulls after time zero at 25C60, the returned units once.
			if got, want := p.Arms[0].Stored(), 7*c.opened+c.returned; got != want {
				t.Errorf("the arm stores %d, want %d", got, want)
			}
		})
	}
}

// TestRestrictions: viscosity only at 25C60, weighing only in the jar.
func TestRestrictions(t *testing.T) {
	s := balm(t)
	s.Packs = append(s.Packs, study.Pack{ID: "jar", Orientations: []study.Orientation{study.Upright, study.Inverted}})
	s.Attributes[1].Conditions = []int{0}
	s.Attributes[3].Packs = []int{1}
	p := schedule.Plan(s)
	want := []schedule.Line{
		{Batch: 0, Pack: 0, Orientation: 0, Units: 4, Attributes: []int{0, 2}},
		{Batch: 0, Pack: 1, Orientation: 0, Units: 4, Returned: 4, Attributes: []int{0, 2, 3}},
		{Batch: 0, Pack: 1, Orientation: 1, Units: 4, Returned: 4, Attributes: []int{0, 2, 3}},
	}
	if diff := cmp.Diff(want, pullOf(t, p, "MB-26-40C75-3M").Lines[:3]); diff != "" {
		t.Error(diff)
	}
	// Time zero: once for each batch and pack; the jar's returned units are those
	// of two conditions and two orientations, 4 × 4 = 16.
	want = []schedule.Line{
		{Batch: 0, Pack: 0, Orientation: 0, Units: 6, Attributes: []int{0, 1, 2}},
		{Batch: 0, Pack: 1, Orientation: -1, Units: 6, Returned: 16, Attributes: []int{0, 1, 2, 3}},
	}
	if diff := cmp.Diff(want, pullOf(t, p, "MB-26-T0").Lines[:2]); diff != "" {
		t.Error(diff)
	}
}

// TestTimeZeroOnlyWhereListed: an attribute tested only at a condition that
// does not list 0 is not measured at time zero, and the plan says so.
func TestTimeZeroOnlyWhereListed(t *testing.T) {
	s := balm(t)
	s.Conditions[1].Pulls = times(t, "1M", "3M", "6M")
	s.Attributes[1].Conditions = []int{1}
	p := schedule.Plan(s)
	if diff := cmp.Diff([]int{0, 2, 3}, pullOf(t, p, "MB-26-T0").Lines[0].Attributes); diff != "" {
		t.Error(diff)
	}
	if got := codes(p)["no-time-zero"]; !slices.Equal(got, []string{"viscosity"}) {
		t.Errorf("no-time-zero about %q, want viscosity", got)
	}
	// The 4 returned units of the other condition are read, those of an attribute
	// tested only where 0 is not listed are not.
	s.Attributes[3].Conditions = []int{1}
	s.Attributes = append(s.Attributes, attribute("colour", study.Returned, 1))
	if got := pullOf(t, schedule.Plan(s), "MB-26-T0").Lines[0].Returned; got != 2 {
		t.Errorf("%d units returned at time zero, want 1 for colour at each of two conditions", got)
	}
	s = balm(t)
	s.Conditions[1].Pulls = times(t, "1M", "3M", "6M")
	s.Conditions[0].Pulls = times(t, "3M")
	p = schedule.Plan(s)
	if p.Pulls[0].Condition < 0 || p.Units.Initial != 0 {
		t.Errorf("no condition lists 0, but there is %s and %d initial units", p.Pulls[0].ID, p.Units.Initial)
	}
	if got := codes(p)["no-time-zero"]; !slices.Equal(got, []string{""}) {
		t.Errorf("no-time-zero about %q, want the study", got)
	}
}

// TestPlacementDays: batches placed on different days get pulls of their own,
// and those of the others keep their ids.
func TestPlacementDays(t *testing.T) {
	s := balm(t)
	before := schedule.Plan(s)
	s.Batches[1].Placed = s.Start // the same day, stated
	s.Batches[2].Placed = day(t, "2025-02-17")
	p := schedule.Plan(s)
	if len(p.Pulls) != 2*len(before.Pulls) {
		t.Fatalf("%d pulls, want twice %d", len(p.Pulls), len(before.Pulls))
	}
	for i := range before.Pulls {
		if x := pullOf(t, p, before.Pulls[i].ID); len(x.Lines) != 2 || x.Date != before.Pulls[i].Date {
			t.Errorf("%s has %d lines on %s", x.ID, len(x.Lines), x.Date)
		}
	}
	// 17 February + 3 months is Saturday 17 May 2025, Friday 16 is nearest.
	x := pullOf(t, p, "MB-26-25C60-3M-20250217")
	if x.Date.String() != "2025-05-16" || len(x.Lines) != 1 || x.Lines[0].Batch != 2 {
		t.Errorf("%+v", x)
	}
	if x := pullOf(t, p, "MB-26-T0-20250217"); x.Date.String() != "2025-02-17" || len(x.Lines) != 1 {
		t.Errorf("%+v", x)
	}
	// The claim waits for the last batch: 2025-02-17 + 18 months is Monday 2026-08-17.
	if got := p.Claim.Support.Date.String(); got != "2026-08-17" {
		t.Errorf("claim on %s, want 2026-08-17", got)
	}
}

// TestIDsStay: the ids of pulls are the same after conditions, times and
// batches are added around them.
func TestIDsStay(t *testing.T) {
	s := balm(t)
	before := schedule.Plan(s)
	s.Conditions[0].Pulls = append(times(t, "1M", "48M"), s.Conditions[0].Pulls...)
	s.Conditions = slices.Insert(s.Conditions, 0, study.Condition{ID: "5C", Role: study.LongTerm, Temperature: 5, Chamber: -1, Pulls: times(t, "0", "3M")})
	s.Batches = slices.Insert(s.Batches, 0, study.Batch{ID: "B0", Placed: day(t, "2024-12-02")})
	after := schedule.Plan(s)
	for i := range before.Pulls {
		pullOf(t, after, before.Pulls[i].ID)
	}
}

// TestLoad follows chamber A by hand: three arms of 46 + 5 = 51 units, 153 at
// the start; each of the seven pulls takes 18; 153 − 126 = 27 stay, the three
// arms' 4 returned and 5 reserve units.
func TestLoad(t *testing.T) {
	p := schedule.Plan(balm(t))
	want := []schedule.Load{{
		Chamber: 0, Peak: 153, PeakDate: day(t, "2025-01-13"),
		Levels: []schedule.Level{
			{day(t, "2025-01-13"), 153, 153}, {day(t, "2025-04-14"), 153, 135}, {day(t, "2025-07-14"), 135, 117},
			{day(t, "2025-10-13"), 117, 99}, {day(t, "2026-01-13"), 99, 81}, {day(t, "2026-07-13"), 81, 63},
			{day(t, "2027-01-13"), 63, 45}, {day(t, "2028-01-13"), 45, 27},
		},
	}}
	if diff := cmp.Diff(want, p.Chambers); diff != "" {
		t.Error(diff)
	}
	for on, units := range map[string]int{"2025-01-12": 0, "2025-01-13": 153, "2025-04-13": 153, "2025-04-14": 135, "2030-01-01": 27} {
		if got := p.Chambers[0].On(day(t, on)); got != units {
			t.Errorf("%d units on %s, want %d", got, on, units)
		}
	}
}

// TestOverCapacity: 153 units in a chamber for 117 are 36 too many; after the
// 6M pull 117 are left, and it is just full.
func TestOverCapacity(t *testing.T) {
	s := balm(t)
	s.Chambers[0].Capacity = 117
	var got []string
	for _, w := range schedule.Plan(s).Warnings {
		if w.Code == "chamber-over-capacity" {
			got = append(got, w.String())
		}
	}
	want := []string{"chamber A: would hold 153 units on 2025-01-13, 36 more than its capacity of 117; over it from 2025-01-13, it is within its capacity again after the pulls of 2025-07-14."}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	s.Chambers[0].Capacity = 153
	if got := codes(schedule.Plan(s))["chamber-over-capacity"]; got != nil {
		t.Errorf("a chamber that is just full is warned of")
	}
}

// TestLaterBatchRaisesThePeak: the third batch comes when the others have had
// two pulls: 2 × 51 − 2 × 12 = 78, and 51 more are 129 on 2025-08-04; before,
// 102 were held.
func TestLaterBatchRaisesThePeak(t *testing.T) {
	s := balm(t)
	s.Batches[2].Placed = day(t, "2025-08-04")
	l := schedule.Plan(s).Chambers[0]
	if l.Peak != 129 || l.PeakDate.String() != "2025-08-04" {
		t.Errorf("peak %d on %s, want 129 on 2025-08-04", l.Peak, l.PeakDate)
	}
}

func TestReserve(t *testing.T) {
	// 22 units stored: 10 % is 2.2; 50 % is 11 and not rounded up; 0.1 % is one unit.
	for percent, want := range map[float64]int{0: 0, 10: 3, 50: 11, 100: 22, 0.1: 1} {
		s := balm(t)
		s.Samples.ReservePercent = percent
		p := schedule.Plan(s)
		if got := p.Arms[3].Reserve; got != want {
			t.Errorf("%v %% of %d: %d, want %d", percent, p.Arms[3].Stored(), got, want)
		}
	}
	// 375 × 8.8 / 100 is 33.00000000000001 in floating point, and 33 units all the same.
	s := balm(t)
	s.Samples.ReservePercent = 8.8
	s.Attributes = []study.Attribute{attribute("a", study.Returned, 375)}
	if got := schedule.Plan(s).Arms[0].Reserve; got != 33 {
		t.Errorf("8.8 %% of 375: %d", got)
	}
}

// TestNoWorkday: a calendar without a day of work leaves the due days and says so.
func TestNoWorkday(t *testing.T) {
	s := balm(t)
	s.Calendar.Workdays = [7]bool{}
	p := schedule.Plan(s)
	for i := range p.Pulls {
		if p.Pulls[i].Shifted() != 0 {
			t.Errorf("%s moved to %s", p.Pulls[i].ID, p.Pulls[i].Date)
		}
	}
	if got := len(codes(p)["no-workday"]); got != len(p.Pulls) {
		t.Errorf("%d warnings for %d pulls", got, len(p.Pulls))
	}
}

// TestSundayStart: samples placed on a Sunday are tested on Monday.
func TestSundayStart(t *testing.T) {
	s := balm(t)
	s.Start = day(t, "2025-01-12")
	p := schedule.Plan(s)
	if x := pullOf(t, p, "MB-26-T0"); x.Due.String() != "2025-01-12" || x.Date.String() != "2025-01-13" {
		t.Errorf("due %s on %s", x.Due, x.Date)
	}
	if codes(p)["start-not-workday"] == nil {
		t.Error("no warning of it")
	}
	if x := pullOf(t, p, "MB-26-25C60-9M"); x.Due.Time().Weekday() != time.Sunday || x.Due.String() != "2025-10-12" {
		t.Errorf("9M is due on %s; time zero is the day of placing, not of testing", x.Due)
	}
}
