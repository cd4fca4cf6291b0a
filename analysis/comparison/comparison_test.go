package comparison_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"shelfspan/analysis/comparison"
)

func table(t *testing.T, file string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/reference/comparison/" + file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range records[1:] {
		row := map[string]string{}
		for i, h := range records[0] {
			row[h] = strings.TrimSpace(r[i])
		}
		out = append(out, row)
	}
	return out
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// load gives a set of the reference data.
func load(t *testing.T, set string) (in comparison.Input, batches int) {
	t.Helper()
	arms := map[comparison.Arm]int{}
	for _, r := range table(t, "data.csv") {
		if r["set"] != set {
			continue
		}
		a := comparison.Arm{Batch: int(number(t, r["batch"])) - 1, Combination: int(number(t, r["combo"])) - 1}
		i, known := arms[a]
		if !known {
			i = len(in.Arms)
			arms[a] = i
			in.Arms = append(in.Arms, a)
		}
		in.Observations = append(in.Observations, comparison.Observation{Arm: i, Start: int(number(t, r["start"])), X: number(t, r["months"]), Z: number(t, r["z"])})
		batches = max(batches, a.Batch+1)
	}
	return in, batches
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-8*(math.Abs(b)+1e-6) }

var combinations = map[string]int{"jar": 0, "tube": 1, "can upright": 2, "can inverted": 3}

// Differences, errors and the test of additivity are those of R's lm and anova.
func TestWithinBatches(t *testing.T) {
	for _, set := range []string{"alike", "varies"} {
		in, _ := load(t, set)
		f, err := comparison.Compare(in, 0)
		if err != nil {
			t.Fatal(err)
		}
		if f.Varies != (set == "varies") || len(f.Lost)+len(f.Apart) > 0 {
			t.Errorf("%s: varies %v, lost %v, apart %v", set, f.Varies, f.Lost, f.Apart)
		}
		for _, r := range table(t, "within.csv") {
			if r["set"] != set {
				continue
			}
			of, against, two := strings.Cut(r["what"], " - ")
			weights := map[int]float64{combinations[of]: 1}
			if two {
				weights[combinations[against]] = -1
			}
			contrast, known := f.Contrast(weights)
			e := f.Of(contrast)
			if !known || !near(e.Value, number(t, r["value"])) || !near(e.SE, number(t, r["se"])) || e.DF != int(number(t, r["df"])) || !near(e.P, number(t, r["p"])) ||
				!near(f.AdditivityF, number(t, r["additivityF"])) || !near(f.AdditivityP, number(t, r["additivityP"])) {
				t.Errorf("%s, %s: %+v, F %g, p %g; R has %v", set, r["what"], e, f.AdditivityF, f.AdditivityP, r)
			}
		}
	}
}

// What batches are made of is compared on their rates, each counted once.
func TestBetweenBatches(t *testing.T) {
	for _, set := range []string{"alike", "varies"} {
		in, n := load(t, set)
		f, err := comparison.Compare(in, 0)
		if err != nil {
			t.Fatal(err)
		}
		clay := comparison.Term{Name: "thickener", Levels: []string{"none", "clay"}, Of: make([]int, n)}
		scale := comparison.Term{Name: "scale", Levels: []string{"bench", "pilot"}, Of: make([]int, n)}
		for i := range n {
			if i%2 == 0 {
				clay.Of[i] = 1
			}
			if i >= 2 {
				scale.Of[i] = 1
			}
		}
		b, err := f.CompareBatches([]comparison.Term{clay, scale}, false)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range table(t, "between.csv") {
			if r["set"] != set {
				continue
			}
			contrast := []float64{0, 1, 0}
			if r["what"] == "scalepilot" {
				contrast = []float64{0, 0, 1}
			}
			e := b.Of(contrast)
			if b.Those || !near(e.Value, number(t, r["value"])) || !near(e.SE, number(t, r["se"])) || e.DF != int(number(t, r["df"])) || !near(e.P, number(t, r["p"])) {
				t.Errorf("%s, %s: %+v; R has %v", set, r["what"], e, r)
			}
		}
	}
}
