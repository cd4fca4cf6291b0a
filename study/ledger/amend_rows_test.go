package ledger

import (
	"fmt"
	"strings"
	"testing"

	"shelfspan/study"
)

// rowsStudy has measurements on several units, and weighings.
var rowsStudy = strings.NewReplacer(`"PK"`, `"RW"`, "start = 2025-03-03", "start = 2025-01-06", "2025-03-17", "2025-01-07").Replace(packsStudy) +
	"[[attribute]]\nid = \"pH\"\nkind = \"measure\"\nlower = 4.0\nreplicates = 2\n"

// parts writes the results of a dataset with their days and tares, as far as they
// have any, those out of the analysis in brackets.
func parts(x *Record, d *study.Dataset) string {
	var out []string
	excluded := make(map[string]bool)
	for i := range d.Excluded {
		excluded[x.ResultID(&d.Excluded[i])] = true
	}
	for _, r := range x.Rows(d) {
		text := strings.Join(strings.Fields(fmt.Sprint(r.ID, r.Value, " ", r.Pulled, " ", r.Tested)), " ")
		for _, list := range [][]study.Result{d.Results, d.Excluded} {
			for i := range list {
				if y := &list[i]; x.ResultID(y) == r.ID && study.PartText(d.Study, y, study.PartTare) != "" {
					text += " less " + study.PartText(d.Study, y, study.PartTare)
				}
			}
		}
		if excluded[r.ID] {
			text = "(" + text + ")"
		}
		out = append(out, strings.Replace(text, r.ID, r.ID+" ", 1))
	}
	return strings.Join(out, "\n")
}

// touched writes what an event says it changed.
func touched(changes []study.Change) string {
	var out []string
	for _, c := range changes {
		out = append(out, fmt.Sprintf("%s %s %s to %s", c.ID, c.Part, c.Before, c.After))
	}
	return strings.Join(out, "\n")
}

