package schedule_test

import (
	"slices"
	"strings"
	"testing"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// TestWarnings: what each change of a sound plan is warned of. The balm's claim
// of 30 months ends before its last pull, and nothing else is missing.
func TestWarnings(t *testing.T) {
	pulls := func(c int, list ...string) func(*study.Study) {
		return func(s *study.Study) { s.Conditions[c].Pulls = times(t, list...) }
	}
	intermediate := func(list ...string) func(*study.Study) {
		return func(s *study.Study) {
			s.Conditions = append(s.Conditions, study.Condition{ID: "30C65", Role: study.Intermediate, Temperature: 30, Chamber: -1, Pulls: times(t, list...)})
		}
	}
	for _, c := range []struct {
		name   string
		change func(*study.Study)
		code   string // "" where nothing is warned of
		where  string
		text   string // part of the text
	}{
		{"a sound plan", func(*study.Study) {}, "", "", ""},
		{"a reserve written as a part of one", func(s *study.Study) { s.Samples.ReservePercent = 0.1 }, "small-reserve", "", "reserve_percent is 0.1, less than one percent; ten percent is written as 10."},
		{"two batches", func(s *study.Study) { s.Batches = s.Batches[:2] }, "few-batches", "", "2 batches"},
		{"two bench batches of three", func(s *study.Study) { s.Batches[0].Scale, s.Batches[1].Scale = "bench", "bench" }, "bench-batches", "", "2 of 3"},
		{"one bench batch of three", func(s *study.Study) { s.Batches[0].Scale = "bench" }, "", "", ""},
		{"a gap in the first year", pulls(0, "0", "3M", "6M", "12M", "18M", "24M", "36M"), "pull-gap", "25C60", "(6M to 12M)"},
		{"a gap in the second year", pulls(0, "0", "3M", "6M", "9M", "12M", "24M", "36M"), "pull-gap", "25C60", "(12M to 24M)"},
		{"gaps past the claim do not count", pulls(0, "0", "3M", "6M", "9M", "12M", "18M", "24M", "36M", "60M"), "", "", ""},
		{"more often is no gap", pulls(0, "0", "1M", "2M", "3M", "6M", "9M", "12M", "15M", "18M", "24M", "30M", "36M"), "", "", ""},
		{"weeks near enough", pulls(0, "0", "13W", "26W", "39W", "52W", "78W", "104W", "3Y"), "", "", ""},
		{"a short claim", func(s *study.Study) {
			s.Claim = times(t, "10M")[0]
			s.Conditions[0].Pulls = times(t, "0", "6M", "10M")
		}, "", "", ""},
		{"two accelerated points", pulls(1, "0", "6M"), "pull-gap", "40C75", "2 points up to 6 months;"},
		{"accelerated too short", pulls(1, "0", "1M", "2M", "3M"), "pull-gap", "40C75", "does not reach 6 months"},
		{"three accelerated points", pulls(1, "0", "3M", "6M"), "", "", ""},
		{"time zero listed elsewhere counts", pulls(1, "3M", "6M"), "", "", ""},
		{"three intermediate points", intermediate("0", "6M", "12M"), "pull-gap", "30C65", "3 points up to 12 months;"},
		{"four intermediate points", intermediate("0", "6M", "9M", "12M"), "", "", ""},
		{"no accelerated condition", func(s *study.Study) { s.Conditions = s.Conditions[:1]; s.Claim = times(t, "24M")[0] }, "no-accelerated", "", "no condition is accelerated"},
		{"a freezer needs none", func(s *study.Study) { s.Conditions = s.Conditions[:1]; s.Conditions[0].Temperature = -20 }, "", "", ""},
		{"no long-term condition", func(s *study.Study) { s.Conditions, s.StoreAt, s.Claim = s.Conditions[1:], -1, study.Duration{} }, "no-long-term", "", "long-term"},
		{"the claim outlasts the plan", pulls(0, "0", "3M", "6M", "9M", "12M", "18M", "24M"), "claim-past-last-pull", "25C60", "the last planned pull, at 24 months"},
		{"a pull pushed out of its window", func(s *study.Study) {
			// 2025-02-13 ± 3 days, but free from 10 to 17 February: Friday 7 is 6 days
			// from it, Tuesday 18 is 5 and 2 past the 16th.
			for d := day(t, "2025-02-10"); d <= day(t, "2025-02-17"); d++ {
				s.Calendar.Holidays = append(s.Calendar.Holidays, d)
			}
		}, "outside-window", "MB-26-40C75-1M", "due on 2025-02-13 and moved to 2025-02-18, 2 days after its window (2025-02-10 to 2025-02-16) closes"},
		{"two pulls on one day", func(s *study.Study) {
			// Friday 2025-02-14 and Saturday 15 are both pulled on Friday.
			s.Conditions[1].Pulls = times(t, "0", "32D", "33D", "3M", "6M")
		}, "pulls-coincide", "MB-26-40C75-33D", "2025-02-14, the same day as MB-26-40C75-32D"},
		{"nothing to test", func(s *study.Study) {
			for j := range s.Attributes {
				s.Attributes[j].Conditions = []int{0}
			}
			s.Conditions[1].Pulls = times(t, "6M")
			s.Conditions[1].Role = study.Stress
			s.Conditions[0].Temperature = -20 // a freezer needs no accelerated condition
		}, "nothing-tested", "MB-26-40C75-6M", "no attribute"},
		{"a destructive weighing", func(s *study.Study) { s.Attributes[0].Kind = study.Weighing }, "weighing-not-returned", "assay", "same unit's mass at time zero"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := balm(t)
			c.change(s)
			s.Chambers[0].Capacity = 0 // not stated; TestOverCapacity is about it
			ws := schedule.Plan(s).Warnings
			if c.code == "" {
				if len(ws) > 0 {
					t.Errorf("warned of %v", ws)
				}
				return
			}
			if len(ws) != 1 || ws[0].Code != c.code || ws[0].Where != c.where || !strings.Contains(ws[0].Text, c.text) {
				t.Errorf("warned of %+v, want %s about %q saying %q", ws, c.code, c.where, c.text)
			}
		})
	}
}

