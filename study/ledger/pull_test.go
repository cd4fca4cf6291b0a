package ledger

import (
	"context"
	"strings"
	"testing"

	"shelfspan/study"
)

// packsStudy has two packs, one of them stored in two ways, units that are weighed
// and put back in the oven, and a second batch placed two weeks after the first.
// What it stores of each arm: at 25C60 two pulls of a unit and a tenth in reserve,
// rounded up: three; at 40C75 one pull of a unit, one that is weighed, and one in
// reserve.
const packsStudy = `[study]
id = "PK"
start = 2025-03-03
[[condition]]
id = "25C60"
role = "long-term"
temperature = 25.0
pulls = ["0", "1M", "3M"]
chamber = "room"
[[condition]]
id = "40C75"
role = "accelerated"
temperature = 40.0
pulls = ["0", "1M"]
chamber = "oven"
[[chamber]]
id = "room"
[[chamber]]
id = "oven"
[[batch]]
id = "B1"
[[batch]]
id = "B2"
placed = 2025-03-17
[[pack]]
id = "tube"
[[pack]]
id = "can"
orientations = ["upright", "inverted"]
[[attribute]]
id = "viscosity"
unit = "mPa.s"
kind = "measure"
lower = 18000.0
[[attribute]]
id = "weight-loss"
unit = "%"
kind = "weighing"
upper = 5.0
sampling = "returned"
conditions = ["40C75"]
`

func TestPullWhole(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(packsStudy, "")
		out := d.pull(PullRequest{Pull: "pk-40c75-1m", Day: day("2025-04-02"), Note: "all of it"})
		r := &out.Record
		if r.Pull != "PK-40C75-1M" || r.Condition != "40C75" || r.Time.String() != "1M" || r.Day != day("2025-04-02") || r.Outside != 0 ||
			!r.Complete || !out.Complete || r.Withdrawn || r.Event != 2 || r.By != "A. Technician" || r.At != "2025-04-14T12:00:00+02:00" ||
			out.Units != 0 || out.Returned != 0 || out.Behind || out.Study.ID != "PK" || out.Pull.ID != "PK-40C75-1M" {
			t.Errorf("%+v", out)
		}
		d.same("taken", taken(r), "B1 tube upright 1+1, B1 can upright 1+1, B1 can inverted 1+1")
		d.same("what the event says", d.stands().Head.Detail, `{"day":"2025-04-02","condition":"40C75","time":"1M","note":"all of it","lines":[`+
			`{"batch":"B1","pack":"tube","orientation":"upright","units":1,"returned":1},`+
			`{"batch":"B1","pack":"can","orientation":"upright","units":1,"returned":1},`+
			`{"batch":"B1","pack":"can","orientation":"inverted","units":1,"returned":1}]}`)
		x := d.record("PK", AsOf{})
		d.same("the record read back", x.Pulls, []study.PullRecord{*r})

		// At time zero a batch and pack stand for all their arms: the three that will be
		// weighed in the oven are weighed. Its batch is placed on the day the study starts.
		zero := d.pull(PullRequest{Pull: "PK-T0", Day: day("2025-03-03")})
		d.same("taken", taken(&zero.Record), "B1 tube 1+1, B1 can 1+2")
		if zero.Record.Condition != "" || !zero.Record.Time.IsZero() {
			t.Errorf("%+v", zero.Record)
		}
		// The other batch has pulls of its own.
		d.same("due", pulls(d.due("2025-04-17")), "PK-T0-20250317 2, PK-25C60-1M 3, PK-40C75-1M-20250317 3, PK-25C60-1M-20250317 3")
		// Without a day it is the clock's.
		if out := d.pull(PullRequest{Pull: "PK-40C75-1M-20250317", Day: study.NoDate}); out.Record.Day != day("2025-04-14") {
			t.Errorf("%+v", out.Record)
		}
		for _, q := range []PullRequest{{}, {Final: true, Reason: "nothing left"}, {Units: number(1), Reason: "one more"}} {
			q.Pull, q.Day = "PK-40C75-1M", day("2025-04-02")
			d.refusesPull(q, "pull PK-40C75-1M is recorded already: on 2025-04-02 by A. Technician (event 2)", "--withdraw")
		}
	})
}

