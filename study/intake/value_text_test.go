package intake

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"shelfspan/study"
)

// What ValueText writes is read as the same value again, in tables of any
// separator and as a correction, for all kinds and whatever the grades are called.
func TestValueTextIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := balm()
		s.Attributes[4].Grades = rapid.SliceOfNDistinct(
			rapid.OneOf(rapid.StringMatching(`[a-z<>=+\-@'";,. ]{0,4}[a-z+;,"'-]`), rapid.SampledFrom([]string{"très", "1,5", "'+", "+", "none", "-", "<5"})),
			2, 5, func(g string) string { return strings.ToLower(strings.TrimSpace(g)) }).Draw(t, "grades")
		for i, g := range s.Attributes[4].Grades {
			s.Attributes[4].Grades[i] = strings.TrimSpace(g) // as a study file has them
		}
		k := rapid.SampledFrom([]int{0, 3, 4, 5}).Draw(t, "attribute")
		x := study.Result{Attribute: uint16(k)}
		switch k {
		case 0:
			x.Value = rapid.Float64().Draw(t, "value")
			x.Censor = study.Censor(rapid.IntRange(-1, 1).Draw(t, "censor"))
		case 3:
			x.Value = rapid.Float64Range(math.SmallestNonzeroFloat64, math.MaxFloat64).Draw(t, "mass")
		case 4:
			x.Value = float64(rapid.IntRange(0, len(s.Attributes[4].Grades)-1).Draw(t, "grade"))
		case 5:
			x.Value = float64(rapid.IntRange(0, 1).Draw(t, "failed"))
		}
		text := study.ValueText(s, &x)
		id := s.Attributes[k].ID
		columns := []string{"batch", "condition", "pack", "time", "unit", "attribute", "value"}
		row := cells{"batch": "B1", "condition": "25C60", "pack": "tube", "time": "0", "unit": "w", "attribute": id, "value": text}
		if rapid.Bool().Draw(t, "wide") {
			columns[5], columns[6], row[id] = id, "comment", text
		}
		sep := rapid.SampledFrom([]rune{',', ';', '\t'}).Draw(t, "sep")
		table := write([]cells{row}, columns, sep, false, false)
		d, err := Read(s, source("r.csv", table))
		if err != nil {
			t.Fatalf("%v\n%s", err, table)
		}
		if got := d.Results[0]; got.Value != x.Value || got.Censor != x.Censor {
			t.Fatalf("%s is read as %v (%d), it was %v (%d)", text, got.Value, got.Censor, x.Value, x.Censor)
		}
		placeholder := map[int]string{0: "1", 3: "150", 4: s.Attributes[4].Grades[0], 5: "pass"}[k]
		row["value"], row[id] = placeholder, placeholder
		with := source("r.csv", write([]cells{row}, columns, sep, false, false))
		with.Corrections = map[Cell][]Correction{{2, k}: {{Value: text}}}
		d, _, err = ReadAll(s, named, with)
		if err != nil {
			t.Fatal(err)
		}
		if got := d.Results[0]; got.Value != x.Value || got.Censor != x.Censor {
			t.Fatalf("amended to %s it is %v (%d), it was %v (%d)", text, got.Value, got.Censor, x.Value, x.Censor)
		}
	})
}

// What keeps a text from being a formula in a spreadsheet is no part of the text;
// a number never had it.
func TestApostrophes(t *testing.T) {
	s := balm()
	s.Attributes[4].Grades = []string{"-", "+", "++"}
	const head = "batch,condition,pack,time,attribute,value,unit,comment\n"
	d, err := Read(s, source("r.csv", head+
		"'B1,25C60,tube,3M,look,'++,'=1,'+49 is a number\n"+
		"B1,25C60,tube,6M,look,+,''=1,'tis dry\n"))
	want := `r.csv:2: batch: no batch "'B1"; did you mean "B1"?`
	if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
		t.Error(diff)
	}
	d, err = Read(s, source("r.csv", head+
		"B1,25C60,tube,3M,look,'++,'=1,'+49 is a number\n"+
		"B1,25C60,tube,6M,look,+,''=1,'tis dry\n"))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, x := range d.Results {
		got = append(got, fmt.Sprint(x.Value, " ", d.Text(x.Unit), " ", d.Text(x.Comment)))
	}
	if diff := cmp.Diff([]string{"2 =1 +49 is a number", "1 '=1 'tis dry"}, got); diff != "" {
		t.Error(diff)
	}
	for _, text := range []string{head + "B1,25C60,tube,3M,pH,'-5,,\n", "batch,condition,pack,time,pH\nB1,25C60,tube,3M,'-5\n"} {
		if d, err := Read(s, source("r.csv", text)); err == nil {
			t.Errorf("'-5 is read as %v", d.Results[0].Value)
		}
	}
}
