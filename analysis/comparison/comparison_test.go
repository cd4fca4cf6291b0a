package comparison_test

import (
	"math"
	"strings"
	"testing"

	"shelfspan/analysis/comparison"
	"shelfspan/testdata/reference"
)

// load gives a set of the reference data.
func load(t *testing.T, set string) (in comparison.Input, batches int) {
	t.Helper()
	arms := map[comparison.Arm]int{}
	for _, r := range reference.Table(t, "comparison/data.csv") {
		if r["set"] != set {
			continue
		}
		a := comparison.Arm{Batch: int(reference.Number(t, r["batch"])) - 1, Combination: int(reference.Number(t, r["combo"])) - 1}
		i, known := arms[a]
		if !known {
			i = len(in.Arms)
			arms[a] = i
			in.Arms = append(in.Arms, a)
		}
		in.Observations = append(in.Observations, comparison.Observation{Arm: i, Start: int(reference.Number(t, r["start"])), X: reference.Number(t, r["months"]), Z: reference.Number(t, r["z"])})
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
		for _, r := range reference.Table(t, "comparison/within.csv") {
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
			if !known || !near(e.Value, reference.Number(t, r["value"])) || !near(e.SE, reference.Number(t, r["se"])) || e.DF != int(reference.Number(t, r["df"])) || !near(e.P, reference.Number(t, r["p"])) ||
				!near(f.AdditivityF, reference.Number(t, r["additivityF"])) || !near(f.AdditivityP, reference.Number(t, r["additivityP"])) {
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
		for _, r := range reference.Table(t, "comparison/between.csv") {
			if r["set"] != set {
				continue
			}
			contrast := []float64{0, 1, 0}
			if r["what"] == "scalepilot" {
				contrast = []float64{0, 0, 1}
			}
			e := b.Of(contrast)
			if b.Those || !near(e.Value, reference.Number(t, r["value"])) || !near(e.SE, reference.Number(t, r["se"])) || e.DF != int(reference.Number(t, r["df"])) || !near(e.P, reference.Number(t, r["p"])) {
				t.Errorf("%s, %s: %+v; R has %v", set, r["what"], e, r)
			}
		}
	}
}

// line adds results of an arm on a line without scatter.
func line(in *comparison.Input, arm comparison.Arm, start int, from, rate float64, times ...float64) {
	in.Arms = append(in.Arms, arm)
	for _, x := range times {
		in.Observations = append(in.Observations, comparison.Observation{Arm: len(in.Arms) - 1, Start: start, X: x, Z: from + rate*x})
	}
}

// Packs that no chain of batches connects with the reference have no δ: what looks
// like one is the difference of two of them. Those that a chain connects have.
func TestWhatNoBatchConnects(t *testing.T) {
	in := comparison.Input{}
	line(&in, comparison.Arm{Batch: 0, Combination: 0}, 0, 100, -0.2, 0, 3, 6)
	line(&in, comparison.Arm{Batch: 1, Combination: 1}, 1, 100, -0.2, 0, 3, 6)
	line(&in, comparison.Arm{Batch: 1, Combination: 2}, 2, 100, -0.6, 0, 3, 6)
	f, err := comparison.Compare(in, 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Apart) != 2 || !math.IsNaN(f.MeanRate(1)) || !math.IsNaN(f.MeanRate(2)) || math.Abs(f.MeanRate(0)+0.2) > 1e-12 {
		t.Errorf("apart %v, rates %g, %g, %g", f.Apart, f.MeanRate(0), f.MeanRate(1), f.MeanRate(2))
	}
	line(&in, comparison.Arm{Batch: 0, Combination: 1}, 3, 100, -0.3, 0, 3, 6) // tube − jar −0.1; can − tube −0.4
	if f, err = comparison.Compare(in, 0); err != nil {
		t.Fatal(err)
	}
	tube, _ := f.Contrast(map[int]float64{1: 1})
	can, _ := f.Contrast(map[int]float64{2: 1})
	if len(f.Apart) != 0 || math.Abs(f.Of(tube).Value+0.1) > 1e-12 || math.Abs(f.Of(can).Value+0.5) > 1e-12 {
		t.Errorf("apart %v, tube %g, can %g", f.Apart, f.Of(tube).Value, f.Of(can).Value)
	}
}

// Arms of one start with results at one time each tell how they differ there, and not
// the rate of any.
func TestOneTimeEach(t *testing.T) {
	in := comparison.Input{}
	line(&in, comparison.Arm{Batch: 0, Combination: 0}, 0, 100, -0.2, 0, 3, 6)
	line(&in, comparison.Arm{Batch: 0, Combination: 1}, 1, 100, -0.2, 6)
	line(&in, comparison.Arm{Batch: 0, Combination: 2}, 1, 100, -0.6, 6)
	f, err := comparison.Compare(in, 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Lost) != 2 || !math.IsNaN(f.MeanRate(1)) || !math.IsNaN(f.MeanRate(2)) {
		t.Errorf("lost %v, rates %g and %g", f.Lost, f.MeanRate(1), f.MeanRate(2))
	}
	line(&in, comparison.Arm{Batch: 0, Combination: 3}, 1, 100, -0.4, 3, 9) // now the start is known, by its own line
	if f, err = comparison.Compare(in, 0); err != nil {
		t.Fatal(err)
	}
	if len(f.Lost) != 0 || math.Abs(f.MeanRate(1)+0.2) > 1e-12 || math.Abs(f.MeanRate(2)+0.6) > 1e-12 {
		t.Errorf("lost %v, rates %g and %g", f.Lost, f.MeanRate(1), f.MeanRate(2))
	}
}

// What goes together in all batches is told together or not at all.
func TestConfoundedTerms(t *testing.T) {
	fit := func(terms []comparison.Term, rates ...float64) *comparison.Between {
		in := comparison.Input{}
		for i, r := range rates {
			line(&in, comparison.Arm{Batch: i, Combination: 0}, i, 100, r, 0, 3, 6)
		}
		f, err := comparison.Compare(in, 0)
		if err != nil {
			t.Fatal(err)
		}
		b, err := f.CompareBatches(terms, false)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	clay := comparison.Term{Name: "thickener", Levels: []string{"clay", "gum"}, Of: []int{0, 0, 1, 1}}
	rose := comparison.Term{Name: "scent", Levels: []string{"none", "rose"}, Of: []int{0, 0, 1, 1}}
	b := fit([]comparison.Term{clay, rose}, -0.2, -0.22, -0.4, -0.42)
	if !b.Columns[0].Known() || len(b.Columns[0].Same) != 1 || b.Columns[0].Same[0] != 1 || b.Columns[1].Known() || math.Abs(b.Coefficients[1]+0.2) > 1e-12 {
		t.Errorf("alike: %+v, %v", b.Columns, b.Coefficients)
	}
	// Gum goes with rose or mint, and clay with none: no one of the three is told.
	scents := comparison.Term{Name: "scent", Levels: []string{"none", "rose", "mint"}, Of: []int{0, 0, 1, 2}}
	b = fit([]comparison.Term{scents, clay}, -0.2, -0.22, -0.4, -0.42)
	for i := range b.Columns {
		if b.Columns[i].Known() {
			t.Errorf("a sum: %+v is taken as known", b.Columns[i])
		}
	}
	// Crossed, each is told.
	rose.Of = []int{0, 1, 0, 1}
	b = fit([]comparison.Term{clay, rose}, -0.2, -0.3, -0.4, -0.5)
	if !b.Columns[0].Known() || !b.Columns[1].Known() || math.Abs(b.Coefficients[1]+0.2) > 1e-12 || math.Abs(b.Coefficients[2]+0.1) > 1e-12 {
		t.Errorf("crossed: %+v, %v", b.Columns, b.Coefficients)
	}
}
