package fisher

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// R 4.2.2: the p-values of fisher.test, the ratio and its interval by their
// definitions; testdata/reference/fisher/fisher.R.
func TestAgainstR(t *testing.T) {
	f, err := os.Open("../../testdata/reference/fisher/fisher.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for _, row := range rows[1:] {
		var v [11]float64
		for i, s := range row {
			if v[i], err = strconv.ParseFloat(s, 64); err != nil {
				t.Fatal(err)
			}
		}
		r, err := Test([2][2]int{{int(v[0]), int(v[1])}, {int(v[2]), int(v[3])}}, v[4])
		if err != nil {
			t.Fatal(err)
		}
		for i, got := range []float64{r.P, r.Less, r.Greater, r.Odds, r.Low, r.High} {
			want := v[5+i]
			switch {
			case math.IsNaN(want) && math.IsNaN(got), got == want:
				continue
			case want < 1e-300 && got < 1e-300:
				continue
			}
			off := math.Abs(got/want - 1)
			worst = max(worst, off)
			// Of a million units some thousand ratios are multiplied.
			if !(off < 1e-11) {
				t.Errorf("%v: number %d is %.15g, R has %.15g", row[:4], i+1, got, want)
			}
		}
	}
	if len(rows) < 90 {
		t.Errorf("only %d tables", len(rows)-1)
	}
	t.Logf("largest relative difference %.1e over %d tables", worst, len(rows)-1)
}

// Fisher's tea tasting (The Design of Experiments, 1935, chapter 2): 3 of 4 cups told
// rightly have a probability of (16 + 1)/70 or more, one-sided; all of 4 one of 1/70.
// Two-sided it is 34/70: the tables with 0, 1, 3 and 4 are no more probable.
func TestTea(t *testing.T) {
	r, err := Test([2][2]int{{3, 1}, {1, 3}}, 0.95)
	if err != nil || math.Abs(r.Greater-17.0/70) > 1e-15 || math.Abs(r.P-34.0/70) > 1e-15 || math.Abs(r.Less-69.0/70) > 1e-15 {
		t.Errorf("%+v, %v", r, err)
	}
	r, _ = Test([2][2]int{{4, 0}, {0, 4}}, 0.95)
	if math.Abs(r.Greater-1.0/70) > 1e-15 || math.Abs(r.P-2.0/70) > 1e-15 || !math.IsInf(r.Odds, 1) || !math.IsInf(r.High, 1) {
		t.Errorf("%+v", r)
	}
}

// With one unit in each row and in each column P(1; ψ) = ψ/(1 + ψ): the lower bound at 0.95
// is 0.025/0.975 = 1/39.
func TestByHand(t *testing.T) {
	r, err := Test([2][2]int{{1, 0}, {0, 1}}, 0.95)
	if err != nil || r.P != 1 || r.Greater != 0.5 || math.Abs(r.Low*39-1) > 1e-12 {
		t.Errorf("%+v, %v", r, err)
	}
}

func TestRefuses(t *testing.T) {
	for _, c := range []struct {
		table      [2][2]int
		confidence float64
	}{{[2][2]int{{-1, 2}, {3, 4}}, 0.95}, {[2][2]int{{MostUnits, 1}, {0, 0}}, 0.95}, {[2][2]int{{math.MaxInt, math.MaxInt}, {1, 1}}, 0.95}} {
		if r, err := Test(c.table, c.confidence); err == nil {
			t.Errorf("%v: %+v without an error", c.table, r)
		}
	}
	for _, confidence := range []float64{0, 1, -1, math.NaN()} {
		if _, err := Test([2][2]int{{1, 2}, {3, 4}}, confidence); !errors.Is(err, ErrConfidence) {
			t.Errorf("confidence %g: %v", confidence, err)
		}
	}
}