// A pull in parts is done with once all of it is taken.
func TestPullInParts(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		const pull = "SB-25C60-3M" // two units of either batch
		for _, s := range []struct {
			q                    PullRequest
			taken                string
			left                 int
			kind, due, takenThen string
		}{
			{PullRequest{Arms: []string{" b1 "}, Units: number(1)}, "B1 upright 1", 3, "pull-part", "SB-T0 4, SB-25C60-3M 3 of part", "[1 0]"},
			{PullRequest{}, "B1 upright 1, B2 upright 2", 0, "pull", "SB-T0 4", "[2 2]"},
		} {
			s.q.Pull, s.q.Day = pull, study.NoDate
			out := d.pull(s.q)
			d.same("taken", taken(&out.Record), s.taken)
			d.same("the event", d.stands().Head.Kind, s.kind)
			if complete := s.left == 0; out.Units != s.left || out.Complete != complete || out.Record.Complete != complete {
				t.Errorf("%+v", out)
			}
			d.same("due", pulls(d.due("2025-05-01")), s.due)
			var units []int
			for _, a := range d.record("SB", AsOf{}).progress().Arms() {
				units = append(units, a.Taken)
			}
			d.same("taken of the arms", units, s.takenThen)
		}

		// By arms, one of them named twice: an arm is taken once.
		const next = "SB-25C60-6M"
		july := d.on("2025-07-14")
		out := july.pull(PullRequest{Pull: next, Arms: []string{"B2", "b2"}, Day: study.NoDate})
		d.same("taken", taken(&out.Record), "B2 upright 2")
		// An arm that is wholly taken gives nothing more by itself.
		july.refusesPull(PullRequest{Pull: next, Arms: []string{"B2"}, Day: study.NoDate}, "nothing is taken with this", "--final")
		july.refusesPull(PullRequest{Pull: next, Arms: []string{"B1"}, Units: number(0), Day: study.NoDate}, "nothing is taken with this")
		july.refusesPull(PullRequest{Pull: next, Arms: []string{"B1"}, Units: number(-1), Day: study.NoDate}, "--units takes a number of units")
		july.refusesPull(PullRequest{Pull: next, Arms: []string{"B1", "B2"}, Units: number(1), Day: study.NoDate}, "1 unit of 2 arms, of which 2 units are still to be taken", "--arm NAME: B1, B2")
		july.refusesPull(PullRequest{Pull: next, Arms: []string{"B3"}, Day: study.NoDate}, `takes nothing of an arm "B3"`, "its arms are B1, B2")
		// All that is still to be taken of both, said as a number.
		out = july.pull(PullRequest{Pull: next, Arms: []string{"B1", "B2"}, Units: number(2), Day: study.NoDate})
		d.same("taken", taken(&out.Record), "B1 upright 2, B2 upright 0")
		if !out.Complete {
			t.Errorf("%+v", out)
		}
	})
}

// Three months' window is a week to either side of Sunday 13 April.
func TestPullWindow(t *testing.T) {
	for _, c := range []struct {
		day     string
		outside int
		says    string // without a reason
	}{
		{"2025-01-13", -83, "2025-01-13 is 83 days before its window opens, on 2025-04-06"},
		{"2025-04-05", -1, "2025-04-05 is 1 day before its window opens, on 2025-04-06"},
		{"2025-04-06", 0, ""},
		{"2025-04-13", 0, ""},
		{"2025-04-20", 0, ""},
		{"2025-04-21", 1, "2025-04-21 is 1 day after its window closed, on 2025-04-20"},
		{"2026-04-14", 359, "2026-04-14 is 359 days after its window closed, on 2025-04-20"},
	} {
		t.Run(c.day, func(t *testing.T) {
			d := at(t, sqlitePlace(t)).on("2026-04-20")
			d.register(smallStudy, "")
			q := PullRequest{Pull: "SB-25C60-3M", Day: day(c.day)}
			if c.outside != 0 {
				d.refusesPull(q, c.says, "--reason")
				q.Reason = " \t"
				d.refusesPull(q, "the reason holds a ")
				q.Reason = "  "
				d.refusesPull(q, c.says)
				q.Reason = "closed over the holidays"
			}
			out := d.pull(q)
			if out.Record.Outside != c.outside || out.Record.Reason != q.Reason || out.Record.Day != day(c.day) {
				t.Errorf("%+v", out.Record)
			}
			x := d.record("SB", AsOf{})
			if x.Pulls[0].Outside != c.outside || x.Pulls[0].Reason != q.Reason || d.stands().Head.Reason != q.Reason {
				t.Errorf("read back: %+v", x.Pulls[0])
			}
		})
	}
	t.Run("refused", func(t *testing.T) {
		d := at(t, sqlitePlace(t))
		d.register(smallStudy, "")
		q := PullRequest{Pull: "SB-25C60-3M", Reason: "a reason"}
		for of, says := range map[string]string{
			"2025-04-15": "2025-04-15 is in the future; today is 2025-04-14",
			"2025-01-12": "2025-01-12 is before time zero of these samples, 2025-01-13",
		} {
			q.Day = day(of)
			d.refusesPull(q, says)
		}
		// A year and a day from the day planned is still taken at its word, one more is not.
		q.Day = day("2026-04-15")
		d.on("2026-04-20").refusesPull(q, "2026-04-15 is more than a year from the planned day of pull SB-25C60-3M, 2025-04-14", "is the year right?")
		// At the desk it is yesterday when it is in the east today.
		east := *d
		east.who.Now = d.who.Now.UTC().Add(-12 * 3600e9)
		east.refusesPull(PullRequest{Pull: "SB-25C60-3M", Day: day("2025-04-14")}, "2025-04-14 is in the future; today is 2025-04-13")
		// Time zero may be taken before the samples go into storage.
		d.pull(PullRequest{Pull: "SB-T0", Day: day("2025-01-10")})
	})
}

