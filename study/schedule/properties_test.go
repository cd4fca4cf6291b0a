package schedule_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// anyStudy draws a study with what the schedule depends on.
func anyStudy(r *rapid.T) *study.Study {
	start := study.NewDate(2024, time.January, 1)
	s := &study.Study{
		ID: "S", Start: start + study.Date(rapid.IntRange(0, 1500).Draw(r, "start")), StoreAt: 0, Rules: study.ICHQ1E,
		Claim: study.Duration{N: int32(rapid.IntRange(0, 60).Draw(r, "claim")), Unit: study.Months},
	}
	for d := range s.Calendar.Workdays {
		s.Calendar.Workdays[d] = rapid.Bool().Draw(r, "workday")
	}
	s.Calendar.Workdays[rapid.IntRange(0, 6).Draw(r, "one workday")] = true
	day := start
	for range rapid.IntRange(0, 40).Draw(r, "holidays") {
		day += study.Date(rapid.IntRange(1, 60).Draw(r, "next holiday"))
		s.Calendar.Holidays = append(s.Calendar.Holidays, day)
	}
	s.Calendar.Shift = rapid.SampledFrom([]study.Shift{study.ShiftNearest, study.ShiftEarlier, study.ShiftLater, study.ShiftNone}).Draw(r, "shift")
	s.Calendar.Windows = []study.Window{{UpTo: study.Duration{N: 12, Unit: study.Months}, Days: rapid.IntRange(0, 7).Draw(r, "window")}}
	s.Samples = study.Samples{ReservePercent: rapid.Float64Range(0, 50).Draw(r, "reserve"), Retain: rapid.IntRange(0, 9).Draw(r, "retain")}
	for i := range rapid.IntRange(0, 2).Draw(r, "chambers") {
		s.Chambers = append(s.Chambers, study.Chamber{ID: fmt.Sprint("ch", i), Capacity: rapid.IntRange(0, 300).Draw(r, "capacity")})
	}
	duration := rapid.Custom(func(r *rapid.T) study.Duration {
		n := int32(rapid.IntRange(0, 60).Draw(r, "n"))
		if n == 0 {
			return study.Duration{}
		}
		return study.Duration{N: n, Unit: rapid.SampledFrom([]study.Unit{study.Days, study.Weeks, study.Months}).Draw(r, "unit")}
	})
	roles := []study.Role{study.LongTerm, study.Intermediate, study.Accelerated, study.Stress}
	for i := range rapid.IntRange(1, 4).Draw(r, "conditions") {
		s.Conditions = append(s.Conditions, study.Condition{
			ID: fmt.Sprint("c", i), Role: rapid.SampledFrom(roles).Draw(r, "role"), Temperature: rapid.Float64Range(-20, 60).Draw(r, "celsius"),
			Humidity: math.NaN(), Pulls: rapid.SliceOfN(duration, 0, 8).Draw(r, "pulls"),
			Chamber: rapid.IntRange(-1, len(s.Chambers)-1).Draw(r, "chamber"),
		})
	}
	for i := range rapid.IntRange(1, 4).Draw(r, "batches") {
		placed := study.NoDate
		if rapid.Bool().Draw(r, "placed") {
			placed = s.Start + study.Date(rapid.IntRange(-20, 200).Draw(r, "days"))
		}
		s.Batches = append(s.Batches, study.Batch{ID: fmt.Sprint("B", i), Placed: placed})
	}
	for i := range rapid.IntRange(1, 3).Draw(r, "packs") {
		all := []study.Orientation{study.Upright, study.Inverted, study.Horizontal}
		s.Packs = append(s.Packs, study.Pack{ID: fmt.Sprint("p", i), Orientations: all[:rapid.IntRange(1, 3).Draw(r, "orientations")]})
	}
	subset := func(n int, name string) []int {
		if rapid.Bool().Draw(r, name+" unrestricted") {
			return nil
		}
		out := []int{}
		for i := range n {
			if rapid.Bool().Draw(r, name) {
				out = append(out, i)
			}
		}
		return out
	}
	for i := range rapid.IntRange(0, 4).Draw(r, "attributes") {
		a := attribute(fmt.Sprint("a", i), rapid.SampledFrom([]study.Sampling{study.Destructive, study.Shared, study.Returned}).Draw(r, "sampling"),
			rapid.IntRange(1, 6).Draw(r, "units"))
		a.Conditions, a.Packs = subset(len(s.Conditions), "conditions"), subset(len(s.Packs), "packs")
		s.Attributes = append(s.Attributes, a)
	}
	return s
}

