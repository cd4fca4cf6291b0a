package ledger

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"shelfspan/study"
)

// A ledger of three days: what stood there on each, and after each event.
func TestAsOf(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")                                                                         // 1
		d.takeIn("SB", File{"a.csv", results("B1 3M 1 99.1")})                                             // 2
		d.on("2025-04-15").amend(AmendRequest{ID: "R2-2-assay-E", Value: "98.9", Reason: "misread"})       // 3
		d.on("2025-04-17").register(withPulls(`"0", "3M", "6M"`), "no twelve months")                      // 4
		d.on("2025-04-17").pull(PullRequest{Pull: "SB-25C60-3M", Arms: []string{"B1"}, Day: study.NoDate}) // 5
		d.on("2025-04-17").amend(AmendRequest{ID: "R2-2-assay-E", Exclude: true, Reason: "spilt"})         // 6
		d.on("2025-04-18").withdraw("SB-25C60-3M")                                                         // 7
		of := func(state string) string {
			at, err := ParseAsOf(state)
			if err != nil {
				t.Fatal(err)
			}
			x, err := d.l.Study(context.Background(), "SB", at)
			if err != nil {
				return err.Error()
			}
			data, err := x.Dataset()
			if err != nil {
				t.Fatal(err)
			}
			if m := data.Ledger; m.Event != x.Mark.Event || m.Hash != x.Mark.Hash {
				t.Errorf("%+v, %+v", m, x.Mark)
			}
			made := 0
			for _, p := range x.Pulls {
				if !p.Withdrawn {
					made++
				}
			}
			return fmt.Sprintf("event %d of %s, version %d of %d pulls, %d of %d made: %s", x.Mark.Event, x.Mark.At, x.Mark.Version, len(x.Schedule.Pulls), made, len(x.Pulls), values(data))
		}
		for state, want := range map[string]string{
			"1":          "event 1 of 2025-04-14T12:00:00+02:00, version 1 of 4 pulls, 0 of 0 made: ",
			"2":          "event 2 of 2025-04-14T12:00:00+02:00, version 1 of 4 pulls, 0 of 0 made: B1 3M 1 99.1",
			"3":          "event 3 of 2025-04-15T12:00:00+02:00, version 1 of 4 pulls, 0 of 0 made: B1 3M 1 98.9",
			"#4":         "event 4 of 2025-04-17T12:00:00+02:00, version 2 of 3 pulls, 0 of 0 made: B1 3M 1 98.9",
			"5":          "event 5 of 2025-04-17T12:00:00+02:00, version 2 of 3 pulls, 1 of 1 made: B1 3M 1 98.9",
			"6":          "event 6 of 2025-04-17T12:00:00+02:00, version 2 of 3 pulls, 1 of 1 made: (B1 3M 1 98.9)",
			"7":          "event 7 of 2025-04-18T12:00:00+02:00, version 2 of 3 pulls, 0 of 1 made: (B1 3M 1 98.9)",
			"2025-04-14": "event 2 of 2025-04-14T12:00:00+02:00, version 1 of 4 pulls, 0 of 0 made: B1 3M 1 99.1",
			"2025-04-15": "event 3 of 2025-04-15T12:00:00+02:00, version 1 of 4 pulls, 0 of 0 made: B1 3M 1 98.9",
			"2025-04-16": "event 3 of 2025-04-15T12:00:00+02:00, version 1 of 4 pulls, 0 of 0 made: B1 3M 1 98.9",
			"2025-04-17": "event 6 of 2025-04-17T12:00:00+02:00, version 2 of 3 pulls, 1 of 1 made: (B1 3M 1 98.9)",
			"2099-01-01": "event 7 of 2025-04-18T12:00:00+02:00, version 2 of 3 pulls, 0 of 1 made: (B1 3M 1 98.9)",
			"2025-04-13": "the ledger has nothing as of 2025-04-13: its first event is dated later",
			"8":          "the ledger has no event 8; its last is 7",
		} {
			d.same("as of "+state, of(state), want)
		}
		for _, state := range []string{"", "0", "-1", "yesterday", "2025-02-30", "2025-4-14", "#", "99999999999999999999"} {
			if at, err := ParseAsOf(state); err == nil {
				t.Errorf("%q: %+v", state, at)
			}
		}
	})
}

