package analysis_test

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"

	"shelfspan/analysis"
)

// The models are compared on what each condition's trend is fitted to: of units
// that are put back, those stored there. The criterion of each model is R's
// (testdata/reference/choice/returned.R).
func TestModelChoiceOfReturnedUnits(t *testing.T) {
	const folder = "../testdata/reference/choice/"
	results, err := os.ReadFile(folder + "returned.csv")
	if err != nil {
		t.Fatal(err)
	}
	file, err := os.Open(folder + "returned-answers.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	answers, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}

	toml := head + batches(1) + `
[[attribute]]
id       = "firmness"
unit     = "N"
kind     = "measure"
lower    = 20.0
model    = "auto"
sampling = "returned"
units    = 4
`
	e := analysis.Evaluate(dataset(t, toml, string(results)), analysis.Options{Trends: true})
	if len(e.Analyses) != 2 {
		t.Fatalf("%d analyses, want one a condition", len(e.Analyses))
	}
	got := make(map[string]float64)
	for _, c := range e.Analyses[0].Candidates {
		got[string(c.Model)] = c.AICc
	}
	for _, row := range answers[1:] {
		want, err := strconv.ParseFloat(row[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		if x, ok := got[row[0]]; !ok || !near(x, want) {
			t.Errorf("%s: AICc %v, want R's %v", row[0], x, want)
		}
	}
}

// A unit that is put back and was measured at time zero only, at the condition
// it names, is no unit of another one: it is not fitted, compared or told as left
// out there. One unit that falls by 0.5 a month and one that falls by 0.7.
func TestReturnedUnitOfTimeZeroAlone(t *testing.T) {
	csv := `batch,condition,time,attribute,unit,value
B1,25C60,0,assay,a1,100
B1,25C60,3M,assay,a1,98.5
B1,25C60,6M,assay,a1,97
B1,25C60,0,assay,a2,100
B1,25C60,3M,assay,a2,97.9
B1,25C60,6M,assay,a2,95.8
B1,40C75,0,assay,h1,90
`
	toml := head + batches(1) + assay + "sampling = \"returned\"\nunits = 2\n"
	e := analysis.Evaluate(dataset(t, toml, csv), analysis.Options{Trends: true})
	if len(e.Analyses) != 1 {
		t.Fatalf("%d analyses, want that at 25C60 alone", len(e.Analyses))
	}
	if n := len(e.Analyses[0].Samples); n != 6 {
		t.Errorf("%d samples, want the 6 of the units stored there", n)
	}
	for _, w := range e.Warnings {
		if w.Code == "unit-left-out" {
			t.Errorf("%v", w)
		}
	}
}