// works tells a day of work from the study alone.
func works(s *study.Study, d study.Date) bool {
	for _, h := range s.Calendar.Holidays {
		if h == d {
			return false
		}
	}
	return s.Calendar.Workdays[d.Weekday()]
}

func TestDatesKeepTheCalendar(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := anyStudy(r)
		p := schedule.Plan(s)
		warned := make(map[string]bool)
		for _, w := range p.Warnings {
			if w.Code == "outside-window" {
				warned[w.Where] = true
			}
		}
		ids := make(map[string]bool)
		last := study.NoDate
		for i := range p.Pulls {
			x := &p.Pulls[i]
			if ids[x.ID] {
				r.Fatalf("two pulls are called %s", x.ID)
			}
			ids[x.ID] = true
			if x.Date < last {
				r.Fatalf("%s on %s stands after %s", x.ID, x.Date, last)
			}
			last = x.Date
			if s.Calendar.Shift == study.ShiftNone {
				if x.Date != x.Due {
					r.Fatalf("%s is shifted from %s to %s", x.ID, x.Due, x.Date)
				}
				continue
			}
			if !works(s, x.Date) {
				r.Fatalf("%s falls on %s, a day without work", x.ID, x.Date)
			}
			if x.Condition >= 0 && x.Date <= x.Placed && x.Due > x.Placed {
				r.Fatalf("%s is pulled on %s, before it was stored on %s", x.ID, x.Date, x.Placed)
			}
			if outside := x.Date < x.Earliest || x.Date > x.Latest; outside != warned[x.ID] {
				r.Fatalf("%s on %s, window %s to %s: warned %v", x.ID, x.Date, x.Earliest, x.Latest, warned[x.ID])
			}
			// No day of work that the rule prefers was passed over.
			first := x.Placed + 1
			if x.Condition < 0 {
				first = math.MinInt32
			}
			for d := x.Due - 70; d <= x.Due+70; d++ {
				if d < first || !works(s, d) || d == x.Date {
					continue
				}
				near, far := distance(d, x.Due), distance(x.Date, x.Due)
				better := false
				switch s.Calendar.Shift {
				case study.ShiftNearest:
					better = near < far || near == far && d < x.Date
				case study.ShiftEarlier:
					better = d <= x.Due && (x.Date > x.Due || near < far)
				case study.ShiftLater:
					better = d >= x.Due && (x.Date < x.Due || near < far)
				}
				if better {
					r.Fatalf("%s due %s goes to %s, though %s works", x.ID, x.Due, x.Date, d)
				}
			}
		}
	})
}

func distance(a, b study.Date) study.Date { return max(a-b, b-a) }