// A pull ends short for a reason, and then is not due any more.
func TestPullFinal(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		const pull = "SB-25C60-3M"
		d.refusesPull(PullRequest{Pull: pull, Arms: []string{"B1"}, Final: true, Day: study.NoDate}, "a pull that ends with less than planned needs a reason")
		out := d.pull(PullRequest{Pull: pull, Arms: []string{"B1"}, Units: number(1), Final: true, Reason: "the others leaked", Day: study.NoDate})
		d.same("taken", taken(&out.Record), "B1 upright 1")
		if !out.Complete || out.Units != 3 || d.stands().Head.Kind != study.EventPull {
			t.Errorf("%+v", out)
		}
		d.same("due", pulls(d.due("2025-05-01")), "SB-T0 4")
		d.refusesPull(PullRequest{Pull: pull, Day: study.NoDate}, "is recorded already")
		d.refusesPull(PullRequest{Pull: pull, Final: true, Reason: "nothing else", Day: study.NoDate}, "is recorded already")
		// What turns up after all is taken of its arm.
		out = d.pull(PullRequest{Pull: pull, Arms: []string{"B2"}, Day: study.NoDate})
		d.same("taken", taken(&out.Record), "B2 upright 2")

		// Nothing at all, of another.
		july := d.on("2025-07-14")
		out = july.pull(PullRequest{Pull: "SB-25C60-6M", Final: true, Reason: "the chamber burned down", Day: study.NoDate})
		if taken(&out.Record) != "" || !out.Complete || out.Units != 4 {
			t.Errorf("%+v", out)
		}
		d.same("due", pulls(july.due("2025-12-31")), "SB-T0 4")
	})
}

// What was recorded in error is taken back, stays readable, and the pull is due
// again.
func TestPullWithdrawn(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		const pull = "SB-25C60-3M"
		withdraw := func(id, reason string) func() error {
			return func() error { _, err := d.l.WithdrawPull(context.Background(), d.who, id, reason); return err }
		}
		d.refuses(withdraw(pull, "wrong chamber"), "nothing is recorded of pull "+pull)
		d.pull(PullRequest{Pull: pull, Arms: []string{"B1"}, Day: study.NoDate})
		d.pull(PullRequest{Pull: pull, Day: study.NoDate, Note: "both"})
		d.refuses(withdraw(pull, " "), "taking back the record of a pull needs a reason")
		d.refuses(withdraw("SB-25C60-4M", "x"), `plans a pull "SB-25C60-4M"`, "there are SB-25C60-3M, SB-25C60-6M, SB-25C60-12M")
		out := d.withdraw("sb-25c60-3m")
		if r := &out.Record; r.Pull != pull || !r.Withdrawn || r.Event != 4 || r.Reason != "wrong chamber" || out.Units != 4 {
			t.Errorf("%+v", out)
		}
		if e := d.stands().Head; e.Kind != study.EventPullWithdrawn || e.Subject != pull || e.Reason != "wrong chamber" {
			t.Errorf("%+v", e)
		}
		x := d.record("SB", AsOf{})
		if len(x.Pulls) != 2 || !x.Pulls[0].Withdrawn || !x.Pulls[1].Withdrawn || x.Pulls[1].Note != "both" || x.progress().Arms()[0].Taken != 0 {
			t.Errorf("%+v", x.Pulls)
		}
		d.same("due", pulls(d.due("2025-05-01")), "SB-T0 4, SB-25C60-3M 4")
		d.refuses(withdraw(pull, "again"), "nothing is recorded of pull "+pull)

		// Recorded anew it counts, and can be taken back anew.
		again := d.pull(PullRequest{Pull: pull, Day: study.NoDate})
		d.same("taken", taken(&again.Record), "B1 upright 2, B2 upright 2")
		d.same("due", pulls(d.due("2025-05-01")), "SB-T0 4")
		x = d.record("SB", AsOf{})
		if len(x.Pulls) != 3 || x.Pulls[2].Withdrawn || !x.Pulls[1].Withdrawn {
			t.Errorf("%+v", x.Pulls)
		}
		d.withdraw(pull)
		d.same("due", pulls(d.due("2025-05-01")), "SB-T0 4, SB-25C60-3M 4")
		// A part of it, after all that, is a part.
		d.pull(PullRequest{Pull: pull, Arms: []string{"B2"}, Day: study.NoDate})
		d.same("due", pulls(d.due("2025-05-01")), "SB-T0 4, SB-25C60-3M 2 of part")
	})
}

