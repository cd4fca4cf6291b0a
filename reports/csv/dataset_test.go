package csv

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/study"
	"shelfspan/study/intake"
	"shelfspan/study/protocol"
)

const balm = `
[study]
id = "MB-26"
start = 2025-01-13
[[condition]]
id = "25C60"
role = "long-term"
temperature = 25
humidity = 60
pulls = ["0", "3M", "6M", "12M"]
[[condition]]
id = "40C75"
role = "accelerated"
temperature = 40
humidity = 75
pulls = ["0", "1M", "3M"]
[[condition]]
id = "freeze"
role = "cycling"
cycle_hours = 48
pulls = ["5C"]
[[batch]]
id = "B1"
[[batch]]
id = "B2"
placed = 2025-02-03
[[pack]]
id = "tube"
[[pack]]
id = "jar"
tare = 30
orientations = ["upright", "inverted"]
[[attribute]]
id = "assay"
unit = "%"
kind = "measure"
lower = 90
replicates = 3
[[attribute]]
id = "pH"
kind = "measure"
lower = 5
units = 3
[[attribute]]
id = "loss"
unit = "%"
kind = "weighing"
upper = 2
[[attribute]]
id = "smell"
kind = "grade"
grades = ["=none", "+", "@much", "-bad"]
upper = 1
[[attribute]]
id = "leak"
kind = "pass-fail"
`