// The day of an event is that of the clock it was recorded by, whatever the zone
// of those who ask.
func TestAsOfIsTheRecordersDay(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		for _, c := range []struct {
			at    string
			table []byte
		}{
			{"2025-04-14T23:00:00+02:00", nil},
			{"2025-04-14T22:30:00Z", results("B1 3M 1 99.1")}, // half past midnight by the clock before
			{"2025-04-15T03:40:00+05:00", results("B1 3M 2 99.3")},
		} {
			now, err := time.Parse(time.RFC3339, c.at)
			if err != nil {
				t.Fatal(err)
			}
			if d.who.Now = now; c.table == nil {
				d.register(smallStudy, "")
			} else {
				d.takeIn("SB", File{"a.csv", c.table})
			}
			d.same("recorded", d.stands().Head.At, c.at)
		}
		d.same("on the 14th", values(d.dataset("SB", AsOf{Day: day("2025-04-14"), HasDay: true})), "B1 3M 1 99.1")
		d.same("on the 15th", values(d.dataset("SB", AsOf{Day: day("2025-04-15"), HasDay: true})), "B1 3M 1 99.1, B1 3M 2 99.3")
	})
}

// A clock that went backwards is told and recorded as it was. The order of events
// is that of their numbers, and a day ends before the first event of a later day: what
// a clock set back puts into a day that is over is none of it.
func TestClockBackwards(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		d.on("2025-04-20").takeIn("SB", File{"a.csv", results("B1 3M 1 99.1")})
		back := d.on("2025-04-16")
		if out := back.amend(AmendRequest{ID: "R2-2-assay-E", Value: "98.9", Reason: "misread"}); !out.Behind || out.Changes[0].At != "2025-04-16T12:00:00+02:00" {
			t.Errorf("%+v", out)
		}
		for on, want := range map[string]string{"2025-04-14": "", "2025-04-15": "", "2025-04-16": "", "2025-04-20": "B1 3M 1 98.9"} {
			d.same("on "+on, values(d.dataset("SB", AsOf{Day: day(on), HasDay: true})), want)
		}
		d.same("as it stands", values(d.dataset("SB", AsOf{})), "B1 3M 1 98.9")
		d.stands()
	})
}

// Every kind of change tells it; up to two minutes it is none, since clocks differ.
func TestEveryChangeTellsTheClock(t *testing.T) {
	const pull = "SB-25C60-3M"
	for kind, change := range map[string]func(*desk) bool{
		"register": func(d *desk) bool { return d.register(withPulls(`"0", "3M"`), "a reason").Behind },
		"intake":   func(d *desk) bool { return d.takeIn("SB", File{"b.csv", results("B1 3M 2 99.3")}).Behind },
		"amend": func(d *desk) bool {
			return d.amend(AmendRequest{ID: "R2-2-assay-E", Value: "98.9", Reason: "misread"}).Behind
		},
		"pull":     func(d *desk) bool { return d.pull(PullRequest{Pull: pull, Day: day("2025-04-14")}).Behind },
		"withdraw": func(d *desk) bool { return d.withdraw(pull).Behind },
	} {
		for late, behind := range map[time.Duration]bool{-121 * time.Second: true, -2 * time.Minute: false, 0: false, time.Hour: false} {
			d := at(t, sqlitePlace(t))
			d.register(smallStudy, "")
			d.takeIn("SB", File{"a.csv", results("B1 3M 1 99.1")})
			d.pull(PullRequest{Pull: pull, Arms: []string{"B1"}, Day: study.NoDate})
			d.who.Now = noon.Add(late)
			if told := change(d); told != behind {
				t.Errorf("%s, %v later: told %v", kind, late, told)
			}
		}
	}
}

// A study is there from its registration on, and events of other studies are none
// of its own.
func TestStudiesAsOf(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		ctx := context.Background()
		none, err := d.l.Studies(ctx, AsOf{})
		d.same("of an empty ledger", []any{none, err}, "[[] <nil>]")
		d.refuses(func() error { _, err := d.l.Study(ctx, "SB", AsOf{}); return err }, `the ledger has no study "SB"`, "it has none yet: shelfspan register")
		d.register(smallStudy, "")
		d.on("2025-04-16").register(strings.Replace(smallStudy, `"SB"`, `"A9"`, 1), "")
		d.on("2025-04-17").takeIn("A9", File{"a.csv", results("B1 3M 1 99.1")})
		for state, want := range map[AsOf]string{
			{}: "[A9 SB]", {Event: 2}: "[A9 SB]", {Event: 1}: "[SB]",
			{Day: day("2025-04-15"), HasDay: true}: "[SB]", {Day: day("2025-04-16"), HasDay: true}: "[A9 SB]",
		} {
			ids, err := d.l.Studies(ctx, state)
			if err != nil {
				t.Fatal(err)
			}
			d.same("studies", ids, want)
		}
		d.refuses(func() error { _, err := d.l.Study(ctx, "A9", AsOf{Event: 1}); return err }, `the ledger has no study "A9"`, "it has SB")
		d.refuses(func() error { _, err := d.l.Studies(ctx, AsOf{Event: 4}); return err }, "the ledger has no event 4; its last is 3")
		if m := d.record("SB", AsOf{}).Mark; m.Event != 1 {
			t.Errorf("%+v", m)
		}
	})
}
