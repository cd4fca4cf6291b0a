package ledger

import (
	"strings"
	"testing"

	"shelfspan/study"
	"shelfspan/study/unitid"
)

// changes writes what a dataset says was changed.
func changes(d *study.Dataset) string {
	var out []string
	for i := range d.Changes {
		c := &d.Changes[i]
		text := c.ID + " " + string(c.Kind)
		if c.Kind == study.Amended {
			text += " " + c.Before + " to " + c.After
		} else {
			text += " at " + c.Before
		}
		out = append(out, text+": "+c.Reason)
	}
	return strings.Join(out, "; ")
}

// One result is amended, taken out, amended while it is out, put back and amended
// once more. At each step the dataset has it as it stands, and says all that was
// done to it; what stood before stays readable.
func TestAmendChain(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		d.takeIn("SB", File{"a.csv", results("B1 3M 1 99.1", "B1 3M 2 99.3")})
		const id = "R2-2-assay-E"
		steps := []struct {
			q               AmendRequest
			kind            study.EventKind
			detail          string
			results, change string
		}{
			{AmendRequest{ID: id, Value: "98.90", Reason: "misread"}, study.EventAmend, `"before":"99.1","after":"98.90"}`,
				"B1 3M 1 98.9, B1 3M 2 99.3", "R2-2-assay-E amended 99.1 to 98.90: misread"},
			{AmendRequest{ID: id, Exclude: true, Reason: "spilt"}, study.EventExclude, `"before":"98.9"}`,
				"B1 3M 2 99.3, (B1 3M 1 98.9)", "R2-2-assay-E excluded at 98.9: spilt"},
			{AmendRequest{ID: "r2-2-ASSAY-e", Value: "<98", Reason: "read again"}, study.EventAmend, `"before":"98.9","after":"\u003c98"}`,
				"B1 3M 2 99.3, (B1 3M 1 <98)", "R2-2-assay-E amended 98.9 to <98: read again"},
			{AmendRequest{ID: " " + id + " ", Restore: true, Reason: "was not"}, study.EventRestore, `"before":"\u003c98"}`,
				"B1 3M 1 <98, B1 3M 2 99.3", "R2-2-assay-E restored at <98: was not"},
			{AmendRequest{ID: id, Value: " 99.1 ", Reason: "right at first"}, study.EventAmend, `"before":"\u003c98","after":"99.1"}`,
				"B1 3M 1 99.1, B1 3M 2 99.3", "R2-2-assay-E amended <98 to 99.1: right at first"},
		}
		all := ""
		for i, s := range steps {
			out := d.amend(s.q)
			all = strings.TrimPrefix(all+"; "+s.change, "; ")
			d.same("results", values(out.Dataset), s.results)
			d.same("changes", changes(out.Dataset), all)
			e := d.stands().Head
			d.same("the event", []any{e.Seq, e.Kind, e.Study, e.Subject, e.Reason, e.File, e.Detail},
				[]any{3 + i, s.kind, "SB", id, s.q.Reason, "", `{"table":2,"line":2,"attribute":"assay",` + s.detail})
			if c := out.Changes[0]; c.ID != id || c.Event != e.Seq || c.By != "A. Technician" || c.At != e.At || c.Result.Line != 2 ||
				out.Dataset.Ledger.Event != e.Seq || out.Dataset.Ledger.Hash != e.Hash {
				t.Errorf("%+v, %+v", c, out.Dataset.Ledger)
			}
			// What is read back from the ledger is what the amendment gave.
			read := d.dataset("SB", AsOf{})
			d.same("results read back", values(read), s.results)
			d.same("changes read back", changes(read), all)
		}
		// Each step can still be looked at.
		all = ""
		for i, s := range steps {
			then := d.dataset("SB", AsOf{Event: int64(3 + i)})
			all = strings.TrimPrefix(all+"; "+s.change, "; ")
			d.same("results then", values(then), s.results)
			d.same("changes then", changes(then), all)
		}
		d.same("as it was taken in", values(d.dataset("SB", AsOf{Event: 2})), "B1 3M 1 99.1, B1 3M 2 99.3")
	})
}