func TestClaimBeyondThePlan(t *testing.T) {
	s := balm(t)
	s.Claim = times(t, "60M")[0]
	p := schedule.Plan(s)
	if got := p.Warnings[0]; got.Code != "claim-beyond-plan" || !strings.Contains(got.Text, "at 36 months, supports 48 months at most") {
		t.Errorf("%+v", p.Warnings)
	}
}

// TestCautions: each hazard at its threshold and just short of it.
func TestCautions(t *testing.T) {
	hot := func(celsius float64) func(*study.Study) {
		return func(s *study.Study) { s.Packs[0].Pressurised = true; s.Conditions[1].Temperature = celsius }
	}
	cold := func(celsius float64) func(*study.Study) {
		return func(s *study.Study) { s.Packs[0].Glass = true; s.Conditions[1].Temperature = celsius }
	}
	for _, c := range []struct {
		name   string
		change func(*study.Study)
		want   []string // codes and places
	}{
		{"nothing dangerous", func(*study.Study) {}, nil},
		{"pressurised at 50 °C", hot(50), []string{"pressurised-hot tube at 40C75"}},
		{"pressurised at 49.9 °C", hot(49.9), nil},
		{"glass at −0.5 °C", cold(-0.5), []string{"glass-freezing tube at 40C75"}},
		{"glass at 0 °C", cold(0), nil},
		{"flammable, no chamber rated or named", func(s *study.Study) { s.Packs[0].Flammable = true },
			[]string{"flammable-chamber tube at 25C60", "flammable-chamber tube at 40C75"}},
		{"flammable in rated chambers", func(s *study.Study) {
			s.Packs[0].Flammable, s.Chambers[0].RatedFlammable, s.Conditions[1].Chamber = true, true, 0
		}, nil},
		{"pressurised in cycles", func(s *study.Study) {
			s.Packs[0].Pressurised = true
			s.Conditions[1].Role, s.Conditions[1].CycleHours, s.Conditions[1].Pulls = study.Cycling, 24, times(t, "5C")
		}, []string{"cycling-extremes tube at 40C75"}},
		{"a pack that is not stored hot", func(s *study.Study) {
			hot(60)(s)
			for j := range s.Attributes {
				s.Attributes[j].Conditions = []int{0}
			}
		}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := balm(t)
			c.change(s)
			var got []string
			for _, w := range schedule.Plan(s).Cautions {
				got = append(got, w.Code+" "+w.Where)
				for _, word := range []string{"Local codes", "safety data sheet", "qualified"} {
					if !strings.Contains(w.Text, word) {
						t.Errorf("%s does not defer to %q: %s", w.Code, word, w.Text)
					}
				}
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("cautions %q, want %q", got, c.want)
			}
		})
	}
}