// Rows and columns change places without changing P; one row for the other turns the
// ratio over; the bounds give their tails by binomial coefficients summed here.
func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.IntRange(0, 40)
		a, b, c, d := cell.Draw(t, "a"), cell.Draw(t, "b"), cell.Draw(t, "c"), cell.Draw(t, "d")
		confidence := rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")
		r, err := Test([2][2]int{{a, b}, {c, d}}, confidence)
		if err != nil {
			t.Fatal(err)
		}
		near := func(x, y float64) bool {
			return x == y || math.IsNaN(x) && math.IsNaN(y) || math.Abs(x/y-1) < 1e-9
		}
		if turned, _ := Test([2][2]int{{a, c}, {b, d}}, confidence); !near(turned.P, r.P) || !near(turned.Odds, r.Odds) || !near(turned.Low, r.Low) {
			t.Fatalf("%+v, turned %+v", r, turned)
		}
		swapped, _ := Test([2][2]int{{c, d}, {a, b}}, confidence)
		if !near(swapped.P, r.P) || !near(swapped.Less, r.Greater) || !near(1/swapped.Odds, r.Odds) || !near(1/swapped.Low, r.High) || !near(1/swapped.High, r.Low) {
			t.Fatalf("%+v, rows exchanged %+v", r, swapped)
		}
		if !(r.P >= min(r.Less, r.Greater)*(1-1e-12) && r.P <= 1 && r.Low <= r.High) {
			t.Fatalf("%+v", r)
		}
		choose := func(n, k int) float64 {
			all, _ := math.Lgamma(float64(n) + 1)
			in, _ := math.Lgamma(float64(k) + 1)
			out, _ := math.Lgamma(float64(n-k) + 1)
			return all - in - out
		}
		tail := func(odds float64, counts func(x int) bool) float64 {
			sum, total := 0.0, 0.0
			for x := max(0, a+c-(c+d)); x <= min(a+b, a+c); x++ {
				p := math.Exp(choose(a+b, x) + choose(c+d, a+c-x) + float64(x-a)*math.Log(odds))
				total += p
				if counts(x) {
					sum += p
				}
			}
			return sum / total
		}
		want := (1 - confidence) / 2
		if got := tail(r.Low, func(x int) bool { return x >= a }); r.Low > 0 && math.Abs(got/want-1) > 1e-9 {
			t.Fatalf("at the lower bound %v, want %v", got, want)
		}
		if got := tail(r.High, func(x int) bool { return x <= a }); !math.IsInf(r.High, 1) && math.Abs(got/want-1) > 1e-9 {
			t.Fatalf("at the upper bound %v, want %v", got, want)
		}
	})
}

// Of two packs with the same share that leaks, the test finds a difference at 0.05 in no
// more than 5 % of studies: every study of 12 and 9 units is gone through.
func TestLevel(t *testing.T) {
	const n, m = 12, 9
	for _, share := range []float64{0.02, 0.1, 0.3, 0.5} {
		wrong := 0.0
		for a := 0; a <= n; a++ {
			for c := 0; c <= m; c++ {
				if r, _ := Test([2][2]int{{a, n - a}, {c, m - c}}, 0.95); r.P <= 0.05 {
					wrong += binomial(n, a, share) * binomial(m, c, share)
				}
			}
		}
		if !(wrong <= 0.05) {
			t.Errorf("a share of %g: a difference is found in %.4f of studies", share, wrong)
		}
	}
}

func binomial(n, k int, p float64) float64 {
	c := 1.0
	for i := range k {
		c *= float64(n-i) / float64(i+1)
	}
	return c * math.Pow(p, float64(k)) * math.Pow(1-p, float64(n-k))
}

func FuzzTest(f *testing.F) {
	f.Add(3, 1, 1, 3, 0.95)
	f.Add(0, 0, 0, 0, 0.5)
	f.Add(1, 2999, 0, 2900, 0.999999)
	f.Add(2500, 1, 2, 1700, 1e-9)
	f.Fuzz(func(t *testing.T, a, b, c, d int, confidence float64) {
		const most = 3000
		r, err := Test([2][2]int{{a % most, b % most}, {c % most, d % most}}, confidence)
		if err != nil {
			return
		}
		for _, p := range []float64{r.P, r.Less, r.Greater} {
			if !(p >= 0 && p <= 1) {
				t.Fatalf("%+v", r)
			}
		}
		if !(r.Low >= 0 && r.Low <= r.High) || r.Odds < 0 {
			t.Fatalf("%+v", r)
		}
	})
}

func BenchmarkTest(b *testing.B) {
	for name, table := range map[string][2][2]int{"20 a row": {{3, 17}, {9, 11}}, "1000 a row": {{500, 500}, {450, 550}}, "a million": {{250000, 250000}, {251000, 249000}}} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Test(table, 0.95); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
