package agreement

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/testdata/reference"
)

func integer(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

var weightings = map[string]func(int) [][]float64{"unweighted": Unweighted, "linear": Linear, "quadratic": Quadratic}

// Against the formulas as printed and vcd::Kappa 1.4-11, in R 4.2.2; script,
// tables and output in testdata/reference/agreement.
func TestReference(t *testing.T) {
	tables := map[string][][]int{}
	for _, r := range reference.Rows(t, "agreement/tables.csv") {
		i, j := integer(t, r[1]), integer(t, r[2])
		rows := tables[r[0]]
		if i == len(rows) {
			rows = append(rows, nil)
		}
		if j != len(rows[i]) {
			t.Fatalf("tables.csv is not in order at %v", r)
		}
		rows[i] = append(rows[i], integer(t, r[3]))
		tables[r[0]] = rows
	}
	worst, seen := 0.0, 0
	for _, r := range reference.Rows(t, "agreement/agreement.csv") {
		table := tables[r[0]]
		got, err := Kappa(table, weightings[r[1]](len(table)), 0.95)
		if err != nil || got.Status != Computed {
			t.Fatal(r, got.Status, err)
		}
		want, err := strconv.ParseFloat(r[3], 64)
		if err != nil {
			t.Fatal(err)
		}
		v := map[string]float64{"observed": got.Observed, "expected": got.Expected, "kappa": got.Kappa, "se": got.SE, "nullse": got.NullSE}[r[2]]
		worst = max(worst, math.Abs(v/want-1))
		if !(math.Abs(v-want) <= 1e-11*math.Abs(want)) {
			t.Errorf("table %s, %s: %s = %.15g, R has %.15g", r[0], r[1], r[2], v, want)
		}
		seen++
	}
	if seen == 0 {
		t.Fatal("no reference")
	}
	t.Logf("largest relative difference %.1e over %d numbers", worst, seen)
}

// The worked example of Fleiss, Cohen & Everitt (1969): 200 patients, two
// diagnosticians, three diagnoses; the table, the weights and the answers to
// three or four figures from memory. By hand: po = 0.53 + 0.14 + 0.03 = 0.70, pe =
// 0.65·0.60 + 0.25·0.30 + 0.10·0.10 = 0.475, kappa = 0.225/0.525 = 0.4286;
// weighted, po = 0.7867, pe = 0.5672, kappa 0.5071 (0.507).
func TestPublished(t *testing.T) {
	table := [][]int{{106, 10, 4}, {22, 28, 10}, {2, 12, 6}}
	weights := [][]float64{{1, 0, 4. / 9}, {0, 1, 2. / 3}, {4. / 9, 2. / 3, 1}}
	plain, err := Kappa(table, Unweighted(3), 0.95)
	if err != nil || math.Abs(plain.Kappa-0.225/0.525) > 1e-12 || math.Abs(plain.Observed-0.70) > 1e-12 || math.Abs(plain.Expected-0.475) > 1e-12 {
		t.Errorf("unweighted: %+v, %v", plain, err)
	}
	weighted, err := Kappa(table, weights, 0.95)
	if err != nil || math.Abs(weighted.Kappa-0.507) > 5e-4 {
		t.Errorf("weighted: %+v, %v", weighted, err)
	}
	// Published variances, from memory: 0.003248 and, of independent assessors, 0.00427.
	if v := weighted.SE * weighted.SE; math.Abs(v-0.003248) > 5e-7 {
		t.Errorf("variance %v, published 0.003248", v)
	}
	if v := weighted.NullSE * weighted.NullSE; math.Abs(v-0.00427) > 5e-6 {
		t.Errorf("variance of independent assessors %v, published 0.00427", v)
	}
	// 1.959964 standard errors of √0.003248.
	if want := weighted.Kappa - 1.959964*weighted.SE; math.Abs(weighted.Low-want) > 1e-6 {
		t.Errorf("lower end %v, want %v", weighted.Low, want)
	}
}

// A table that says nothing says so.
func TestDegenerate(t *testing.T) {
	for _, c := range []struct {
		name       string
		table      [][]int
		status     Status
		kappa      float64
		observed   float64
		everything bool // all the rest is NaN but for the null error
	}{
		{"nobody graded anything", [][]int{{0, 0}, {0, 0}}, NoUnits, math.NaN(), math.NaN(), false},
		{"both gave one grade", [][]int{{0, 0, 0}, {0, 9, 0}, {0, 0, 0}}, OneGrade, math.NaN(), 1, false},
		{"each gave one grade, not the same", [][]int{{0, 9}, {0, 0}}, ByMargins, math.NaN(), 0, false},
		{"one gave one grade", [][]int{{5, 4}, {0, 0}}, ByMargins, math.NaN(), 5. / 9, false},
		{"the other gave one grade", [][]int{{5, 0}, {4, 0}}, ByMargins, math.NaN(), 5. / 9, false},
		// With linear weights over three grades, 0 or 1 against 1 or 2, the distances
		// just add up; (3/2 + 2 + 4/2)/10 in agreement.
		{"one above the other all along", [][]int{{0, 3, 1}, {0, 2, 4}, {0, 0, 0}}, ByMargins, math.NaN(), 0.55, false},
		{"never together", [][]int{{0, 5}, {5, 0}}, NoError, -1, 0, true}, // po = 0, pe = 1/2
		{"never apart", [][]int{{5, 0}, {0, 4}}, NoError, 1, 1, true},
	} {
		got, err := Kappa(c.table, Linear(len(c.table)), 0.95)
		same := func(a, b float64) bool { return math.Abs(a-b) < 1e-15 || math.IsNaN(a) && math.IsNaN(b) }
		if err != nil || got.Status != c.status || !same(got.Kappa, c.kappa) || !same(got.Observed, c.observed) {
			t.Errorf("%s: %+v, %v", c.name, got, err)
		}
		if !math.IsNaN(got.SE) || !math.IsNaN(got.Low) || !math.IsNaN(got.High) || math.IsNaN(got.NullSE) == c.everything {
			t.Errorf("%s: errors %+v", c.name, got)
		}
	}
}

func TestRefuses(t *testing.T) {
	good, w := [][]int{{3, 1}, {1, 3}}, Linear(2)
	for _, c := range []struct {
		name       string
		table      [][]int
		weights    [][]float64
		confidence float64
	}{
		{"no confidence", good, w, 1}, {"NaN confidence", good, w, math.NaN()},
		{"one grade", [][]int{{3}}, Linear(1), 0.95}, {"no grades", nil, nil, 0.95},
		{"weights of another scale", good, Linear(3), 0.95}, {"a ragged table", [][]int{{3, 1}, {1}}, w, 0.95},
		{"ragged weights", good, [][]float64{{1, 0}, {1}}, 0.95}, {"a negative count", [][]int{{3, -1}, {1, 3}}, w, 0.95},
		{"a count without end", [][]int{{math.MaxInt, math.MaxInt}, {1, 3}}, w, 0.95},
		{"a weight above 1", good, [][]float64{{1, 2}, {0, 1}}, 0.95}, {"a NaN weight", good, [][]float64{{1, math.NaN()}, {0, 1}}, 0.95},
		{"agreement of no weight", good, [][]float64{{0.5, 0}, {0, 1}}, 0.95},
	} {
		if _, err := Kappa(c.table, c.weights, c.confidence); err == nil {
			t.Errorf("%s is taken", c.name)
		}
	}
	for _, c := range [][2][]int{{{0, 1}, {0}}, {{0, 2}, {0, 1}}, {{0, 1}, {-1, 1}}} {
		if _, err := Table(c[0], c[1], 2); err == nil {
			t.Errorf("grades %v are counted", c)
		}
	}
}

func TestTable(t *testing.T) {
	got, err := Table([]int{0, 1, 2, 2}, []int{0, 2, 2, 1}, 3)
	want := [][]int{{1, 0, 0}, {0, 0, 1}, {0, 1, 1}}
	if err != nil {
		t.Fatal(err)
	}
	for i := range want {
		for j := range want {
			if got[i][j] != want[i][j] {
				t.Errorf("%v, want %v", got, want)
			}
		}
	}
}

// It does not matter which assessor comes first, nor from which end the scale is
// counted; kappa is at most 1 and no number is missing where it is computed.
func TestSymmetry(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(2, 6).Draw(t, "grades")
		pairs := rapid.IntRange(0, 30).Draw(t, "units")
		a, b := make([]int, pairs), make([]int, pairs)
		for u := range a {
			a[u], b[u] = rapid.IntRange(0, k-1).Draw(t, "a"), rapid.IntRange(0, k-1).Draw(t, "b")
		}
		weights := weightings[rapid.SampledFrom([]string{"unweighted", "linear", "quadratic"}).Draw(t, "weights")](k)
		of := func(a, b []int) Result {
			table, err := Table(a, b, k)
			if err != nil {
				t.Fatal(err)
			}
			r, err := Kappa(table, weights, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			return r
		}
		flip := func(x []int) []int {
			out := make([]int, len(x))
			for i, v := range x {
				out[i] = k - 1 - v
			}
			return out
		}
		r := of(a, b)
		for _, other := range []Result{of(b, a), of(flip(a), flip(b))} {
			if other.Status != r.Status || math.Abs(other.Kappa-r.Kappa) > 1e-12 || math.Abs(other.SE-r.SE) > 1e-12 {
				t.Fatalf("%+v against %+v", other, r)
			}
		}
		if r.Status == Computed {
			for _, v := range []float64{r.Observed, r.Expected, r.Kappa, r.SE, r.Low, r.High, r.NullSE, r.Z, r.P} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%+v", r)
				}
			}
			if r.Kappa > 1 || r.High > 1 || r.Low > r.Kappa {
				t.Fatalf("%+v", r)
			}
		}
	})
}
