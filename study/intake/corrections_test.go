package intake

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"shelfspan/study"
)

func attributeOf(id string) int {
	return slices.IndexFunc(balm().Attributes, func(a study.Attribute) bool { return a.ID == id })
}

// amountIn gives the value that a text stands for, so that two texts of one value
// are alike.
func amountIn(a *study.Attribute, text string) string {
	text = strings.ToLower(strings.ReplaceAll(text, ",", "."))
	switch a.Kind {
	case study.Grade:
		if g, err := strconv.Atoi(text); err == nil {
			return a.Grades[g]
		}
		return text
	case study.PassFail:
		return text
	}
	number, err := strconv.ParseFloat(strings.Trim(text, "<>"), 64)
	if err != nil {
		panic(err)
	}
	return strings.Trim(text, "0123456789.") + fmt.Sprint(number)
}

// resultOf names the result that a row is about: time zero is one, however many
// conditions it stands under.
func resultOf(row cells, inBlock int) string {
	key := fmt.Sprint(row["batch"], row["pack"], row["attribute"], row["unit"], "/", row["replicate"], inBlock, row["time"])
	if row["time"] != "0" {
		key += row["condition"] + row["orientation"]
	}
	return key
}

// Reading with corrections is reading the table with the values edited, less those
// that are taken out, which come by themselves. A table from before or between the
// amendments says nothing new.
func TestCorrectionsAreEdits(t *testing.T) {
	s := balm()
	rapid.Check(t, func(t *rapid.T) {
		a := drawArms(t)
		if len(a.blocks) == 0 {
			return
		}
		blocks := rapid.Permutation(a.blocks).Draw(t, "blocks")
		text, n := tableIn(t, blocks)
		head, _, _ := strings.Cut(text, "\n")
		with := source("r.csv", text)
		with.Corrections = make(map[Cell][]Correction)

		had := make(map[string][]string) // texts of each result, the last in force
		excluded := make(map[string]bool)
		out := make(map[int]bool) // lines
		line := 1
		for _, b := range blocks {
			for i, row := range b {
				line++
				key := resultOf(row, i)
				if had[key] != nil {
					continue // it repeats one above, which is the one to change
				}
				had[key] = []string{row["value"]}
				if rapid.IntRange(0, 3).Draw(t, "changed") > 0 {
					continue
				}
				k := attributeOf(row["attribute"])
				for range rapid.IntRange(1, 3).Draw(t, "changes") {
					c := Correction{Value: drawValue(t, &s.Attributes[k])}
					if strings.ContainsAny(head, ";\t") && rapid.Bool().Draw(t, "decimal comma") {
						c.Value = strings.ReplaceAll(c.Value, ".", ",")
					}
					if row["time"] != "0" || s.Attributes[k].Kind != study.Weighing {
						c = rapid.SampledFrom([]Correction{c, {Exclude: true}, {Restore: true}}).Draw(t, "change")
					}
					switch {
					case c.Exclude:
						excluded[key] = true
					case c.Restore:
						excluded[key] = false
					default:
						had[key] = append(had[key], c.Value)
					}
					with.Corrections[Cell{line, k}] = append(with.Corrections[Cell{line, k}], c)
				}
				out[line] = excluded[key]
			}
		}

		edit := func(choose func(texts []string) string) (edited []block) {
			for _, b := range blocks {
				own := block{}
				for i, row := range b {
					own = append(own, row.with("value", strings.ReplaceAll(choose(had[resultOf(row, i)]), ",", ".")))
				}
				edited = append(edited, own)
			}
			return edited
		}
		last := func(texts []string) string { return texts[len(texts)-1] }
		editedText, _ := tableIn(t, edit(last))
		edited, _, err := ReadAll(s, a.options(), source("r.csv", editedText))
		if err != nil {
			t.Fatal(err)
		}
		var in, off []study.Result
		for _, x := range edited.Results {
			if out[int(x.Line)] {
				off = append(off, x)
			} else {
				in = append(in, x)
			}
		}
		d, _, err := ReadAll(s, a.options(), with)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(said(edited, in), said(d, d.Results)); diff != "" {
			t.Fatal(diff)
		}
		if diff := cmp.Diff(said(edited, off), said(d, d.Excluded)); diff != "" {
			t.Fatal(diff)
		}
		if diff := cmp.Diff(oddities(edited), oddities(d)); diff != "" && len(off) == 0 {
			t.Fatal(diff)
		}

		// A later table has each result with any value that it ever had.
		superseded := 0
		before := edit(func(texts []string) string { return rapid.SampledFrom(texts).Draw(t, "value then") })
		for _, b := range before {
			for i, row := range b {
				k := &s.Attributes[attributeOf(row["attribute"])]
				if amountIn(k, row["value"]) != amountIn(k, last(had[resultOf(row, i)])) {
					superseded++
				}
			}
		}
		with.Reader = strings.NewReader(text)
		beforeText, _ := tableIn(t, before)
		again, counts, err := ReadAll(s, a.options(), with, source("before.csv", beforeText+"\n"))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(said(d, d.Results), said(again, again.Results)); diff != "" {
			t.Fatal(diff)
		}
		if diff := cmp.Diff(said(d, d.Excluded), said(again, again.Excluded)); diff != "" {
			t.Fatal(diff)
		}
		if counts[1] != (Count{Rows: n, Repeats: n, Superseded: superseded}) {
			t.Fatalf("%+v, want %d repeats and %d superseded", counts[1], n, superseded)
		}
	})
}

