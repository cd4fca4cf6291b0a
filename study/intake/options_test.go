package intake

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// named are the options of a ledger whose results are called by table and line.
var named = Options{
	Repeats:  true,
	ResultID: func(input, line, attribute int) string { return fmt.Sprintf("R%d-%d", input, line) },
}

func source(name, text string) Source { return Source{Name: name, Reader: strings.NewReader(text)} }

// ofOneTable gives what a dataset says, whichever table says it.
func ofOneTable(d *study.Dataset) string {
	all := *d
	all.Results = slices.Clone(d.Results)
	for i := range all.Results {
		all.Results[i].Input = 0
	}
	return facts(&all)
}

// A table that has grown, handed in after what it was before, says what it says
// alone; nothing is doubled, and the counts are right.
func TestGrowingTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, attributes := tableOf(t)
		columns := append(slices.Clone(keyColumns), "attribute", "value")
		rows = lengthen(rows, attributes)
		if len(rows) < 2 {
			return
		}
		whole := write(rows, columns, ',', false, false)
		alone, counts, err := ReadAll(balm(), named, source("whole.csv", whole))
		if err != nil {
			t.Fatal(err)
		}
		if plain, err := read(whole); err != nil || facts(plain) != facts(alone) {
			t.Fatalf("a ledger reads one table otherwise than it is read without: %v", err)
		}
		cut := rapid.IntRange(1, len(rows)-1).Draw(t, "cut")
		part := rapid.Permutation(rows).Draw(t, "order")[:cut]
		// A later table may say less of a result: not the day of the pull.
		less := columns
		if rapid.Bool().Draw(t, "undated") {
			part = slices.Clone(part)
			for i, r := range part {
				r = cells{}
				for k, v := range part[i] {
					r[k] = v
				}
				r["pulled"], r["tested"] = "", ""
				part[i] = r
			}
		}
		two, twoCounts, err := ReadAll(balm(), named, source("whole.csv", whole), source("part.csv", write(part, less, ';', true, true)))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(ofOneTable(alone), ofOneTable(two)); diff != "" {
			t.Fatal(diff)
		}
		if twoCounts[0] != counts[0] || twoCounts[1] != (Count{Rows: cut, Repeats: cut}) {
			t.Fatalf("%+v and %+v of %d", counts, twoCounts, cut)
		}
		// The other way about, what is new comes with the second.
		grown, grownCounts, err := ReadAll(balm(), named, source("part.csv", write(rows[:cut], columns, ',', false, false)), source("whole.csv", whole))
		var faults *finding.Faults
		if errors.As(err, &faults) {
			t.Fatal(err)
		}
		if diff := cmp.Diff(ofOneTable(alone), ofOneTable(grown)); diff != "" {
			t.Fatal(diff)
		}
		if c := grownCounts[1]; c.Repeats != grownCounts[0].Results || c.Results+c.Repeats != len(rows) {
			t.Fatalf("%+v of %d rows", grownCounts, len(rows))
		}
	})
}

// Reading with a correction is reading the table with that value edited.
func TestCorrectionIsEditing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, attributes := tableOf(t)
		columns := append(slices.Clone(keyColumns), "attribute", "value")
		rows = lengthen(rows, attributes)
		if len(rows) == 0 {
			return
		}
		i := rapid.IntRange(0, len(rows)-1).Draw(t, "row")
		id := rows[i]["attribute"]
		value := map[string]string{"weight": "123.456", "look": "slight", "leak": "fail"}[id]
		if value == "" {
			value = rapid.SampledFrom([]string{"7", "<3.5", "-12"}).Draw(t, "value")
		}
		attribute := slices.IndexFunc(balm().Attributes, func(a study.Attribute) bool { return a.ID == id })
		corrections := map[Cell][]Correction{{Line: i + 2, Attribute: attribute}: {{Value: "1"}, {Exclude: true}, {Restore: true}, {Value: value}}}
		if id == "weight" || id == "look" || id == "leak" {
			corrections[Cell{i + 2, attribute}][0].Value = rows[i]["value"]
		}
		edited := slices.Clone(rows)
		edited[i] = cells{}
		for k, v := range rows[i] {
			edited[i][k] = v
		}
		edited[i]["value"] = value
		want, wantErr := read(write(edited, columns, ',', false, false))
		with := source("r.csv", write(rows, columns, ',', false, false))
		with.Corrections = corrections
		got, _, gotErr := ReadAll(balm(), named, with)
		if wantErr != nil || gotErr != nil {
			// A mass far from the unit's others is a fault in both.
			if fmt.Sprint(wantErr) != fmt.Sprint(gotErr) {
				t.Fatalf("edited: %v\ncorrected: %v", wantErr, gotErr)
			}
			return
		}
		if diff := cmp.Diff(facts(want), facts(got)); diff != "" {
			t.Fatal(diff)
		}
	})
}