func TestAmendRefuses(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		d.takeIn("SB", File{"a.csv", results("B1 3M 1 99.1", "B1 3M 2 99.3")})
		d.takeIn("SB", File{"b.csv", results("B1 3M 1 99.1", "B2 3M 2 99.5")})
		for _, c := range []struct {
			q    AmendRequest
			says string
		}{
			{AmendRequest{ID: "R2-2-assay-E", Value: "98.9"}, "changing a result needs a reason"},
			{AmendRequest{ID: "R2-2-assay-E", Exclude: true, Reason: " "}, "changing a result needs a reason"},
			{AmendRequest{ID: "R2-2-assay-E", Value: "98.9", Reason: "a\x1b[2Jb"}, "the reason holds a character that is not seen"},
			{AmendRequest{ID: "R2-2-assay-E", Value: strings.Repeat("9", 101), Reason: "misread"}, "the value is longer than 100 characters"},
			{AmendRequest{ID: "R2-2-assay-E", Value: "99.10", Reason: "misread"}, "R2-2-assay-E is 99.1 already"},
			{AmendRequest{ID: "R2-2-assay-E", Value: "thick", Reason: "misread"}, `a.csv (event 2):2: value: "thick" is no number`},
			{AmendRequest{ID: "R2-2-assay-E", Value: "  ", Reason: "misread"}, "a.csv (event 2):2: value: is amended to nothing"},
			{AmendRequest{ID: "R2-2-assay-E", Restore: true, Reason: "was not"}, "R2-2-assay-E is in the analysis"},
			// The ids by an independent reckoning of ISO 7064 MOD 37,36.
			{AmendRequest{ID: "R2-2-assay-F", Value: "98.9", Reason: "misread"}, `the id "R2-2-assay-F" is mistyped: its check character does not fit`},
			{AmendRequest{ID: "R2-3-assay-E", Value: "98.9", Reason: "misread"}, "is mistyped"},
			{AmendRequest{ID: "R99-2-assay-3", Value: "98.9", Reason: "misread"}, "the ledger has no result R99-2-assay-3"},
			{AmendRequest{ID: "R1-2-assay-C", Value: "98.9", Reason: "misread"}, "the ledger has no result R1-2-assay-C"}, // the protocol
			{AmendRequest{ID: "R3-2-nothing-P", Value: "98.9", Reason: "misread"}, "the ledger has no result R3-2-nothing-P"},
			{AmendRequest{ID: "R2-9-assay-A", Value: "98.9", Reason: "misread"}, "a.csv (event 2):9: assay: there is no result here to change"},
			{AmendRequest{ID: "R2-1-assay-C", Exclude: true, Reason: "the header"}, "a.csv (event 2):1: assay: there is no result here to change"},
			// What repeats another result is not the one to change.
			{AmendRequest{ID: "R3-2-assay-9", Value: "98.9", Reason: "misread"}, "b.csv (event 3):2: assay: this result repeats that on line 2 of a.csv (event 2), which is the one to change: R2-2-assay-E"},
			{AmendRequest{ID: "R3-2-assay-9", Exclude: true, Reason: "misread"}, "which is the one to change: R2-2-assay-E"},
		} {
			d.refusesAmend(c.q, c.says)
		}
		for _, id := range []string{"", "-", "R", "R2", "R2-2", "R2-2-E", "R2-2--E", "Q2-2-assay-E", "R-2-assay-E", "R2-x-assay-E", "R0-2-assay-E", "R2-0-assay-E", "R2-2-assay-EE", "R2-2-assay-", "R2-2x-assay-E", "R+2-2-assay-E", "R2--2-assay-E", "R99999999999999999999-2-assay-E"} {
			d.refusesAmend(AmendRequest{ID: id, Value: "98.9", Reason: "misread"}, "is no id of a result")
		}
		// A blank in R22-2-assay-R, whose check character it does not change, makes it no R2-2.
		d.refusesAmend(AmendRequest{ID: "R2 2-2-assay-R", Value: "98.9", Reason: "misread"}, "is no id of a result")
		d.amend(AmendRequest{ID: "R2-2-assay-E", Exclude: true, Reason: "spilt"})
		d.refusesAmend(AmendRequest{ID: "R2-2-assay-E", Exclude: true, Reason: "spilt"}, "R2-2-assay-E is out of the analysis already")
		d.refusesAmend(AmendRequest{ID: "R2-2-assay-E", Value: "99.1", Reason: "misread"}, "R2-2-assay-E is 99.1 already")
	})
}

// A result of the first table that a later one has again is amended by its own id,
// and one that the later table brought by that table's.
func TestAmendOfSeveralTables(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		d.takeIn("SB", File{"a.csv", results("B1 3M 1 99.1", "B1 3M 2 99.3")})
		d.takeIn("SB", File{"b.csv", results("B1 3M 1 99.1", "B2 3M 2 99.5")})
		d.amend(AmendRequest{ID: "R2-2-assay-E", Value: "97.1", Reason: "misread"})
		d.amend(AmendRequest{ID: "R3-3-assay-N", Value: "97.5", Reason: "misread, too"})
		d.same("results", values(d.dataset("SB", AsOf{})), "B1 3M 1 97.1, B1 3M 2 99.3, B2 3M 2 97.5")
		// That one is out says nothing of what stands on the same line of another table.
		d.amend(AmendRequest{ID: "R2-3-assay-O", Exclude: true, Reason: "spilt"})
		d.amend(AmendRequest{ID: "R3-3-assay-N", Exclude: true, Reason: "spilt, too"})
		d.amend(AmendRequest{ID: "R3-3-assay-N", Restore: true, Reason: "was not"})
		d.refusesAmend(AmendRequest{ID: "R3-3-assay-N", Restore: true, Reason: "was not"}, "R3-3-assay-N is in the analysis")
		// Another study with the same results is not touched by it, nor this one by a
		// change of that.
		d.register(strings.Replace(smallStudy, `"SB"`, `"SC"`, 1), "")
		d.takeIn("SC", File{"a.csv", results("B1 3M 1 99.1", "B1 3M 2 99.3")})
		d.amend(AmendRequest{ID: "R10-2-assay-V", Exclude: true, Reason: "spilt"})
		d.same("of the one", values(d.dataset("SB", AsOf{})), "B1 3M 1 97.1, B2 3M 2 97.5, (B1 3M 2 99.3)")
		d.same("of the other", values(d.dataset("SC", AsOf{})), "B1 3M 2 99.3, (B1 3M 1 99.1)")
	})
}

// An id is read in the one way it is printed, letters of either case, even where
// the check character of another way would fit.
func TestIDsOfResults(t *testing.T) {
	for body, good := range map[string]bool{
		"R2-3-assay": true, "r2-3-assay": true, "R9223372036854775807-9223372036854775807-a-b": true,
		"R+2-3-assay": false, "R2-+3-assay": false, "R02-3-assay": false, "R2-3x-assay": false, "R2x-3-assay": false, "R0-3-assay": false,
		"R2-0-assay": false, "R-2-3-assay": false, "R9223372036854775808-3-assay": false, "R2-3-": false, "R2 -3-assay": false, "R2--3-assay": false,
	} {
		_, _, _, err := parseResultID(body + "-" + string(unitid.CheckCharacter(body)))
		if (err == nil) != good {
			t.Errorf("%s: %v", body, err)
		}
	}
}
