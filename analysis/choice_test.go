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
