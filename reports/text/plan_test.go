package text_test

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/jedib0t/go-pretty/v6/text"
	"pgregory.net/rapid"

	reports "shelfspan/reports/text"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// longNamed is an invented study with names as long as drawn.
func longNamed(id, condition, pack, test string) *study.Study {
	months := func(n int32) study.Duration { return study.Duration{N: n, Unit: study.Months} }
	s := &study.Study{
		ID: id, Start: study.NewDate(2025, time.January, 12), StoreAt: 0, Rules: study.ICHQ1E, Claim: months(24),
		Conditions: []study.Condition{
			{ID: condition, Role: study.LongTerm, Temperature: 25, Chamber: 0, Pulls: []study.Duration{{}, months(3), months(12)}},
			{ID: "hot", Role: study.Stress, Temperature: 55, Chamber: -1, Pulls: []study.Duration{months(1)}},
		},
		Chambers: []study.Chamber{{ID: "north", Capacity: 2}},
		Batches:  []study.Batch{{ID: "B1", Placed: study.NoDate}, {ID: "B2", Placed: study.NewDate(2025, time.February, 17)}},
		Packs:    []study.Pack{{ID: pack, Pressurised: true, Flammable: true, Orientations: []study.Orientation{study.Upright, study.Inverted}}},
		Attributes: []study.Attribute{
			{ID: test, Sampling: study.Destructive, Units: 2, Lower: math.Inf(-1), Upper: math.Inf(1)},
			{ID: "loss", Sampling: study.Returned, Units: 3, Lower: math.Inf(-1), Upper: math.Inf(1)},
		},
	}
	for d := time.Monday; d <= time.Friday; d++ {
		s.Calendar.Workdays[d] = true
	}
	s.Calendar.Shift = study.ShiftNearest
	return s
}

func TestPlanKeepsTheWidth(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		name := rapid.StringMatching(`[a-zé][a-z0-9é_-]{0,29}`)
		p := schedule.Plan(longNamed(name.Draw(r, "id"), name.Draw(r, "condition"), name.Draw(r, "pack"), name.Draw(r, "test")))
		width := rapid.IntRange(40, 140).Draw(r, "width")
		var out bytes.Buffer
		reports.NewPrinter(&out, width, false).Plan(p, nil)
		for _, line := range strings.Split(out.String(), "\n") {
			if n := text.RuneWidthWithoutEscSequences(line); n > width {
				r.Fatalf("%d columns where there are %d: %q", n, width, line)
			}
		}
		// Every pull's id can be copied whole wherever a line can hold it.
		for i := range p.Pulls {
			if id := p.Pulls[i].ID; len(id) <= width-20 && !strings.Contains(out.String(), id) {
				r.Fatalf("%s is cut in %d columns:\n%s", id, width, out.String())
			}
		}
	})
}

// TestPlanOrder: the conclusion stands first and the cautions last.
func TestPlanOrder(t *testing.T) {
	var out bytes.Buffer
	reports.NewPrinter(&out, 80, false).Plan(schedule.Plan(longNamed("MB-26", "25C60", "can", "assay")), []string{"out/pulls.csv"})
	at := -1
	for _, part := range []string{
		"Study MB-26\n", "8 pulls from 2025-01-13 to 2026-02-17.", "The claim of 24M at 25C60 is out of this plan's reach", "Pulls by date\n",
		"MB-26-25C60-3M  ", "Units at each pull", "Units to fill", "Chamber load", "Written\nout/pulls.csv\n", "warnings qualify", "Cautions\n", "pressurised packs are stored at 55 °C",
	} {
		i := strings.Index(out.String(), part)
		if i <= at {
			t.Fatalf("%q stands at %d, after %d:\n%s", part, i, at, out.String())
		}
		at = i
	}
}

// TestPlanPulls: each pull says from which chamber and until when, in full
// where there is room and in short where there is less.
func TestPlanPulls(t *testing.T) {
	for width, want := range map[int]string{
		100: "2025-04-11 Fri  MB-26-25C60-3M            north    04-12 to 04-12     4         6  2025-04-12 Sat\n",
		86:  "2025-04-11 Fri  MB-26-25C60-3M            north    04-12 to 04-12     4         6\n",
		80:  "2025-04-11 Fri  MB-26-25C60-3M            north    ±0         4         6\n",
		60:  "- 2025-04-11 Fri, pull MB-26-25C60-3M, chamber north, window\n  ±0, open 4, put back 6\n",
	} {
		var out bytes.Buffer
		reports.NewPrinter(&out, width, false).Plan(schedule.Plan(longNamed("MB-26", "25C60", "can", "assay")), nil)
		if !strings.Contains(out.String(), "\n"+want) {
			t.Errorf("%d columns: no %q in\n%s", width, want, out.String())
		}
	}
}