// The day pulled, the day tested and the tare are amended one after the other, in a
// wide row, of a unit, and of readings that only their order tells apart. The event
// has what stood before of each result touched; every state can be looked at again,
// and a table that has the rows as they were is known.
func TestAmendRows(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(rowsStudy, "")
		wide := "batch,condition,pack,orientation,time,pulled,tested,unit,tare,viscosity,weight-loss\n" +
			"B1,40C75,tube,,0,2025-01-06,,u1,9.5,26000,110\n" +
			"B1,40C75,tube,,1M,2025-02-03,2025-02-04,u1,,25000,109\n" +
			"B1,40C75,tube,,1M,2025-02-03,2025-02-04,u2,,25100,\n"
		bare := "batch,condition,pack,orientation,time,pulled,attribute,value\n" +
			"B1,25C60,tube,,1M,2025-02-03,pH,5.1\n" +
			"B1,25C60,tube,,1M,2025-02-03,pH,5.2\n" +
			"B1,25C60,can,upright,1M,2025-02-03,pH,5.3\n"
		d.takeIn("RW", File{"wide.csv", []byte(wide)}, File{"bare.csv", []byte(bare)})
		// The check characters come from the ids that results lists.
		id := make(map[string]string)
		x := d.record("RW", AsOf{})
		for _, r := range x.Rows(d.dataset("RW", AsOf{})) {
			id[fmt.Sprintf("%s:%d %s", r.Table, r.Line, r.Attribute)] = r.ID
		}
		name := func(text string) string {
			for k, v := range id {
				text = strings.ReplaceAll(text, "<"+k+">", v)
			}
			return text
		}
		states := []string{name(`<wide.csv:2 viscosity> 26000 2025-01-06
<wide.csv:2 weight-loss> 110 2025-01-06 less 9.5
<wide.csv:3 viscosity> 25000 2025-02-03 2025-02-04
<wide.csv:3 weight-loss> 109 2025-02-03 2025-02-04 less 9.5
<wide.csv:4 viscosity> 25100 2025-02-03 2025-02-04
<bare.csv:2 pH> 5.1 2025-02-03
<bare.csv:3 pH> 5.2 2025-02-03
<bare.csv:4 pH> 5.3 2025-02-03`)}
		d.same("as taken in", parts(x, d.dataset("RW", AsOf{})), states[0])
		first := d.stands().Head.Seq
		for _, s := range []struct {
			of      string
			q       AmendRequest
			touched string
			edit    []string // of the state before: what is replaced by what
			detail  string
		}{
			{"wide.csv:3 viscosity", AmendRequest{Part: study.PartPulled, Value: "2025-02-04"},
				"<wide.csv:3 viscosity> pulled 2025-02-03 to 2025-02-04\n<wide.csv:3 weight-loss> pulled 2025-02-03 to 2025-02-04",
				[]string{"25000 2025-02-03", "25000 2025-02-04", "109 2025-02-03", "109 2025-02-04"},
				`{"part":"pulled","after":"2025-02-04","touched":[{"table":2,"line":3,"attribute":"viscosity","before":"2025-02-03"},{"table":2,"line":3,"attribute":"weight-loss","before":"2025-02-03"}]}`},
			{"wide.csv:4 viscosity", AmendRequest{Part: study.PartTested, Value: " 2025-02-10 "},
				"<wide.csv:4 viscosity> tested 2025-02-04 to 2025-02-10", []string{"25100 2025-02-03 2025-02-04", "25100 2025-02-03 2025-02-10"}, ""},
			{"bare.csv:3 pH", AmendRequest{Part: study.PartTested, Value: "2025-02-06"},
				"<bare.csv:3 pH> tested  to 2025-02-06", []string{"5.2 2025-02-03", "5.2 2025-02-03 2025-02-06"},
				`{"part":"tested","after":"2025-02-06","touched":[{"table":3,"line":3,"attribute":"pH"}]}`},
			{"bare.csv:3 pH", AmendRequest{Part: study.PartPulled, Value: "2025-02-05"},
				"<bare.csv:2 pH> pulled 2025-02-03 to 2025-02-05\n<bare.csv:3 pH> pulled 2025-02-03 to 2025-02-05",
				[]string{"5.1 2025-02-03", "5.1 2025-02-05", "5.2 2025-02-03", "5.2 2025-02-05"}, ""},
			{"wide.csv:3 weight-loss", AmendRequest{Part: study.PartTare, Value: "9.70"},
				"<wide.csv:2 weight-loss> tare 9.5 to 9.7\n<wide.csv:3 weight-loss> tare 9.5 to 9.7",
				[]string{"less 9.5", "less 9.7"}, ""},
			{"wide.csv:3 weight-loss", AmendRequest{Part: study.PartTare, Value: "9.5"},
				"<wide.csv:2 weight-loss> tare 9.7 to 9.5\n<wide.csv:3 weight-loss> tare 9.7 to 9.5",
				[]string{"less 9.7", "less 9.5"}, ""},
		} {
			s.q.ID, s.q.Reason = id[s.of], "typed wrong"
			out := d.amend(s.q)
			states = append(states, strings.NewReplacer(s.edit...).Replace(states[len(states)-1]))
			d.same("touched", touched(out.Changes), name(s.touched))
			d.same("results", parts(x, out.Dataset), states[len(states)-1])
			e := d.stands().Head
			d.same("the event", []any{e.Kind, e.Study, e.Subject, e.Reason, e.File}, []any{"amend-rows", "RW", id[s.of], "typed wrong", ""})
			if s.detail != "" {
				d.same("the detail", e.Detail, s.detail)
			}
			for _, c := range out.Changes {
				if c.Kind != study.Amended || c.By != "A. Technician" || c.Event != e.Seq || c.Reason != "typed wrong" {
					t.Errorf("%+v", c)
				}
			}
			d.same("read back", parts(x, d.dataset("RW", AsOf{})), states[len(states)-1])
			d.refusesAmend(s.q, " already")
		}
		for i, s := range states {
			d.same("results then", parts(x, d.dataset("RW", AsOf{Event: first + int64(i)})), s)
		}
		// Values and exclusions go on by the same ids.
		d.amend(AmendRequest{ID: id["wide.csv:3 viscosity"], Value: "25050", Reason: "misread"})
		d.amend(AmendRequest{ID: id["bare.csv:2 pH"], Exclude: true, Reason: "spilt"})
		d.amend(AmendRequest{ID: id["bare.csv:2 pH"], Part: study.PartPulled, Value: "2025-02-06", Reason: "looked up"})
		last := strings.NewReplacer("25000", "25050", id["bare.csv:2 pH"]+" 5.1 2025-02-05", "("+id["bare.csv:2 pH"]+" 5.1 2025-02-06)",
			"5.2 2025-02-05", "5.2 2025-02-06").Replace(states[len(states)-1])
		d.same("results", parts(x, d.dataset("RW", AsOf{})), last)
		// The tables as they were, grown by a row, say nothing else: of wide.csv two
		// values of line 3 and one of line 4 have an earlier day, and line 2 an earlier tare
		// that stands again.
		grown := d.takeIn("RW", File{"grown.csv", []byte(wide + "B2,40C75,tube,,1M,2025-02-06,2025-02-07,u3,,25200,\n")}, File{"bare-again.csv", []byte(bare + "\n")})
		d.same("taken in", fmt.Sprint(grown.Tables[0].Results, grown.Tables[0].Again, grown.Tables[0].Superseded, grown.Tables[1].Results, grown.Tables[1].Again, grown.Tables[1].Superseded), "1 5 3 0 3 2")
		now := d.dataset("RW", AsOf{})
		if got := parts(d.record("RW", AsOf{}), now); !strings.HasPrefix(got, last) {
			t.Errorf("%s\nwant %s", got, last)
		}
		for _, w := range grown.Warnings {
			if w.Code != "pull-not-recorded" {
				t.Errorf("%+v", w)
			}
		}
		// A new row with the old tare is a second one of the unit, and two days for one
		// pull, unit and replicate stay a fault where none of them was amended.
		d.amend(AmendRequest{ID: id["wide.csv:2 weight-loss"], Part: study.PartTare, Value: "9.8", Reason: "other tube"})
		d.refusesTakeIn("RW", []File{{"t.csv", []byte("batch,condition,pack,time,unit,tare,weight-loss\nB1,40C75,tube,10D,u1,9.5,109.5\n")}}, "a unit has one tare")
		d.refusesTakeIn("RW", []File{{"t.csv", []byte(strings.Replace(wide, "2025-02-03,2025-02-04,u2", "2025-02-02,2025-02-04,u2", 1))}}, "give the same day")
	})
}

