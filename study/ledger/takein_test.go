package ledger

import (
	"strings"
	"testing"

	"shelfspan/study"
)

// tables writes what became of tables: their names, events, whether they were
// known, and their values that were new, there already, and amended since.
func (d *desk) tables(out *IntakeOutcome, want ...study.TakenTable) {
	d.Helper()
	for i := range out.Tables {
		out.Tables[i].By, out.Tables[i].At = strings.TrimPrefix(out.Tables[i].By, "A. Technician"), strings.TrimPrefix(out.Tables[i].At, "2025-04-14T12:00:00+02:00")
	}
	d.same("tables", out.Tables, want)
}

func TestTakeIn(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		a, b := results("B1 3M 1 99.1", "B1 3M 2 99.3"), results("B2 3M 1 99.4")
		d.tables(d.takeIn("SB", File{"a.csv", a}, File{"b.csv", b}),
			study.TakenTable{File: "a.csv", SHA256: sumOf(string(a)), Event: 2, Rows: 2, Results: 2},
			study.TakenTable{File: "b.csv", SHA256: sumOf(string(b)), Event: 3, Rows: 1, Results: 1})
		d.same("results", values(d.dataset("SB", AsOf{})), "B1 3M 1 99.1, B1 3M 2 99.3, B2 3M 1 99.4")
		e := d.stands().Head
		d.same("the event", []string{string(e.Kind), e.Study, e.Subject, e.File, e.Detail}, []string{"intake", "SB", "b.csv", sumOf(string(b)), `{"rows":1,"results":1}`})

		// The same bytes again change nothing, under another name or from somebody else.
		later := d.on("2025-05-02")
		later.who.By = "B. Formulator"
		d.tables(later.takeIn("SB", File{"copy.csv", a}), study.TakenTable{File: "copy.csv", SHA256: sumOf(string(a)), Event: 2, Known: true})
		if v := d.stands(); v.Events != 3 || v.Files != 4 {
			t.Errorf("%+v", v)
		}

		// A table that has grown brings what is new in it; known ones beside it stay known.
		c := results("B2 3M 1 99.40", "B1 3M 2 99.3", "B1 3M 1 99.1", "B2 3M 2 99.5")
		d.tables(d.takeIn("SB", File{"c.csv", c}, File{"b.csv", b}),
			study.TakenTable{File: "c.csv", SHA256: sumOf(string(c)), Event: 4, Rows: 4, Results: 1, Again: 3},
			study.TakenTable{File: "b.csv", SHA256: sumOf(string(b)), Event: 3, Known: true})
		d.same("results", values(d.dataset("SB", AsOf{})), "B1 3M 1 99.1, B1 3M 2 99.3, B2 3M 1 99.4, B2 3M 2 99.5")
		// One that says nothing new is kept all the same: somebody handed it in.
		again := results("B1 3M 2 99.3")
		d.tables(d.takeIn("SB", File{"again.csv", again}), study.TakenTable{File: "again.csv", SHA256: sumOf(string(again)), Event: 5, Rows: 1, Again: 1})
		d.same("what the event says", d.stands().Head.Detail, `{"rows":1,"results":0,"again":1}`)
		x := d.record("SB", AsOf{})
		var names []any
		for _, table := range x.Tables {
			names = append(names, table.Name, table.Event.Seq, table.Rows, table.Results, table.Again)
		}
		d.same("tables", names, "[a.csv 2 2 2 0 b.csv 3 1 1 0 c.csv 4 4 1 3 again.csv 5 1 0 1]")
	})
}

// All of the files or none, and nothing of a file that has a fault anywhere.
func TestTakeInWholeOrNot(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		good, other := File{"good.csv", results("B1 3M 1 99.1")}, File{"other.csv", results("B2 3M 1 99.4")}
		blank := []byte("batch,condition,time,attribute,unit,value\nB1,25C60,3M,assay,2,\n")
		for _, c := range []struct {
			files []File
			says  []string
		}{
			{[]File{good, {"bad.csv", results("B1 3M 2 99.2", "B3 3M 1 99.2", "B1 3M 3 thick")}},
				[]string{`bad.csv:3: batch: no batch "B3"; the study has B1, B2`, `bad.csv:4: value: "thick" is no number`}},
			{[]File{good, {"empty.csv", results()}, other}, []string{"empty.csv:1: has a header and no results below it"}},
			{[]File{{"blank.csv", blank}, good, {"blank2.csv", append(blank, '\n')}},
				[]string{"blank.csv: has no values; fill in the column value\nblank2.csv: has no values"}},
			{[]File{good, {"same.csv", good.Data}}, []string{"same.csv has the same bytes as another of these files", "name each file once"}},
			{[]File{good, {"twice.csv", results("B1 3M 1 99.2")}}, []string{"twice.csv:2: value: ", "is 99.1 already (line 2 of good.csv), and here 99.2"}},
			{[]File{{"a\nb.csv", good.Data}}, []string{"the name of the file holds a "}},
			{[]File{{strings.Repeat("x", 501), good.Data}}, []string{"the name of the file is longer than 500 characters"}},
		} {
			d.refusesTakeIn("SB", c.files, c.says...)
		}
		d.refusesTakeIn("SC", []File{good}, `the ledger has no study "SC"`, "did you mean SB?")
		d.refusesTakeIn("a study of another name", []File{good}, "it has SB")
		huge := File{"huge.csv", make([]byte, maxFile+1)}
		d.refusesTakeIn("SB", []File{good, huge}, "huge.csv is larger than 500 MB", "in parts")
		d.same("results", values(d.dataset("SB", AsOf{})), "")
	})
}