func balmStudy(t interface{ Fatal(...any) }) *study.Study {
	s, err := protocol.Read("balm.toml", []byte(balm))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

var columns = []string{"batch", "condition", "pack", "orientation", "time", "pulled", "attribute", "value", "unit", "replicate", "tare", "tested", "analyst", "method", "comment"}

// labTable draws a table as labs write them: with and without labels, planned
// times and days, on and off the plan, and with texts that are no plain words.
func labTable(t *rapid.T, s *study.Study) string {
	pick := func(name string, of ...string) string { return rapid.SampledFrom(of).Draw(t, name) }
	var b strings.Builder
	w := csv.NewWriter(&b)
	w.Write(columns)
	labelled := rapid.Bool().Draw(t, "labelled")
	for n := range rapid.IntRange(1, 12).Draw(t, "rows") {
		batch := rapid.IntRange(0, len(s.Batches)-1).Draw(t, "batch")
		condition := rapid.IntRange(0, len(s.Conditions)-1).Draw(t, "condition")
		pulls := append([]study.Duration{{}, {N: 100, Unit: study.Days}, {N: 4, Unit: study.Months}}, s.Conditions[condition].Pulls...)
		at := rapid.SampledFrom(pulls).Draw(t, "at")
		day := at.AddTo(s.TimeZero(batch), s.Conditions[condition].CycleHours) + study.Date(rapid.IntRange(-1, 40).Draw(t, "late"))
		time, pulled := at.String(), day.String()
		switch pick("known", "time", "day", "both") {
		case "time":
			pulled = ""
		case "day":
			time = ""
		}
		row := map[string]string{
			"batch": s.Batches[batch].ID, "condition": s.Conditions[condition].ID, "pack": pick("pack", "tube", "jar"), "time": time, "pulled": pulled,
			"attribute": pick("attribute", "assay", "pH", "loss", "smell", "leak"),
			"analyst":   pick("analyst", "", "=HYPERLINK(1)", "'tis Ann", "'=1"), "method": pick("method", "", "+HPLC", "M-1"),
			"comment": pick("comment", "", "two\nlines, \"quoted\"", "@x", "-"),
		}
		if at.IsZero() && rapid.Bool().Draw(t, "bare") {
			row["condition"] = ""
		}
		if row["pack"] == "jar" && (row["condition"] != "" && !at.IsZero() || rapid.Bool().Draw(t, "stands")) {
			row["orientation"] = pick("orientation", "upright", "inverted")
		}
		if labelled || row["attribute"] == "loss" {
			row["unit"] = pick("unit", "1", "2", "-5", "=U", "MB 1/2")
			if labelled {
				row["replicate"] = fmt.Sprint(n)
			}
		}
		switch row["attribute"] {
		case "loss":
			row["value"] = fmt.Sprint(rapid.Float64Range(100, 150).Draw(t, "mass"))
			row["tare"] = pick("tare", "", "", "31.5")
		case "smell":
			row["value"] = pick("grade", "=none", "+", "@much", "-bad", "1")
		case "leak":
			row["value"] = pick("leak", "pass", "FAIL")
		default:
			row["value"] = pick("sign", "", "", "<", ">") + fmt.Sprint(rapid.OneOf(rapid.Float64Range(-1e3, 1e3), rapid.SampledFrom([]float64{0, 1e300, 1e-300, 0.1})).Draw(t, "value"))
		}
		record := make([]string, len(columns))
		for i, c := range columns {
			record[i] = row[c]
		}
		w.Write(record)
	}
	w.Flush()
	return b.String()
}

// facts gives what a dataset says of its results, apart from where it was read.
func facts(d *study.Dataset) string {
	var lines []string
	for k, list := range [][]study.Result{d.Results, d.Excluded} {
		for _, r := range list {
			texts := ""
			for _, i := range []*uint32{&r.Unit, &r.Replicate, &r.Analyst, &r.Method, &r.Comment} {
				texts += fmt.Sprintf(" %q", d.Text(*i))
				*i = 0
			}
			r.Line, r.Input, r.Numbered = 0, 0, false // the written table has the numbers as labels
			lines = append(lines, fmt.Sprintf("%d %+v%s", k, r, texts))
		}
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// What report writes beside a summary says what its inputs said, whatever the
// tables look like and whatever a ledger changed in them; and written from itself
// it is the same table.
func TestDatasetIsReadBack(t *testing.T) {
	taken, changed := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		s := balmStudy(t)
		table := labTable(t, s)
		source := intake.Source{Name: "lab.csv", Reader: strings.NewReader(table)}
		var d *study.Dataset
		var err error
		byLedger := rapid.Bool().Draw(t, "ledger")
		if !byLedger {
			d, err = intake.Read(s, source)
		} else {
			// A change that meets no result is a fault, so that several are tried.
			for range 12 {
				cell := intake.Cell{Line: rapid.IntRange(2, max(2, strings.Count(table, "\n"))).Draw(t, "line"), Attribute: rapid.IntRange(0, len(s.Attributes)-1).Draw(t, "attribute")}
				one := intake.Source{Name: "lab.csv", Reader: strings.NewReader(table), Corrections: map[intake.Cell][]intake.Correction{cell: {{Exclude: true}}}}
				if d, _, err = intake.ReadAll(s, intake.Options{Repeats: true}, one); err == nil {
					break
				}
			}
			if err != nil {
				d, _, err = intake.ReadAll(s, intake.Options{Repeats: true}, source)
			}
		}
		if err != nil {
			t.Skip("the table has a fault")
		}
		taken++
		if len(d.Excluded) > 0 {
			changed++
		}
		for i := range d.Excluded {
			d.Changes = append(d.Changes, study.Change{ID: "R1-" + fmt.Sprint(i), Kind: study.Excluded, Result: d.Excluded[i], Reason: "=spilt\nwine"})
		}
		amended := 0
		for i := range d.Results {
			c := study.Change{ID: "R2-" + fmt.Sprint(i), Kind: study.Amended, Part: study.PartValue, Result: d.Results[i], Before: "<7", Reason: "=typed\twrong", By: "Ines"}
			if rapid.Bool().Draw(t, "another part") {
				c.Part = rapid.SampledFrom([]study.Part{study.PartPulled, study.PartTested, study.PartTare}).Draw(t, "part")
				c.Before = rapid.SampledFrom([]string{"", "2025-04-01", "21.4"}).Draw(t, "before")
			}
			if study.PartText(s, &c.Result, c.Part) != "" && rapid.Bool().Draw(t, "amended") {
				d.Changes = append(d.Changes, c)
				amended++
			}
		}
		var first, second bytes.Buffer
		if err := Dataset(&first, d); err != nil {
			t.Fatal(err)
		}
		back, err := intake.Read(s, intake.Source{Name: "results.csv", Reader: bytes.NewReader(first.Bytes())})
		if err != nil {
			t.Fatalf("%v\n%s\nfrom\n%s", err, first.String(), table)
		}
		if got, want := facts(back), facts(d); got != want {
			t.Fatalf("got\n%s\nwant\n%s\nby\n%s\nfrom\n%s", got, want, first.String(), table)
		}
		told := 0
		for _, c := range back.Changes {
			if c.Kind != study.Amended {
				continue
			}
			told++
			i := slices.IndexFunc(d.Changes, func(x study.Change) bool { return x.Kind == study.Amended && x.ID == c.ID })
			if x := &d.Changes[i]; c.Part != x.Part || c.Before != x.Before || c.By != x.By || c.Reason != "=typed wrong" || c.After != study.PartText(s, &x.Result, x.Part) {
				t.Fatalf("%+v, was %+v", c, x)
			}
		}
		if told != amended {
			t.Fatalf("%d amendments told, %d made\n%s", told, amended, first.String())
		}
		if err := Dataset(&second, back); err != nil {
			t.Fatal(err)
		}
		if first.String() != second.String() {
			t.Fatalf("written again\n%s\nwas\n%s", second.String(), first.String())
		}
	})
	t.Logf("%d tables taken in, %d with changes", taken, changed)
	if taken < 20 || changed < 2 {
		t.Errorf("%d tables were taken in, %d of them with changes: too few to tell", taken, changed)
	}
}

// What was changed stands beside the result: the value the table had first, every
// reason, and an exclusion that was withdrawn is none.
func TestDatasetTellsChanges(t *testing.T) {
	s := balmStudy(t)
	d, err := intake.Read(s, intake.Source{Name: "lab.csv", Reader: strings.NewReader(
		"batch,condition,pack,time,attribute,value\nB1,25C60,tube,3M,assay,99.5\nB1,25C60,tube,6M,assay,98\n")})
	if err != nil {
		t.Fatal(err)
	}
	of := func(i int, kind study.ChangeKind, before, reason string) study.Change {
		return study.Change{ID: fmt.Sprintf("R1-%d-assay-X", i+2), Kind: kind, Result: d.Results[i], Before: before, Reason: reason, By: "Ines", At: "2026-03-02T09:00:00+01:00", Event: int64(i + 7)}
	}
	part := func(i int, p study.Part, before, reason string) study.Change {
		c := of(i, study.Amended, before, reason)
		c.Part = p
		return c
	}
	d.Changes = []study.Change{of(0, study.Amended, "95.9", "digits swapped"), of(0, study.Amended, "95.5", "and again"),
		of(1, study.Excluded, "98", "spilt"), of(1, study.Restored, "98", "it was not"),
		part(1, study.PartPulled, "", "forgotten"), part(1, study.PartPulled, "2025-07-13", "misread"), part(1, study.PartTested, "2025-07-14", "typed"), part(1, study.PartTare, "9", "other tube")}
	var b bytes.Buffer
	if err := Dataset(&b, d); err != nil {
		t.Fatal(err)
	}
	// 3 months and 6 months planned, no day of the pull.
	want := "study,batch,condition,pack,orientation,time,pulled,elapsed_months,attribute,value,unit_of_measure,unit,replicate,tare,tested,analyst,method,comment,result_id,amended_from,amended_because,amended_by,pulled_from,pulled_because,pulled_by,tested_from,tested_because,tested_by,tare_from,tare_because,tare_by,excluded_because,excluded_by\n" +
		"MB-26,B1,25C60,tube,upright,3M,,3,assay,99.5,%,,,,,,,,R1-2-assay-X,95.9,digits swapped; and again,\"event 7, 2026-03-02 09:00, by Ines; event 7, 2026-03-02 09:00, by Ines\",,,,,,,,,,,\n" +
		"MB-26,B1,25C60,tube,upright,6M,,6,assay,98,%,,,,,,,,R1-3-assay-X,,,,,forgotten; misread,\"event 8, 2026-03-02 09:00, by Ines; event 8, 2026-03-02 09:00, by Ines\",2025-07-14,typed,\"event 8, 2026-03-02 09:00, by Ines\",9,other tube,\"event 8, 2026-03-02 09:00, by Ines\",,\n"
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}