// A value that is amended to what cannot be is told as if it stood in the table.
func TestFaultsOfAmendedValues(t *testing.T) {
	const tared = "batch,condition,pack,orientation,time,attribute,value,unit,tare\n"
	for name, c := range map[string]struct {
		table     string
		line      int
		attribute string
		value     string
		want      string
	}{
		"words for a number": {long + "B1,25C60,tube,3M,assay,99\n", 2, "assay", "good",
			`r.csv:2: value: "good" is no number; leave the field empty where it was not tested`},
		"words for a number, wide": {"batch,condition,pack,time,pH,assay\n,,,,,\nB1,25C60,tube,3M,5,99\n", 3, "assay", "good",
			`r.csv:3: assay: "good" is no number; leave the field empty where it was not tested`},
		"nothing": {long + "B1,25C60,tube,3M,assay,99\n", 2, "assay", " \t",
			"r.csv:2: value: is amended to nothing; exclude a result that is to be out of the analysis"},
		"no grade": {long + "B1,25C60,tube,3M,look,none\n", 2, "look", "sligth",
			`r.csv:2: value: no grade "sligth"; did you mean "slight"? (0 to 3)`},
		"no grade by its number": {long + "B1,25C60,tube,3M,look,none\n", 2, "look", "4",
			`r.csv:2: value: "4" is no grade of look; grades are the whole numbers 0 to 3 (none, slight, moderate, severe)`},
		"neither pass nor fail": {long + "B1,25C60,tube,3M,leak,pass\n", 2, "leak", "1",
			`r.csv:2: value: "1" may mean pass to one lab and fail to another; write pass or fail`},
		"a mass below its tare": {tared + "B1,25C60,tube,,0,weight,150,w,21.5\n", 2, "weight", "21",
			"r.csv:2: value: a gross mass of 21 g is not above the tare of 21.5 g"},
		"a mass below the tare of its pack": {tared + "B1,25C60,jar,upright,0,weight,150,w,\n", 2, "weight", "30",
			"r.csv:2: value: a gross mass of 30 g is not above the tare of the pack, 30 g"},
		"a mass below the tare of its unit": {tared + "B1,25C60,tube,,0,weight,150,w,21.5\nB1,25C60,tube,,3M,weight,149,w,\n", 3, "weight", "14.9",
			"r.csv:3: value: a gross mass of 14.9 g is not above the tare of the unit, from line 2, 21.5 g"},
		"a mass of a thousandth": {tared + "B1,25C60,tube,,0,weight,150,w,\nB1,25C60,tube,,3M,weight,149,w,\n", 3, "weight", "0.149",
			"r.csv:3: value: a mass of 0.149 g, where unit w had 150 g at time zero (line 2); give both in g"},
		"a limit for a mass": {tared + "B1,25C60,tube,,0,weight,150,w,\n", 2, "weight", "<150",
			`r.csv:2: value: "<150" is a limit, and weight is a weighing, which needs the mass itself in g`},
		"a decimal comma between commas": {long + "B1,25C60,tube,3M,assay,99\n", 2, "assay", "98,5",
			`r.csv:2: value: "98,5" has a comma in it, and commas separate the columns; write 98.5`},
		"another value than time zero has under another condition": {long + "B1,25C60,tube,0,pH,5\nB1,40C75,tube,0,pH,5\n", 3, "pH", "6",
			"r.csv:3: pH: this result repeats that on line 2, which is the one to change: R0-2"},
		"a mass at time zero that is there twice": {masses + "B1,25C60,tube,,0,weight,150,w,\nB1,,tube,,0,weight,150,w,\nB1,25C60,tube,,3M,weight,149,w,\n", 3, "weight", "151",
			"r.csv:3: weight: this result repeats that on line 2, which is the one to change: R0-2"},
		"an empty field": {long + "B1,25C60,tube,3M,assay,\nB1,25C60,tube,3M,pH,5\n", 2, "assay", "99", "r.csv:2: assay: there is no result here to change"},
		"an empty field, wide": {"batch,condition,pack,time,pH,assay\nB1,25C60,tube,3M,5,\n", 2, "assay", "99",
			"r.csv:2: assay: there is no result here to change"},
		"another attribute":     {long + "B1,25C60,tube,3M,assay,99\n", 2, "pH", "5", "r.csv:2: pH: there is no result here to change"},
		"the header":            {long + "B1,25C60,tube,3M,assay,99\n", 1, "assay", "99", "r.csv:1: assay: there is no result here to change"},
		"beyond the last line":  {long + "B1,25C60,tube,3M,assay,99\n", 3, "assay", "99", "r.csv:3: assay: there is no result here to change"},
		"in a table not read":   {"batch,condition,pack,tmie,assay\nB1,25C60,tube,3M,99\n", 2, "assay", "98", `r.csv:1: tmie: no such column; did you mean "time"?`},
		"in a row not accepted": {long + "B3,25C60,tube,3M,assay,99\n", 2, "assay", "good", `r.csv:2: batch: no batch "B3"; the study has B1, B2` + "\n" + `r.csv:2: value: "good" is no number; leave the field empty where it was not tested`},
	} {
		t.Run(name, func(t *testing.T) {
			with := source("r.csv", c.table)
			with.Corrections = map[Cell][]Correction{{c.line, attributeOf(c.attribute)}: {{Exclude: true}, {Value: c.value}, {Restore: true}}}
			d, _, err := ReadAll(balm(), named, with)
			if diff := cmp.Diff(c.want, faultsOf(t, d, err)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// A correction mends what the study, as it is now, does not know.
func TestCorrectionMendsAFault(t *testing.T) {
	with := source("r.csv", long+"B1,25C60,tube,3M,look,dreadful\n")
	with.Corrections = map[Cell][]Correction{{2, attributeOf("look")}: {{Value: "severe"}}}
	if d, _, err := ReadAll(balm(), named, with); err != nil || d.Results[0].Value != 3 {
		t.Errorf("%v, %+v", err, d)
	}
}

// What is typed later says nothing of the table's decimal sign, and takes nothing
// away of what the table says of it.
func TestCorrectionsAndDecimalSigns(t *testing.T) {
	const head = "batch;condition;pack;time;pH;viscosity\n"
	point := head + "B1;25C60;tube;3M;5.25;21.500\nB1;25C60;tube;6M;5;22,4\n" // 5.25 says that the point is a decimal sign
	for value, want := range map[string]float64{"5.4": 5.4, "5,4": 5.4, "5.400": 5.4, "5": 5} {
		plain, _, err := ReadAll(balm(), named, source("r.csv", point))
		if err != nil {
			t.Fatal(err)
		}
		with := source("r.csv", point)
		with.Corrections = map[Cell][]Correction{{2, attributeOf("pH")}: {{Value: "7.125"}, {Value: value}}}
		d, _, err := ReadAll(balm(), named, with)
		if err != nil {
			t.Fatalf("%s: %v", value, err)
		}
		if diff := cmp.Diff(warnings(plain), warnings(d)); diff != "" || d.Results[0].Value != want {
			t.Errorf("%s: %v, %s", value, d.Results[0], diff)
		}
	}
}

// changed reads a table of masses with each line taken out or put back in order.
func changed(id, text string, more []Source, changes ...[2]int) (*study.Dataset, []Count, error) {
	with := source("r.csv", text)
	with.Corrections = make(map[Cell][]Correction)
	for _, c := range changes {
		k := Cell{c[0], attributeOf(id)}
		with.Corrections[k] = append(with.Corrections[k], Correction{Exclude: c[1] == 0, Restore: c[1] == 1})
	}
	return ReadAll(balm(), named, append([]Source{with}, more...)...)
}

// A unit's mass at time zero can be taken out only with its later masses.
func TestExclusionOfAMassAtTimeZero(t *testing.T) {
	const (
		out, back = 0, 1
		fault     = "r.csv:3: unit: unit w has no mass at time zero in the analysis (weight of batch B1 in tube at 25C60, time 3M, unit w); that on line 2 is excluded: exclude the unit's later masses first, or restore it"
	)
	text := labelledHead + "B1,25C60,tube,0,weight,150,w\nB1,25C60,tube,3M,weight,149,w\nB1,25C60,tube,6M,weight,148,w\n"
	floating := strings.Replace(text, "B1,25C60,tube,0", "B1,,tube,0", 1)
	again := func() []Source { return []Source{source("b.csv", text+"\n")} }
	later := func() []Source { return []Source{source("b.csv", labelledHead+"B1,25C60,tube,9M,weight,147,w\n")} }
	for name, c := range map[string]struct {
		text    string
		more    []Source
		changes [][2]int
		want    string // the faults, or the masses in and out of the analysis
	}{
		"alone":                        {text, nil, [][2]int{{2, out}}, fault},
		"alone, and there again":       {text, again(), [][2]int{{2, out}}, fault},
		"alone, and there otherwise":   {floating, again(), [][2]int{{2, out}}, fault},
		"with one of two later masses": {text, nil, [][2]int{{2, out}, {4, out}}, fault},
		"put back":                     {text, nil, [][2]int{{2, out}, {2, back}}, "150 149 148 |"},
		"with all later masses":        {text, nil, [][2]int{{4, out}, {3, out}, {2, out}}, "| 150 149 148"},
		"with all, and there again":    {floating, again(), [][2]int{{4, out}, {3, out}, {2, out}}, "| 150 149 148"},
		"with all, and a later one": {text, later(), [][2]int{{4, out}, {3, out}, {2, out}},
			"b.csv:2: unit: unit w has no mass at time zero in the analysis (weight of batch B1 in tube at 25C60, time 9M, unit w); that on line 2 of r.csv is excluded: exclude the unit's later masses first, or restore it"},
		"a later mass": {text, again(), [][2]int{{3, out}}, "150 148 | 149"},
	} {
		t.Run(name, func(t *testing.T) {
			d, _, err := changed("weight", c.text, c.more, c.changes...)
			if strings.Contains(c.want, ".csv") {
				if diff := cmp.Diff(c.want, faultsOf(t, d, err)); diff != "" {
					t.Error(diff)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			var words []string
			for _, x := range d.Results {
				words = append(words, fmt.Sprint(x.Value))
			}
			words = append(words, "|")
			for _, x := range d.Excluded {
				words = append(words, fmt.Sprint(x.Value))
			}
			if got := strings.Join(words, " "); got != c.want {
				t.Errorf("%s, want %s", got, c.want)
			}
		})
	}
}

// The masses of a unit are held against the one at time zero as it now stands, not
// as a table from before still has it.
func TestAmendedMassAtTimeZero(t *testing.T) {
	with := source("r.csv", labelledHead+"B1,,tube,0,weight,150,w\nB1,25C60,tube,3M,weight,149,w\n")
	with.Corrections = map[Cell][]Correction{{2, attributeOf("weight")}: {{Value: "148"}}}
	d, counts, err := ReadAll(balm(), named, with, source("b.csv", labelledHead+"B1,25C60,tube,0,weight,150,w\n"))
	if err != nil {
		t.Fatal(err)
	}
	// 149 / 148 is 1.00676.
	want := "mass-gain: weight 25C60 tube: masses above that of the unit at time zero, by up to 0.68 % (1 mass, first r.csv:3); were units exchanged, or does the product take something up?"
	if diff := cmp.Diff(want, warnings(d)); diff != "" {
		t.Error(diff)
	}
	if counts[1] != (Count{Rows: 1, Repeats: 1, Superseded: 1}) || d.Results[0].Value != 148 || d.Results[0].Condition != 0 {
		t.Errorf("%+v, %+v", counts, d.Results)
	}
}

// A unit out of the analysis leaves its place to another.
func TestExcludedUnitsAreNotCountedAgainstThePlan(t *testing.T) {
	text := labelledHead + "B1,25C60,tube,3M,assay,5,1\nB1,25C60,tube,3M,assay,99,2\n" // one unit is planned
	d, _, err := changed("assay", text, nil)
	if err != nil || len(d.Warnings) != 1 || d.Warnings[0].Code != "more-than-planned" {
		t.Fatalf("%v, %v", err, d.Warnings)
	}
	d, _, err = changed("assay", text, nil, [2]int{2, 0})
	if err != nil || len(d.Warnings) > 0 || len(d.Results) != 1 || d.Results[0].Value != 99 {
		t.Errorf("%v, %+v", err, d)
	}
}

// A time-zero result is one under all its conditions: changing it changes it there.
func TestCorrectionOfATimeZeroUnderSeveralConditions(t *testing.T) {
	text := long + "B1,25C60,tube,0,assay,99\nB1,40C75,tube,0,assay,99\nB1,,tube,0,assay,99\n"
	with := source("r.csv", text)
	with.Corrections = map[Cell][]Correction{{2, attributeOf("assay")}: {{Value: "98"}}}
	for _, later := range []string{"99", "98"} {
		with.Reader = strings.NewReader(text)
		d, counts, err := ReadAll(balm(), named, with, source("b.csv", long+"B1,freeze,tube,0,assay,"+later+"\n"))
		if err != nil || len(d.Results) != 1 || d.Results[0].Value != 98 || d.Results[0].Condition != -1 {
			t.Fatalf("%v, %+v", err, d)
		}
		if counts[0] != (Count{Rows: 3, Results: 1, Repeats: 2, Superseded: 2}) || counts[1].Repeats != 1 {
			t.Errorf("%+v", counts)
		}
	}
	with.Reader = strings.NewReader(text)
	with.Corrections = map[Cell][]Correction{{2, attributeOf("assay")}: {{Exclude: true}}}
	d, _, err := ReadAll(balm(), named, with)
	if err != nil || len(d.Results) > 0 || len(d.Excluded) != 1 {
		t.Errorf("%v, %+v", err, d)
	}
}

// A table that was written anew after a time-zero result was amended has the new
// value under every condition; it is still the one that was amended.
func TestTimeZeroAmendedAndHandedInAgain(t *testing.T) {
	for name, text := range map[string]string{
		"a measure":            labelledHead + "B1,25C60,tube,0,pH,5,1\nB1,40C75,tube,0,pH,5,1\n",
		"without labels":       labelledHead + "B1,25C60,tube,0,pH,5,\nB1,25C60,tube,0,pH,5.5,\nB1,40C75,tube,0,pH,5,\nB1,40C75,tube,0,pH,5.5,\n",
		"without labels, only": labelledHead + "B1,,tube,0,pH,5,\nB1,40C75,tube,0,pH,5,\n",
		"a mass":               labelledHead + "B1,25C60,tube,0,weight,5,w\nB1,,tube,0,weight,5,w\nB1,25C60,tube,3M,weight,5.9,w\n",
	} {
		with := source("a.csv", text)
		with.Corrections = map[Cell][]Correction{{2, attributeOf("pH")}: {{Value: "6"}}}
		anew := strings.ReplaceAll(text, ",5,", ",6,")
		if name == "a mass" {
			with.Corrections = map[Cell][]Correction{{2, attributeOf("weight")}: {{Value: "6"}}}
		}
		d, counts, err := ReadAll(balm(), named, with, source("b.csv", anew))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if d.Results[0].Value != 6 || counts[1].Results != 0 || counts[1].Repeats != counts[1].Rows {
			t.Errorf("%s: %v, %+v", name, d.Results, counts)
		}
	}
}

// What is out of the analysis is not held against the rest.
func TestExcludedMassesAreNotCompared(t *testing.T) {
	text := labelledHead + "B1,25C60,tube,0,weight,150,w\nB1,25C60,tube,3M,weight,151,w\nB1,25C60,tube,6M,weight,149,w\n"
	d, _, err := changed("weight", text, nil)
	if err != nil || len(d.Warnings) != 1 || d.Warnings[0].Code != "mass-gain" {
		t.Fatalf("%v, %v", err, d.Warnings)
	}
	d, _, err = changed("weight", text, nil, [2]int{3, 0})
	if err != nil || len(d.Warnings) > 0 || len(d.Results) != 2 {
		t.Errorf("%v, %+v", err, d)
	}
}

// The result to change is the one that is kept, by however many steps.
func TestTheOneToChange(t *testing.T) {
	zero := func(condition string) string { return labelledHead + "B1," + condition + ",tube,0,assay,99,1\n" }
	c := source("c.csv", zero("40C75")+"\n")
	c.Corrections = map[Cell][]Correction{{2, attributeOf("assay")}: {{Exclude: true}}}
	d, _, err := ReadAll(balm(), named, source("a.csv", zero("25C60")), source("b.csv", zero("40C75")), c)
	want := "c.csv:2: assay: this result repeats that on line 2 of a.csv, which is the one to change: R0-2"
	if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
		t.Error(diff)
	}
}
