package ledger

import (
	"context"
	"strings"
	"testing"

	"shelfspan/study"
)

// withPulls is the small study with other pulls.
func withPulls(times string) string {
	return strings.Replace(smallStudy, `"0", "3M", "6M", "12M"`, times, 1)
}

// The small study plans time zero and three pulls. Time zero is Monday 13 January
// 2025; three months later is Sunday 13 April, moved to the Monday, as 13 July is.
func TestRegister(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		first := d.register(smallStudy, "")
		if first.Version != 1 || first.Known || first.Behind || first.Added != nil || first.Dropped != nil || first.Ledger != d.l.Name() {
			t.Errorf("%+v", first.Registration)
		}
		e := first.Event
		d.same("the event", []string{e.At, e.By, string(e.Kind), e.Study, e.Subject, e.Reason, e.File},
			[]string{"2025-04-14T12:00:00+02:00", "A. Technician", "register", "SB", "1", "", sumOf(smallStudy)})
		plan := "pull,condition,time,chamber,date,earliest,latest,units,returned\n" +
			"SB-T0,,0,,2025-01-13,2025-01-10,2025-01-16,4,0\n" +
			"SB-25C60-3M,25C60,3M,room,2025-04-14,2025-04-06,2025-04-20,4,0\n" +
			"SB-25C60-6M,25C60,6M,room,2025-07-14,2025-07-06,2025-07-20,4,0\n" +
			"SB-25C60-12M,25C60,12M,room,2026-01-13,2026-01-06,2026-01-20,4,0\n"
		d.same("what the event says", e.Detail, `{"name":"study.toml","version":1,"pulls":4,"plan":"`+sumOf(plan)+`"}`)
		if v := d.stands(); v.Events != 1 || v.Files != 2 || v.Head.Seq != 1 {
			t.Errorf("%+v", v)
		}

		// The very bytes again change nothing, whoever hands them in.
		later := d.on("2025-05-01")
		later.who.By = "B. Formulator"
		again := later.register(smallStudy, "once more")
		if !again.Known || again.Version != 1 || again.Event != first.Event {
			t.Errorf("%+v", again.Registration)
		}
		if v := d.stands(); v.Events != 1 || v.Files != 2 {
			t.Errorf("%+v", v)
		}
	})
}

// A changed file is the next version, for a reason; the earlier ones stay.
func TestRegisterNextVersion(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		first := d.register(smallStudy, "")
		second := withPulls(`"0", "3M", "9M", "12M"`)
		for _, reason := range []string{"", " \u00a0 "} {
			d.refusesRegister(second, reason, "a change of the protocol of SB, which stands at version 1, needs a reason", "--reason")
		}
		d.refusesRegister(second, "one\ntwo", "the reason holds a ")
		d.refusesRegister(second, strings.Repeat("ä", 1001), "the reason is longer than 1000 characters")
		out := d.register(second, strings.Repeat("ä", 1000))
		if out.Version != 2 || out.Known || out.Event.Subject != "2" || out.Event.Reason != strings.Repeat("ä", 1000) || out.Event.File != sumOf(second) {
			t.Errorf("%+v", out.Registration)
		}
		d.same("pulls", [][]string{out.Added, out.Dropped, out.Moved, out.DroppedTaken}, "[[SB-25C60-9M] [SB-25C60-6M] [] []]")

		// Placed a day later, all pulls are a day later but that of three months: from
		// Sunday 13 April it was moved to Monday the 14th, where it now is by itself.
		third := strings.Replace(second, "2025-01-13", "2025-01-14", 1)
		out = d.register(third, "placed a day later")
		d.same("pulls", [][]string{out.Added, out.Dropped, out.Moved}, "[[] [] [SB-T0 SB-25C60-9M SB-25C60-12M]]")

		// The bytes of an earlier version are a change, too, and a version of their own.
		d.refusesRegister(smallStudy, "", "which stands at version 3, needs a reason")
		if out = d.register(smallStudy, "as it was"); out.Known || out.Version != 4 {
			t.Errorf("%+v", out.Registration)
		}
		x := d.record("SB", AsOf{})
		var versions []any
		for _, v := range x.Versions {
			versions = append(versions, v.Number, v.Event.Seq, v.Name)
		}
		d.same("versions", versions, "[1 1 study.toml 2 2 study.toml 3 3 study.toml 4 4 study.toml]")
		if x.Versions[0].Event != first.Event || x.Mark.Version != 4 || x.Protocol.SHA256 != sumOf(smallStudy) {
			t.Errorf("%+v, %+v", x.Mark, x.Protocol)
		}
		// Three study files and three plans: the fourth version has those of the first.
		if v := d.stands(); v.Events != 4 || v.Files != 6 {
			t.Errorf("%+v", v)
		}
	})
}

// What was pulled stays pulled under the next version: a pull that it keeps is not
// due again, and one that it drops stays in the record.
func TestNextVersionKeepsPulls(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where).on("2025-07-14")
		d.register(smallStudy, "")
		d.pull(PullRequest{Pull: "SB-25C60-3M", Day: day("2025-04-15"), Note: "first"})
		d.pull(PullRequest{Pull: "SB-25C60-6M", Arms: []string{"B1"}, Day: study.NoDate})
		before := d.record("SB", AsOf{}).Pulls

		out := d.register(withPulls(`"0", "3M", "12M"`), "six months are not needed")
		d.same("dropped", [][]string{out.Dropped, out.DroppedTaken}, "[[SB-25C60-6M] [SB-25C60-6M]]")
		d.same("due", pulls(d.due("2026-12-31")), "SB-T0 4, SB-25C60-12M 4")
		x := d.record("SB", AsOf{})
		d.same("records", x.Pulls, before)
		// Six months' two units of B1 are gone, whatever the plan says now. Stored are
		// two pulls of two units and a tenth of them in reserve: five of each batch.
		for i, a := range x.progress().Arms() {
			if want := []int{4, 2}[i]; a.Placed != 5 || a.Taken != want {
				t.Errorf("%+v, want %d of 5 taken", a, want)
			}
		}
		d.refusesPull(PullRequest{Pull: "SB-25C60-6M", Day: study.NoDate}, `no study of the ledger plans a pull "SB-25C60-6M"`)

		// Planned again, it goes on where it was.
		d.register(smallStudy, "needed after all")
		d.same("due", pulls(d.due("2025-12-31")), "SB-T0 4, SB-25C60-6M 2 of part")
		d.pull(PullRequest{Pull: "SB-25C60-6M", Day: study.NoDate})
		d.same("due", pulls(d.due("2025-12-31")), "SB-T0 4")
	})
}

