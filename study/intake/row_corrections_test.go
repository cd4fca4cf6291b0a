package intake

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"shelfspan/study"
)

// Reading with rows corrected is reading the table with their fields edited, faults
// and warnings alike; and the table as it was, handed in later, says nothing new.
func TestRowCorrectionsAreEdits(t *testing.T) {
	s := balm()
	parts := []study.Part{study.PartPulled, study.PartTested, study.PartTare}
	sound, amended := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		rows, attributes := tableOf(t)
		for _, w := range rows {
			// One row of a unit has its tare.
			if w["weight"] != "" && w["time"] == "0" && rapid.Bool().Draw(t, "with tare") {
				w["tare"] = rapid.SampledFrom([]string{"9.5", "30"}).Draw(t, "tare")
			}
		}
		columns := append(slices.Clone(keyColumns), "tare")
		if rapid.Bool().Draw(t, "long") {
			var long []cells
			for _, w := range rows {
				for _, l := range lengthen([]cells{w}, attributes) {
					if l["attribute"] == "weight" {
						l["tare"] = w["tare"]
					}
					long = append(long, l)
				}
			}
			rows, columns = long, append(columns, "attribute", "value")
		} else {
			columns = append(columns, attributes...)
		}
		rows = slices.DeleteFunc(rows, func(w cells) bool {
			return w["value"] == "" && !slices.ContainsFunc(attributes, func(id string) bool { return w[id] != "" })
		})
		if len(rows) == 0 {
			return
		}
		text := write(rows, columns, ',', false, false)
		edited := make([]cells, len(rows))
		corrections := make(map[int][]RowCorrection)
		superseded := 0
		for i, w := range rows {
			edited[i] = w.with()
			if rapid.IntRange(0, 2).Draw(t, "changed") > 0 {
				continue
			}
			for range rapid.IntRange(1, 3).Draw(t, "changes") {
				part := rapid.SampledFrom(parts).Draw(t, "part")
				if part == study.PartTare && w["tare"] == "" && rapid.IntRange(0, 20).Draw(t, "odd") > 0 {
					continue
				}
				c := RowCorrection{Part: part, Had: []string{edited[i][string(part)]}}
				switch part {
				case study.PartTare:
					c.Text = rapid.SampledFrom([]string{"9.5", "12.25", "30"}).Draw(t, "tare")
				case study.PartPulled:
					at, _ := study.ParseDuration(w["time"])
					c.Text = (at.AddTo(s.TimeZero(slices.IndexFunc(s.Batches, func(b study.Batch) bool { return b.ID == w["batch"] })), 0) +
						study.Date(rapid.IntRange(0, 25).Draw(t, "late"))).String()
					// ISO days are in the order of their texts.
					if tested := edited[i]["tested"]; tested != "" && tested < c.Text && rapid.IntRange(0, 20).Draw(t, "odd") > 0 {
						c.Text = tested
					}
				default:
					if day, err := study.ParseDate(edited[i]["pulled"]); err == nil {
						c.Text = (day + study.Date(max(0, rapid.IntRange(-1, 30).Draw(t, "later")))).String()
					}
				}
				if c.Text == "" {
					continue
				}
				edited[i][string(part)] = c.Text
				corrections[i+2] = append(corrections[i+2], c)
			}
			values := 0
			for _, id := range attributes {
				differs := func(p study.Part) bool { return w[string(p)] != "" && w[string(p)] != edited[i][string(p)] }
				if has := w[id] != "" || w["attribute"] == id; has && (differs(study.PartPulled) || differs(study.PartTested) || id == "weight" && differs(study.PartTare)) {
					values++
				}
			}
			superseded += values
		}
		with := func() Source {
			x := source("r.csv", text)
			x.Rows = corrections
			return x
		}
		want, _, wantErr := ReadAll(s, named, source("r.csv", write(edited, columns, ',', false, false)))
		got, counts, err := ReadAll(s, named, with())
		if diff := cmp.Diff(fmt.Sprint(wantErr), fmt.Sprint(err)); diff != "" {
			t.Fatal(diff)
		}
		if err != nil {
			return
		}
		sound++
		if len(corrections) > 0 {
			amended++
		}
		if diff := cmp.Diff(facts(want), facts(got)); diff != "" {
			t.Fatal(diff)
		}
		if diff := cmp.Diff(warnings(want), warnings(got)); diff != "" {
			t.Fatal(diff)
		}
		n := counts[0].Results
		again, counts, err := ReadAll(s, named, with(), source("again.csv", text+"\n"))
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if diff := cmp.Diff(facts(got), facts(again)); diff != "" {
			t.Fatal(diff)
		}
		if counts[1].Results != 0 || counts[1].Repeats != n || counts[1].Superseded != superseded {
			t.Fatalf("%+v, want %d repeats, %d of them superseded", counts[1], n, superseded)
		}
		if diff := cmp.Diff(warnings(got), warnings(again)); diff != "" {
			t.Fatal(diff)
		}
	})
	t.Logf("%d tables sound, %d of them amended", sound, amended)
	if amended < 20 {
		t.Errorf("%d of %d tables were amended and sound: too few to tell", amended, sound)
	}
}