// What a day or a tare cannot be is told as of a table, and nothing is changed.
func TestAmendRowsRefuses(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		d.takeIn("SB", File{"a.csv", []byte("batch,condition,time,pulled,tested,attribute,unit,value\n" +
			"B1,25C60,3M,2025-04-14,2025-04-14,assay,1,99.1\n" +
			"B1,25C60,,2025-04-11,,assay,2,99.2\n")})
		d.takeIn("SB", File{"b.csv", results("B1 3M 1 99.1", "B2 3M 2 99.5")})
		for _, c := range []struct {
			q    AmendRequest
			says string
		}{
			{AmendRequest{ID: "R2-2-assay-E", Part: study.PartPulled, Value: "2025-04-12"}, "changing a result needs a reason"},
			{AmendRequest{ID: "R2-2-assay-E", Part: study.PartPulled, Value: "12.04.2025", Reason: "typed"}, "12.04.2025"},
			{AmendRequest{ID: "R2-2-assay-E", Part: study.PartPulled, Value: "2025-02-30", Reason: "typed"}, "does not exist in the calendar"},
			{AmendRequest{ID: "R2-2-assay-E", Part: study.PartPulled, Value: "2025-04-15", Reason: "typed"}, "2025-04-15 is in the future"},
			{AmendRequest{ID: "R2-2-assay-E", Part: study.PartPulled, Value: "2025-01-12", Reason: "typed"}, "a.csv (event 2):2: pulled: 2025-01-12 is before time zero"},
			{AmendRequest{ID: "R2-2-assay-E", Part: study.PartTested, Value: "2025-04-13", Reason: "typed"}, "a.csv (event 2):2: tested: 2025-04-13 is before the pull, on 2025-04-14"},
			{AmendRequest{ID: "R2-2-assay-E", Part: study.PartPulled, Value: "2025-04-14", Reason: "typed"}, "R2-2-assay-E was pulled on 2025-04-14 already"},
			{AmendRequest{ID: "R2-2-assay-E", Part: study.PartTested, Value: "2025-04-14", Reason: "typed"}, "R2-2-assay-E was tested on 2025-04-14 already"},
			{AmendRequest{ID: "R2-2-assay-E", Part: study.PartTare, Value: "9.5", Reason: "typed"}, "R2-2-assay-E is no weighing"},
			{AmendRequest{ID: "R2-2-assay-E", Part: study.PartTare, Value: "9,5", Reason: "typed"}, `"9,5" is no tare in g`},
			// By the 11th of March line 3 was no pull of the study but one 57 days in.
			{AmendRequest{ID: resultID(2, 3, "assay"), Part: study.PartPulled, Value: "2025-03-11", Reason: "typed"}, "names no planned time: by 2025-03-11 it would stand at 57D and not at 3M"},
			{AmendRequest{ID: "R3-2-assay-9", Part: study.PartPulled, Value: "2025-04-11", Reason: "typed"}, "which is the one to change: R2-2-assay-E"},
			{AmendRequest{ID: "R2-9-assay-A", Part: study.PartTested, Value: "2025-04-14", Reason: "typed"}, "there is no result here to change"},
			{AmendRequest{Pull: "SB-25C60-3M", Value: "99", Reason: "typed"}, "of a whole pull only a day can be amended"},
			{AmendRequest{Pull: "SB-25C60-4M", Part: study.PartPulled, Value: "2025-04-11", Reason: "typed"}, "there are SB-25C60-3M"},
			{AmendRequest{Pull: "SB-25C60-6M", Part: study.PartPulled, Value: "2025-04-11", Reason: "typed"}, "no results of pull SB-25C60-6M were taken in"},
			{AmendRequest{Pull: "SB-25C60-3M", Arms: []string{"B9"}, Part: study.PartPulled, Value: "2025-04-11", Reason: "typed"}, "its arms are B1, B2"},
		} {
			d.refusesAmend(c.q, c.says)
		}
		// Within the window of its pull, line 3 may be moved.
		d.amend(AmendRequest{ID: resultID(2, 3, "assay"), Part: study.PartPulled, Value: "2025-04-10", Reason: "typed"})
		// A study that has lost the attribute of a row that was amended is refused.
		d.refusesRegister(strings.Replace(smallStudy, `id = "assay"`, `id = "purity"`, 1), "renamed", "assay")
	})
}