// A version is refused under which results would be lost that were taken in.
func TestNextVersionKeepsResults(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		d.takeIn("SB", File{"a.csv", results("B1 3M 1 99.1", "B2 3M 1 99.3")})
		d.amend(AmendRequest{ID: "R2-2-assay-E", Exclude: true, Reason: "spilt"})
		hint := "results that were taken in would not be read under this version"
		d.refusesRegister(strings.Replace(smallStudy, `id = "assay"`, `id = "purity"`, 1), "renamed", hint,
			`a.csv (event 2):2: attribute: no attribute "assay"`, `event 3: changed a result of attribute "assay", which the study does not have; keep the attribute`)
		d.refusesRegister(strings.Replace(smallStudy, "[[batch]]\nid = \"B2\"\n", "", 1), "one batch", hint, `a.csv (event 2):3: batch: no batch "B2"`)
		d.refusesRegister(strings.Replace(smallStudy, `kind = "measure"`, `kind = "pass-fail"`, 1), "another kind", "study.toml")
		// What does not touch them is taken.
		d.register(strings.Replace(smallStudy, "lower = 90.0", "lower = 95.0", 1), "a new limit")
		d.same("results", values(d.dataset("SB", AsOf{})), "B2 3M 1 99.3, (B1 3M 1 99.1)")
	})
}

// What cannot be a study, or has nobody to answer for it, is refused.
func TestRegisterRefuses(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.refusesRegister(strings.Replace(smallStudy, `"long-term"`, `"long"`, 1), "", "study.toml:8: role: ")
		for name, says := range map[string]string{
			"": "who does this is not known", "A\x07": "who does this holds a ",
			strings.Repeat("x", 201): "who does this is longer than 200 characters", "\xff": "who does this is no text in UTF-8",
		} {
			nobody := *d
			nobody.who.By = name
			nobody.refusesRegister(smallStudy, "", says)
		}
		d.refuses(func() error {
			_, err := d.l.Register(context.Background(), d.who, "study\x1b.toml", []byte(smallStudy), "")
			return err
		}, "the name of the file holds a ")
		if v := d.stands(); v.Events != 0 || v.Files != 0 {
			t.Errorf("%+v", v)
		}
	})
}

// Studies whose ids differ in nothing but case would be taken for one another.
func TestStudyIDsInEitherCase(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		for _, id := range []string{"sb", "Sb", "sB"} {
			d.refusesRegister(strings.Replace(smallStudy, `"SB"`, `"`+id+`"`, 1), "a reason", "the ledger has a study SB, which differs from "+id+" only in its case")
		}
		// A longer id is another study.
		d.register(strings.Replace(smallStudy, `"SB"`, `"SB-2"`, 1), "")
		ids, err := d.l.Studies(context.Background(), AsOf{})
		if err != nil {
			t.Fatal(err)
		}
		d.same("studies", ids, "[SB SB-2]")
		d.pull(PullRequest{Pull: "sb-2-25c60-3m", Day: study.NoDate})
		d.same("due", pulls(d.due("2025-05-01")), "SB-2-T0 4, SB-T0 4, SB-25C60-3M 4")
		// The ids of others are told by their case: SB is none of the ledger as sb.
		d.refusesTakeIn("sb", []File{{"a.csv", results("B1 3M 1 99.1")}}, `the ledger has no study "sb"`, "did you mean SB?")
	})
}

// Pulls are named without their study, so no two studies can plan pulls of one id.
func TestStudiesOfTheSamePulls(t *testing.T) {
	named := func(id, condition string) string {
		return strings.NewReplacer(`"SB"`, `"`+id+`"`, `id = "25C60"`, `id = "`+condition+`"`).Replace(smallStudy)
	}
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(named("SB", "2-25C60"), "")
		says := "the ledger has a pull SB-2-25C60-3M of study SB, and SB-2 would have it, too"
		d.refusesRegister(named("SB-2", "25C60"), "", says, "another id")
		d.refusesRegister(named("sb-2", "25c60"), "", "a pull sb-2-25c60-3M of study SB, and sb-2 would")
		d.register(named("SB-2", "30C65"), "")
		d.refusesRegister(named("SB-2", "25C60"), "another condition", says)
		// The other way round it is the same, and so it is in a next version.
		d.refusesRegister(named("SB", "2-30C65"), "another condition", "a pull SB-2-30C65-3M of study SB-2, and SB would")
		// An id that begins another without a hyphen is no matter; nor are pulls that
		// are not planned any more.
		d.register(named("SB-25", "C60"), "")
		d.register(named("SB", "x"), "another condition")
		d.register(named("SB-2", "25C60"), "another condition")
		d.pull(PullRequest{Pull: "SB-2-25C60-3M", Day: study.NoDate})
		d.same("due", pulls(d.due("2025-05-01", "SB-2", "SB")), "SB-2-T0 4, SB-T0 4, SB-x-3M 4")
	})
}