// What a row is corrected to is checked as what it had, with all that stands beside
// it.
func TestFaultsOfAmendedRows(t *testing.T) {
	const days = "batch,condition,pack,time,pulled,tested,attribute,value\n" // the start is 2025-01-13
	for name, c := range map[string]struct {
		table string
		rows  map[int][]RowCorrection
		more  string // a later table
		want  string // the faults; empty for none
	}{
		"a day before time zero": {days + "B1,25C60,tube,3M,2025-04-14,,assay,99\n", map[int][]RowCorrection{2: {{Part: study.PartPulled, Text: "2025-01-12"}}}, "",
			"r.csv:2: pulled: 2025-01-12 is before time zero: batch B1 entered storage when the study started, on 2025-01-13"},
		"a pull after its test": {days + "B1,25C60,tube,3M,2025-04-14,2025-04-15,assay,99\n", map[int][]RowCorrection{2: {{Part: study.PartPulled, Text: "2025-04-16"}}}, "",
			"r.csv:2: tested: 2025-04-15 is before the pull, on 2025-04-16; one of the two days is wrong"},
		"no day": {days + "B1,25C60,tube,3M,2025-04-14,,assay,99\n", map[int][]RowCorrection{2: {{Part: study.PartTested, Text: "2025-02-30"}}}, "",
			`r.csv:2: tested: "2025-02-30" does not exist in the calendar`},
		"a fault that it mends":      {days + "B1,25C60,tube,3M,2025-01-12,,assay,99\n", map[int][]RowCorrection{2: {{Part: study.PartPulled, Text: "2025-04-14"}}}, "", ""},
		"a column that is not there": {long + "B1,25C60,tube,3M,assay,99\n", map[int][]RowCorrection{2: {{Part: study.PartPulled, Text: "2025-04-14"}, {Part: study.PartTested, Text: "2025-04-14"}}}, "", ""},
		"no such row": {long + "B1,25C60,tube,3M,assay,99\n", map[int][]RowCorrection{4: {{Part: study.PartPulled, Text: "2025-04-14"}}}, "",
			"r.csv:4: pulled: there is no row here to change"},
		"one of two readings": {days + "B1,25C60,tube,3M,2025-04-14,,pH,5\nB1,25C60,tube,3M,2025-04-14,,pH,5.1\n",
			map[int][]RowCorrection{3: {{Part: study.PartPulled, Text: "2025-04-15", Had: []string{"2025-04-14"}}}}, "",
			"r.csv:3: pulled: pH of batch B1 in tube at 25C60, time 3M, unit 2 was pulled on 2025-04-14 (line 2), and here on 2025-04-15; give the same day, or tell the units apart"},
		"both readings": {days + "B1,25C60,tube,3M,2025-04-14,,pH,5\nB1,25C60,tube,3M,2025-04-14,,pH,5.1\n",
			map[int][]RowCorrection{2: {{Part: study.PartPulled, Text: "2025-04-15", Had: []string{"2025-04-14"}}}, 3: {{Part: study.PartPulled, Text: "2025-04-15", Had: []string{"2025-04-14"}}}},
			days + "B1,25C60,tube,3M,2025-04-14,,pH,5\nB1,25C60,tube,3M,2025-04-14,,pH,5.1\n\n", ""},
		"a later table with a day it never had": {days + "B1,25C60,tube,3M,2025-04-14,,assay,99\n", map[int][]RowCorrection{2: {{Part: study.PartPulled, Text: "2025-04-15", Had: []string{"2025-04-14"}}}},
			"batch,condition,pack,time,pulled,attribute,value,unit\nB1,25C60,tube,3M,2025-04-13,assay,99,\n",
			"later.csv:2: pulled: assay of batch B1 in tube at 25C60, time 3M was pulled on 2025-04-15 (line 2 of r.csv), and here on 2025-04-13; give the same day, or tell the units apart"},
		"a tare of one weighing": {masses + "B1,25C60,tube,upright,0,weight,150,w,9\nB1,25C60,tube,upright,3M,weight,149,w,9\n", map[int][]RowCorrection{3: {{Part: study.PartTare, Text: "9.5", Had: []string{"9"}}}}, "",
			"r.csv:3: tare: a tare of 9.5 g for unit w, and 9 g on line 2; a unit has one tare"},
		"a tare above the mass": {masses + "B1,25C60,tube,upright,0,weight,150,w,9\n", map[int][]RowCorrection{2: {{Part: study.PartTare, Text: "150", Had: []string{"9"}}}}, "",
			"r.csv:2: value: a gross mass of 150 g is not above the tare of 150 g"},
		"no tare": {masses + "B1,25C60,tube,upright,0,weight,150,w,9\n", map[int][]RowCorrection{2: {{Part: study.PartTare, Text: "-1"}}}, "",
			"r.csv:2: tare: a mass of -1 g; a tare is 0 or above"},
		"a later weighing with the old tare": {masses + "B1,25C60,tube,upright,0,weight,150,w,9\n", map[int][]RowCorrection{2: {{Part: study.PartTare, Text: "9.5", Had: []string{"9"}}}},
			masses + "B1,25C60,tube,upright,0,weight,150,w,9\nB1,25C60,tube,upright,3M,weight,149,w,9\n",
			"later.csv:3: tare: a tare of 9 g for unit w, and 9.5 g on line 2 of r.csv; a unit has one tare"},
	} {
		t.Run(name, func(t *testing.T) {
			sources := []Source{source("r.csv", c.table)}
			sources[0].Rows = c.rows
			if c.more != "" {
				sources = append(sources, source("later.csv", c.more))
			}
			d, counts, err := ReadAll(balm(), named, sources...)
			if c.want != "" {
				if diff := cmp.Diff(c.want, faultsOf(t, d, err)); diff != "" {
					t.Error(diff)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			for _, x := range d.Results {
				last := c.rows[int(x.Line)]
				if got, want := study.PartText(d.Study, &x, last[0].Part), last[0].Text; got != want {
					t.Errorf("%s, want %s", got, want)
				}
			}
			if c.more != "" && (counts[1].Results != 0 || counts[1].Superseded != len(c.rows)) {
				t.Errorf("%+v", counts)
			}
		})
	}
}

// A day of test or a day pulled that an earlier table left open, and a later one
// gave, is superseded like one of its own.
func TestAmendedDayOfAnotherTable(t *testing.T) {
	open := source("r.csv", "batch,condition,pack,time,attribute,value,unit\nB1,25C60,tube,3M,assay,99,1\n")
	open.Rows = map[int][]RowCorrection{2: {
		{Part: study.PartPulled, Text: "2025-04-15", Had: []string{"2025-04-14"}},
		{Part: study.PartTested, Text: "2025-04-17", Had: []string{"2025-04-16"}},
	}}
	later := "batch,condition,pack,time,pulled,tested,attribute,value,unit\nB1,25C60,tube,3M,2025-04-14,2025-04-16,assay,99,1\n"
	d, counts, err := ReadAll(balm(), named, open, source("later.csv", later))
	if err != nil {
		t.Fatal(err)
	}
	x := d.Results[0]
	if len(d.Results) != 1 || x.Pulled.String() != "2025-04-15" || x.Tested.String() != "2025-04-17" || counts[1].Superseded != 1 || strings.Contains(warnings(d), "repeat-differs") {
		t.Errorf("%+v, %+v, %s", d.Results, counts, warnings(d))
	}
}