// TestUnitsAreConserved: what is stored is what pulls open and what is
// returned; chambers end with the returned and the reserve; the shares, arms
// and conditions add up to the same.
func TestUnitsAreConserved(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := anyStudy(r)
		p := schedule.Plan(s)
		opened, initial, byCondition := 0, 0, 0
		for i := range p.Pulls {
			if p.Pulls[i].Condition < 0 {
				initial += p.Pulls[i].Units()
			} else {
				opened += p.Pulls[i].Units()
			}
		}
		returned, reserve := 0, 0
		left := make([]int, len(s.Chambers))
		for i := range p.Arms {
			a := &p.Arms[i]
			returned += a.Returned
			reserve += a.Reserve
			if c := s.Conditions[a.Condition].Chamber; c >= 0 {
				left[c] += a.Returned + a.Reserve
			}
			if least := float64(a.Stored()) * s.Samples.ReservePercent / 100; float64(a.Reserve) < least-1e-6 || float64(a.Reserve) >= least+1 {
				r.Fatalf("a reserve of %d for %v", a.Reserve, least)
			}
		}
		for _, n := range p.Units.ByCondition {
			byCondition += n
		}
		if p.Units.Stored != opened+returned || p.Units.Stored != byCondition || p.Units.Initial != initial || p.Units.Reserve != reserve {
			r.Fatalf("%+v; pulls open %d and %d, arms return %d and reserve %d", p.Units, initial, opened, returned, reserve)
		}
		total := 0
		for _, x := range p.Shares() {
			total += x.Total()
		}
		if total != p.Units.Total() {
			r.Fatalf("shares add up to %d, the study to %d", total, p.Units.Total())
		}
		for c := range p.Chambers {
			l := &p.Chambers[c]
			peak := 0
			for i, v := range l.Levels {
				peak = max(peak, v.Held)
				if v.Left < 0 || v.Left > v.Held || i > 0 && (v.Held < l.Levels[i-1].Left || v.Date <= l.Levels[i-1].Date) {
					r.Fatalf("levels %+v", l.Levels)
				}
			}
			if peak != l.Peak || l.On(math.MaxInt32) != left[c] {
				r.Fatalf("peak %d of %d, %d left of %d", l.Peak, peak, l.On(math.MaxInt32), left[c])
			}
			warned := false
			for _, w := range p.Warnings {
				warned = warned || w.Code == "chamber-over-capacity" && w.Where == "chamber "+s.Chambers[c].ID
			}
			if capacity := s.Chambers[c].Capacity; warned != (capacity > 0 && peak > capacity) {
				r.Fatalf("peak %d, capacity %d, warned %v", peak, capacity, warned)
			}
		}
	})
}

// TestNeededDataSuffice: X reaches the claim by its own formula, and no smaller
// planned time does.
func TestNeededDataSuffice(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := anyStudy(r)
		p := schedule.Plan(s)
		if p.Claim == nil {
			return
		}
		reach := map[string]func(x float64) float64{
			"X":                       func(x float64) float64 { return x },
			"2X, and at most X + 12":  func(x float64) float64 { return math.Min(2*x, x+12) },
			"1.5X, and at most X + 6": func(x float64) float64 { return math.Min(1.5*x, x+6) },
		}
		for _, got := range []schedule.Support{p.Claim.Support, p.Claim.AfterChange} {
			f := reach[got.Formula]
			least := math.Inf(1)
			for _, d := range s.Conditions[0].Pulls {
				if x := d.Months(0); x > 0 && f(x) >= p.Claim.Months-1e-9 {
					least = math.Min(least, x)
				}
			}
			if got.Reached != !math.IsInf(least, 1) || got.Reached && got.X != least {
				r.Fatalf("%+v for a claim of %v months; the least X is %v", got, p.Claim.Months, least)
			}
		}
	})
}

// BenchmarkPlan plans 60 monthly pulls of 48 arms.
func BenchmarkPlan(b *testing.B) {
	s := balm(b)
	s.Conditions[0].Pulls = s.Conditions[0].Pulls[:1]
	for m := int32(1); m <= 60; m++ {
		s.Conditions[0].Pulls = append(s.Conditions[0].Pulls, study.Duration{N: m, Unit: study.Months})
	}
	s.Conditions = append(s.Conditions[:1], s.Conditions[0])
	s.Conditions[1].ID = "30C65"
	s.Batches = append(s.Batches, study.Batch{ID: "B4", Placed: study.NoDate})
	all := []study.Orientation{study.Upright, study.Inverted, study.Horizontal}
	s.Packs = []study.Pack{{ID: "tube", Orientations: all}, {ID: "jar", Orientations: all}}
	b.ReportAllocs()
	for b.Loop() {
		if p := schedule.Plan(s); len(p.Arms) != 48 || len(p.Pulls) != 121 {
			b.Fatalf("%d arms, %d pulls", len(p.Arms), len(p.Pulls))
		}
	}
}