// The day of a whole pull, or of an arm of it, is one event; a record of the pull
// that says another day is told of.
func TestAmendPull(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		d.pull(PullRequest{Pull: "SB-25C60-3M", Day: day("2025-04-14")})
		table := "batch,condition,time,pulled,attribute,unit,value\n" +
			"B1,25C60,3M,2025-04-14,assay,1,99.1\n" +
			"B1,25C60,3M,2025-04-14,assay,2,99.2\n" +
			"B2,25C60,3M,2025-04-11,assay,1,99.3\n" +
			"B2,25C60,3M,,assay,2,99.4\n" + // the record's day
			"B1,25C60,0,2025-01-13,assay,1,99.9\n"
		d.takeIn("SB", File{"a.csv", []byte(table)})
		out := d.amend(AmendRequest{Pull: "sb-25c60-3m", Part: study.PartPulled, Value: "2025-04-11", Reason: "month of another study"})
		want := "R3-2-assay-9 pulled 2025-04-14 to 2025-04-11\nR3-3-assay-N pulled 2025-04-14 to 2025-04-11\nR3-5-assay-N pulled 2025-04-14 to 2025-04-11"
		strip := func(text string) string { // of check characters
			var out []string
			for line := range strings.Lines(text) {
				before, after, _ := strings.Cut(line, " ")
				out = append(out, before[:len(before)-1]+" "+after)
			}
			return strings.Join(out, "")
		}
		d.same("touched", strip(touched(out.Changes)), strip(want))
		d.same("warned", fmt.Sprint(len(out.Warnings), " ", out.Warnings[0].Code, " ", out.Warnings[0].Where), "1 recorded-otherwise SB-25C60-3M")
		e := d.stands().Head
		d.same("the event", []any{e.Seq, e.Kind, e.Subject}, []any{4, "amend-rows", "SB-25C60-3M"})
		d.refusesAmend(AmendRequest{Pull: "SB-25C60-3M", Part: study.PartPulled, Value: "2025-04-11", Reason: "typed"}, "every result of pull SB-25C60-3M was pulled on 2025-04-11 already")
		// The record is corrected by itself, and nothing is told then.
		d.withdraw("SB-25C60-3M")
		d.pull(PullRequest{Pull: "SB-25C60-3M", Day: day("2025-04-10")})
		out = d.amend(AmendRequest{Pull: "SB-25C60-3M", Arms: []string{" b2 "}, Part: study.PartPulled, Value: "2025-04-10", Reason: "as recorded"})
		d.same("touched", len(out.Changes), 2)
		d.same("warned", len(out.Warnings), 0)
		var days []string
		now := d.dataset("SB", AsOf{})
		for i := range now.Results {
			days = append(days, now.Results[i].Pulled.String())
		}
		d.same("days", days, "[2025-04-11 2025-04-11 2025-04-10 2025-04-10 2025-01-13]")
		// And of time zero.
		d.amend(AmendRequest{Pull: "SB-T0", Part: study.PartTested, Value: "2025-01-14", Reason: "left out"})
		d.same("as the table has it again", d.takeIn("SB", File{"b.csv", []byte(table + "\n")}).Tables[0].Superseded, 3)
	})
}