// A known result with another value is refused whole, and how it is amended is
// told; so is a value that it never had after it was amended.
func TestTakeInAnotherValue(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		d.takeIn("SB", File{"a.csv", results("B1 3M 1 99.1", "B1 3M 2 99.3")})
		d.refusesTakeIn("SB", []File{{"b.csv", results("B2 3M 1 99.4", "B1 3M 2 98.3")}},
			"b.csv:3: value: assay of batch B1 at 25C60, time 3M, unit 2 is 99.3 already (line 3 of a.csv (event 2)), and here 98.3; "+
				"where it is wrong: shelfspan amend R2-3-assay-O --value 98.3 --reason TEXT")
		d.amend(AmendRequest{ID: "R2-3-assay-O", Value: "98.3", Reason: "misread"})
		d.refusesTakeIn("SB", []File{{"b.csv", results("B1 3M 2 97.3")}}, "is 98.3 already", "shelfspan amend R2-3-assay-O --value 97.3")
		// What it has now and what it had are no other values; the amended one stays.
		had, has := results("B2 3M 1 99.4", "B1 3M 2 99.3"), results("B1 3M 2 98.3")
		d.tables(d.takeIn("SB", File{"had.csv", had}, File{"has.csv", has}),
			study.TakenTable{File: "had.csv", SHA256: sumOf(string(had)), Event: 4, Rows: 2, Results: 1, Again: 1, Superseded: 1},
			study.TakenTable{File: "has.csv", SHA256: sumOf(string(has)), Event: 5, Rows: 1, Again: 1})
		d.same("results", values(d.dataset("SB", AsOf{})), "B1 3M 1 99.1, B1 3M 2 98.3, B2 3M 1 99.4")
		// One out of the analysis is there, too.
		d.amend(AmendRequest{ID: "R2-2-assay-E", Exclude: true, Reason: "spilt"})
		d.refusesTakeIn("SB", []File{{"c.csv", results("B1 3M 1 90.0")}}, "is 99.1 already", "shelfspan amend R2-2-assay-E --value 90")
		d.takeIn("SB", File{"c.csv", results("B1 3M 1 99.10")})
		d.same("results", values(d.dataset("SB", AsOf{})), "B1 3M 2 98.3, B2 3M 1 99.4, (B1 3M 1 99.1)")
	})
}

// The day on which samples were taken is that of the first record of their arm; of
// a pull that nobody recorded it is not known, and told.
func TestTakeInKnowsPulls(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where).on("2025-08-01")
		d.register(smallStudy, "")
		d.pull(PullRequest{Pull: "SB-25C60-3M", Arms: []string{"B1"}, Units: number(1), Day: day("2025-04-16")})
		d.pull(PullRequest{Pull: "SB-25C60-3M", Arms: []string{"B1"}, Day: day("2025-04-11")})
		unrecorded := func(out *IntakeOutcome) (ids []string) {
			for _, w := range out.Warnings {
				if w.Code == "pull-not-recorded" {
					ids = append(ids, w.Where)
				}
			}
			return ids
		}
		d.same("told", unrecorded(d.takeIn("SB", File{"a.csv", results("B1 3M 1 99.1")})), "[]")
		out := d.takeIn("SB", File{"b.csv", results("B2 3M 1 99.4", "B1 6M 1 98.8", "B2 6M 1 98.7", "B1 0 1 100")})
		d.same("told", unrecorded(out), "[SB-25C60-3M SB-25C60-6M SB-T0]")
		days := func() (out []string) {
			for _, r := range d.dataset("SB", AsOf{}).Results {
				out = append(out, r.Pulled.String())
			}
			return out
		}
		d.same("pulled", days(), "[2025-04-11    ]")
		// What was told of one table is not told of the next.
		d.same("told", unrecorded(d.takeIn("SB", File{"c.csv", results("B1 3M 2 99.1")})), "[]")
		// Recorded later, the days are known of what was taken in before; taken back,
		// they are not.
		d.pull(PullRequest{Pull: "SB-25C60-6M", Day: day("2025-07-15")})
		d.same("pulled", days(), "[2025-04-11  2025-07-15 2025-07-15  2025-04-11]")
		d.withdraw("SB-25C60-3M")
		d.same("pulled", days(), "[  2025-07-15 2025-07-15  ]")
	})
}

// Warnings are told of the table that brings them.
func TestTakeInWarnsOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		offPlan := func(out *IntakeOutcome) (n int) {
			for _, w := range out.Warnings {
				if w.Code == "off-plan" {
					n++
				}
			}
			return n
		}
		if n := offPlan(d.takeIn("SB", File{"a.csv", results("B1 4M 1 99.1")})); n != 1 {
			t.Errorf("told %d times", n)
		}
		if n := offPlan(d.takeIn("SB", File{"b.csv", results("B1 3M 1 99.1")})); n != 0 {
			t.Errorf("told again %d times", n)
		}
	})
}