const labelledHead = "batch,condition,pack,time,attribute,value,unit\n"

// What a ledger refuses, and in which words.
func TestLedgerFaults(t *testing.T) {
	viscosity := slices.IndexFunc(balm().Attributes, func(a study.Attribute) bool { return a.ID == "viscosity" })
	weight := slices.IndexFunc(balm().Attributes, func(a study.Attribute) bool { return a.ID == "weight" })
	at := func(line, attribute int, list ...Correction) map[Cell][]Correction {
		return map[Cell][]Correction{{line, attribute}: list}
	}
	first := labelledHead + "B1,25C60,tube,3M,viscosity,5,1\n"
	for name, c := range map[string]struct {
		tables      []string
		corrections map[Cell][]Correction // of the first
		want        string
	}{
		"another value": {[]string{first, labelledHead + "B1,25C60,tube,3M,viscosity,6,1\n"}, nil,
			"b.csv:2: value: viscosity of batch B1 in tube at 25C60, time 3M, unit 1 is 5 already (line 2 of a.csv), and here 6; where it is wrong: shelfspan amend R0-2 --value 6 --reason TEXT"},
		"twice in one table": {[]string{first + "B1,25C60,tube,3M,viscosity,5,1\n"}, nil,
			"a.csv:3: value: a second result for viscosity of batch B1 in tube at 25C60, time 3M, unit 1; line 2 has the first"},
		"unlabelled, another value": {[]string{labelledHead + "B1,25C60,tube,3M,viscosity,5,\n", labelledHead + "B1,25C60,tube,3M,viscosity,6,\n"}, nil,
			"b.csv:2: value: viscosity of batch B1 in tube at 25C60, time 3M: line 2 of a.csv has a result of the same key and another value; results in another file need a unit or replicate to be told from it; where it is wrong: shelfspan amend R0-2 --value 6 --reason TEXT"},
		"unlabelled, one more": {[]string{labelledHead + "B1,25C60,tube,3M,viscosity,5,\n", labelledHead + "B1,25C60,tube,3M,viscosity,5,\nB1,25C60,tube,3M,viscosity,6,\n"}, nil,
			"b.csv:2: value: viscosity of batch B1 in tube at 25C60, time 3M: a.csv has 1 result of the same key (from line 2), and this file has 2; results in another file need a unit or replicate to be told from it"},
		"another day": {[]string{"pulled," + labelledHead + "2025-04-14,B1,25C60,tube,3M,viscosity,5,1\n", "pulled," + labelledHead + "2025-04-15,B1,25C60,tube,3M,viscosity,5,1\n"}, nil,
			"b.csv:2: pulled: viscosity of batch B1 in tube at 25C60, time 3M, unit 1 was pulled on 2025-04-14 (line 2 of a.csv), and here on 2025-04-15; give the same day, or tell the units apart"},
		"a correction of nothing": {[]string{first}, at(9, viscosity, Correction{Value: "6"}), "a.csv:9: viscosity: there is no result here to change"},
		"a correction that is no number": {[]string{first}, at(2, viscosity, Correction{Value: "thick"}),
			`a.csv:2: value: "thick" is no number; leave the field empty where it was not tested`},
		"time zero without a mass any more": {[]string{labelledHead + "B1,25C60,tube,0,weight,150,w\nB1,25C60,tube,3M,weight,149,w\n"}, at(2, weight, Correction{Exclude: true}),
			"a.csv:3: unit: unit w has no mass at time zero in the analysis (weight of batch B1 in tube at 25C60, time 3M, unit w); that on line 2 is excluded: exclude the unit's later masses first, or restore it"},
	} {
		t.Run(name, func(t *testing.T) {
			var sources []Source
			for i, text := range c.tables {
				sources = append(sources, source(string("ab"[i])+".csv", text))
			}
			sources[0].Corrections = c.corrections
			d, _, err := ReadAll(balm(), named, sources...)
			if diff := cmp.Diff(c.want, faultsOf(t, d, err)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// A correction of a row that only repeats another would be lost: it is refused,
// and the one to change is named.
func TestCorrectionOfARepeat(t *testing.T) {
	viscosity := slices.IndexFunc(balm().Attributes, func(a study.Attribute) bool { return a.ID == "viscosity" })
	a := source("a.csv", labelledHead+"B1,25C60,tube,3M,viscosity,5,1\n")
	b := source("b.csv", labelledHead+"B1,25C60,tube,3M,viscosity,5.0,1\n")
	b.Corrections = map[Cell][]Correction{{2, viscosity}: {{Value: "6"}}}
	_, _, err := ReadAll(balm(), named, a, b)
	if want := "b.csv:2: viscosity: this result repeats that on line 2 of a.csv, which is the one to change: R0-2"; fmt.Sprint(err) != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
}

// A table from before an amendment is still the same table.
func TestValueFromBeforeIsTheSame(t *testing.T) {
	viscosity := slices.IndexFunc(balm().Attributes, func(a study.Attribute) bool { return a.ID == "viscosity" })
	for value, superseded := range map[string]int{"5": 1, "5.5": 1, "6": 0} {
		a := source("a.csv", labelledHead+"B1,25C60,tube,3M,viscosity,5,1\n")
		a.Corrections = map[Cell][]Correction{{2, viscosity}: {{Value: "5.5"}, {Value: "6"}}}
		d, counts, err := ReadAll(balm(), named, a, source("b.csv", labelledHead+"B1,25C60,tube,3M,viscosity,"+value+",1\n\n"))
		if err != nil || len(d.Results) != 1 || d.Results[0].Value != 6 || counts[1] != (Count{Rows: 1, Repeats: 1, Superseded: superseded}) {
			t.Errorf("%s: %v, %+v, %+v", value, err, d, counts)
		}
	}
}

// What is out of the analysis is there and stays out, also where a later table
// has it again.
func TestExcluded(t *testing.T) {
	viscosity := slices.IndexFunc(balm().Attributes, func(a study.Attribute) bool { return a.ID == "viscosity" })
	text := labelledHead + "B1,25C60,tube,3M,viscosity,5,1\nB1,25C60,tube,3M,viscosity,7,2\n"
	a := source("a.csv", text)
	a.Corrections = map[Cell][]Correction{{2, viscosity}: {{Exclude: true}}}
	d, counts, err := ReadAll(balm(), named, a, source("b.csv", text+"\n"))
	if err != nil || len(d.Results) != 1 || d.Results[0].Value != 7 || len(d.Excluded) != 1 || d.Excluded[0].Value != 5 {
		t.Fatalf("%v, %+v", err, d)
	}
	if counts[0] != (Count{Rows: 2, Results: 2}) || counts[1] != (Count{Rows: 2, Repeats: 2}) {
		t.Errorf("%+v", counts)
	}
}

// The ledger's day of a pull counts where a row has none.
func TestDayOfThePull(t *testing.T) {
	day := study.NewDate(2025, 4, 20) // 97 days after time zero; 3M is due on the 13th, ± 7 days
	o := named
	o.PulledOn = func(batch, condition, pack, orientation int, planned study.Duration) study.Date {
		if batch == 0 && condition == 0 && planned.String() == "3M" {
			return day
		}
		return study.NoDate
	}
	d, _, err := ReadAll(balm(), o, source("a.csv", labelledHead+"B1,25C60,tube,3M,viscosity,5,1\nB1,25C60,tube,6M,viscosity,5,1\n"))
	if err != nil || d.Results[0].Pulled != day || d.Results[0].Elapsed != 97/study.DaysPerMonth || d.Results[1].Elapsed != 6 {
		t.Errorf("%v, %+v", err, d)
	}
}
