package fisher

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/testdata/reference"
)

// R 4.2.2: the p-values of mantelhaen.test(exact = TRUE), the ratio and its interval by
// their definitions (testdata/reference/fisher/stratified.R); among the tables Agresti's
// of penicillin in rabbits (Categorical Data Analysis, 1990) and the admissions at
// Berkeley (Bickel, Hammel & O'Connell 1975), as R carries both.
func TestStratifiedAgainstR(t *testing.T) {
	sets := map[string][][2][2]int{}
	for _, r := range reference.Table(t, "fisher/tables.csv") {
		n := func(column string) int {
			v, err := strconv.Atoi(r[column])
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		sets[r["set"]] = append(sets[r["set"]], [2][2]int{{n("a"), n("b")}, {n("c"), n("d")}})
	}
	rows := reference.Table(t, "fisher/stratified.csv")
	if len(rows) < 20 {
		t.Errorf("only %d sets", len(rows))
	}
	worst := 0.0
	for _, row := range rows {
		r, err := Stratified(sets[row["set"]], reference.Number(t, row["confidence"]))
		if err != nil {
			t.Fatal(err)
		}
		for name, got := range map[string]float64{"p": r.P, "less": r.Less, "greater": r.Greater, "odds": r.Odds, "low": r.Low, "high": r.High} {
			want := reference.Number(t, row[name])
			if math.IsNaN(want) && math.IsNaN(got) || got == want {
				continue
			}
			off := math.Abs(got/want - 1)
			worst = max(worst, off)
			if !(off < 1e-11) {
				t.Errorf("%s: %s is %.15g, R has %.15g", row["set"], name, got, want)
			}
		}
	}
	t.Logf("largest relative difference %.1e over %d sets", worst, len(rows))
}

// Two strata of two units and one that failed in each: within each the first cell is 0 or
// 1 with probability ½, so that the sum is 2 with ¼, and of one unit in each row P(1; ψ) =
// ψ/(1 + ψ): at the lower bound at 0.95 (ψ/(1 + ψ))² is 0.025.
func TestStratifiedByHand(t *testing.T) {
	one := [2][2]int{{1, 0}, {0, 1}}
	r, err := Stratified([][2][2]int{one, {{0, 3}, {0, 4}}, one, {{5, 0}, {2, 0}}}, 0.95)
	root := math.Sqrt(0.025)
	if err != nil || r.P != 0.5 || r.Greater != 0.25 || r.Telling != 2 || !math.IsInf(r.Odds, 1) || math.Abs(r.Low/(root/(1-root))-1) > 1e-12 {
		t.Errorf("%+v, %v", r, err)
	}
	if r, err := Stratified(nil, 0.95); err != nil || r.P != 1 || !math.IsNaN(r.Odds) || r.Low != 0 || !math.IsInf(r.High, 1) {
		t.Errorf("no tables: %+v, %v", r, err)
	}
	half := [2][2]int{{MostStratified / 4, 1}, {1, MostStratified / 4}}
	if _, err := Stratified([][2][2]int{half, half}, 0.95); err == nil {
		t.Error("more units than are dealt with, without an error")
	}
}

// The order of tables, tables with an empty margin and which column counts change nothing;
// exchanged rows turn the ratio over; and the distribution is that of every way the cells
// can add, gone through.
func TestStratifiedProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.IntRange(0, 6)
		var tables, swapped, backwards [][2][2]int
		for range rapid.IntRange(1, 4).Draw(t, "tables") {
			x := [2][2]int{{cell.Draw(t, "a"), cell.Draw(t, "b")}, {cell.Draw(t, "c"), cell.Draw(t, "d")}}
			tables = append(tables, x)
			swapped = append(swapped, [2][2]int{x[1], x[0]})
			backwards = append([][2][2]int{{{0, 2}, {0, 9}}, x}, backwards...)
		}
		r, err := Stratified(tables, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		near := func(x, y float64) bool {
			return x == y || math.IsNaN(x) && math.IsNaN(y) || math.Abs(x/y-1) < 1e-9
		}
		if b, _ := Stratified(backwards, 0.9); !near(b.P, r.P) || !near(b.Odds, r.Odds) || !near(b.Low, r.Low) || !near(b.High, r.High) || b.Telling != r.Telling {
			t.Fatalf("%+v, backwards %+v", r, b)
		}
		if s, _ := Stratified(swapped, 0.9); !near(s.P, r.P) || !near(s.Less, r.Greater) || !near(1/s.Odds, r.Odds) || !near(1/s.Low, r.High) {
			t.Fatalf("%+v, rows exchanged %+v", r, s)
		}
		// Counts of all ways, by binomial coefficients that are whole numbers.
		ways := map[int]float64{0: 1}
		sum := 0
		for _, x := range tables {
			a, b, c, d := x[0][0], x[0][1], x[1][0], x[1][1]
			sum += a
			next := map[int]float64{}
			for k, n := range ways {
				for i := max(0, a-d); i <= min(a+b, a+c); i++ {
					next[k+i] += n * choose(a+b, i) * choose(c+d, a+c-i)
				}
			}
			ways = next
		}
		total, less, p := 0.0, 0.0, 0.0
		for k, n := range ways {
			total += n
			if k <= sum {
				less += n
			}
			if n <= ways[sum]*(1+1e-7) {
				p += n
			}
		}
		if !near(r.P, p/total) || !near(r.Less, less/total) {
			t.Fatalf("%v: P %v, Less %v; want %v, %v", tables, r.P, r.Less, p/total, less/total)
		}
	})
}

func choose(n, k int) float64 {
	c := 1.0
	for i := range k {
		c = c * float64(n-i) / float64(i+1)
	}
	return math.Round(c)
}

func BenchmarkStratified(b *testing.B) {
	for name, table := range map[string][2][2]int{"12 a row": {{3, 9}, {6, 6}}, "1000 a row": {{500, 500}, {450, 550}}} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Stratified([][2][2]int{table, table, table, table, table, table}, 0.95); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