// More units than planned come out of the reserve, for a reason, and end where it
// ends; those that are weighed and put back are never opened.
func TestPullMoreThanPlanned(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(packsStudy, "")
		more := func(pull, arm string, units int, reason string) PullRequest {
			return PullRequest{Pull: pull, Arms: []string{arm}, Units: number(units), Reason: reason, Day: day("2025-04-03")}
		}
		// Three units are stored, one of them to be weighed.
		d.refusesPull(more("PK-40C75-1M", "B1 can inverted", 2, ""), "2 units of B1 can inverted are more than the 1 still planned", "deviation")
		d.refusesPull(more("PK-40C75-1M", "B1 can inverted", 3, "one broke"), "B1 can inverted holds 2 units that may be opened, and 3 were to be taken")
		out := d.pull(more("PK-40C75-1M", "B1 can inverted", 2, "one broke"))
		d.same("taken", taken(&out.Record), "B1 can inverted 2+1")
		d.refusesPull(more("PK-40C75-1M", "B1 can inverted", 1, "one broke"), "holds 0 units that may be opened")
		// After its line is taken, another unit of the arm still comes with a reason.
		out = d.pull(more("PK-40C75-1M", "B1 tube", 1, ""))
		d.same("taken", taken(&out.Record), "B1 tube upright 1+1")
		d.refusesPull(more("PK-40C75-1M", "B1 tube", 1, ""), "1 unit of B1 tube is more than the 0 still planned")
		out = d.pull(more("PK-40C75-1M", "B1 tube", 1, "one broke"))
		d.same("taken", taken(&out.Record), "B1 tube upright 1")
		// At time zero nothing is stored yet.
		zero := more("PK-T0", "B1 tube", 7, "a trial")
		zero.Day = day("2025-03-03")
		if out := d.pull(zero); taken(&out.Record) != "B1 tube 7+1" {
			t.Errorf("%+v", out.Record)
		}
	})
}

// A pull is found by its id over all studies; what comes near is told.
func TestPullIsFound(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.refusesPull(PullRequest{Pull: "SB-25C60-3M", Day: study.NoDate}, `no study of the ledger plans a pull "SB-25C60-3M"`, "shelfspan due lists")
		d.register(smallStudy, "")
		d.register(packsStudy, "")
		for id, says := range map[string]string{
			"SB-25C60-9M": "there are SB-25C60-3M, SB-25C60-6M, SB-25C60-12M",
			"SB-25X60-3M": "did you mean SB-25C60-3M?",
			"SB-":         "there are SB-T0", "SB": "shelfspan due lists", "": "shelfspan due lists", "XX-25C60-3M": "shelfspan due lists",
		} {
			d.refusesPull(PullRequest{Pull: id, Day: study.NoDate}, "plans a pull", says)
		}
		plan, i, err := d.l.FindPull(context.Background(), "pk-25c60-1m-20250317")
		if err != nil || plan.Study.ID != "PK" || plan.Pulls[i].ID != "PK-25C60-1M-20250317" {
			t.Errorf("%v %d %v", plan, i, err)
		}
		// Where nothing is tested there is nothing to pull.
		d.register(strings.NewReplacer(`"SB"`, `"SN"`, "units = 2", "units = 2\nconditions = [\"25C60\"]", "[[chamber]]",
			"[[condition]]\nid = \"5C\"\nrole = \"stress\"\ntemperature = 5.0\npulls = [\"3M\"]\n[[chamber]]").Replace(smallStudy), "")
		d.same("due", pulls(d.due("2025-04-14", "SN")), "SN-T0 4, SN-25C60-3M 4")
		d.refusesPull(PullRequest{Pull: "SN-5C-3M", Day: study.NoDate}, `plans a pull "SN-5C-3M"`)
		d.refusesPull(PullRequest{Pull: "SB-25C60-3M", Day: study.NoDate, Note: "a\nb"}, "the note holds a ")
		d.refusesPull(PullRequest{Pull: "SB-25C60-3M", Day: study.NoDate, Reason: strings.Repeat("x", 1001)}, "the reason is longer than 1000 characters")
	})
}
