package noncentral

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// The reference integrates over the normal variable with R's χ² inside, where
// the code integrates over the χ² with the normal inside; see
// testdata/reference/noncentral/noncentral.R. R's own qt(ncp=), beside it, agrees
// to 1e-9 of itself where it gives an answer; in 30 rows of the upper tail it warns of
// lost digits, and above δ = 37.62 it is a normal approximation, off by 1e-4 on
// 1,000 degrees of freedom and infinite on one.
func TestQuantileAgainstR(t *testing.T) {
	f, err := os.Open("../../testdata/reference/noncentral/quantiles.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	worst, ofR := 0.0, 0
	for _, row := range rows[1:] {
		var v [5]float64
		for i, s := range row {
			if s == "" {
				v[i] = math.NaN()
			} else if v[i], err = strconv.ParseFloat(s, 64); err != nil {
				t.Fatal(err)
			}
		}
		df, delta, p, want := v[0], v[1], v[2], v[3]
		d := NewT(df, delta)
		got := d.Quantile(p)
		off := math.Abs(got/want - 1)
		worst = max(worst, off)
		if off > 1e-10 {
			t.Errorf("df %g, delta %g: quantile at %g is %.15g, want %.15g", df, delta, p, got, want)
		}
		if c := d.CDF(got); math.Abs(c-p) > 1e-13 {
			t.Errorf("df %g, delta %g: distribution function at its quantile at %g is %.16g", df, delta, p, c)
		}
		if math.Abs(v[4]/want-1) < 1e-9 {
			ofR++
		}
	}
	if len(rows) < 400 || ofR < 300 {
		t.Errorf("%d rows, in %d of which R's qt agrees", len(rows), ofR)
	}
	t.Logf("largest relative difference %.1e", worst)
}

// k = t'(ν = n − 1, δ = z_p·√n)/√n.
func TestPublishedToleranceFactors(t *testing.T) {
	for _, c := range []struct {
		n                    float64
		coverage, confidence float64
		want, within         float64
		source               string
	}{
		{43, 0.90, 0.99, 1.8740, 5e-5, "NIST/SEMATECH e-Handbook 7.2.6.3"},
		// Natrella, Experimental Statistics (NBS Handbook 91, 1963), table A-7; from memory.
		{3, 0.95, 0.95, 7.655, 1.1e-3, "Natrella A-7"},
		{5, 0.95, 0.95, 4.202, 1.1e-3, "Natrella A-7"},
		{10, 0.95, 0.95, 2.911, 1.1e-3, "Natrella A-7"},
		{10, 0.90, 0.95, 2.355, 1.1e-3, "Natrella A-7"},
		{50, 0.95, 0.95, 2.065, 1.1e-3, "Natrella A-7"},
	} {
		z := distuv.UnitNormal.Quantile(c.coverage)
		got := NewT(c.n-1, z*math.Sqrt(c.n)).Quantile(c.confidence) / math.Sqrt(c.n)
		if math.Abs(got-c.want) > c.within {
			t.Errorf("n = %g, %g of units at %g: factor %.5f, want %.4f (%s)", c.n, c.coverage, c.confidence, got, c.want, c.source)
		}
	}
}

// Without noncentrality it is Student's t: tan for one degree of freedom, the
// incomplete beta function in general, and R 4.2's pt where that function has
// lost digits.
func TestCentral(t *testing.T) {
	if got, want := NewT(1, 0).Quantile(0.95), math.Tan(0.45*math.Pi); math.Abs(got/want-1) > 1e-13 {
		t.Errorf("Cauchy's quantile at 0.95 is %.15g, want %.15g", got, want)
	}
	for _, df := range []float64{1, 2.5, 7, 60, 1000} {
		for _, x := range []float64{0.1, 1, 2, 5} {
			want := mathext.RegIncBeta(df/2, 0.5, df/(df+x*x)) / 2
			if got := NewT(df, 0).Survival(x); math.Abs(got-want) > 1e-12 {
				t.Errorf("df %g: P(T > %g) = %.15g, want %.15g", df, x, got, want)
			}
		}
	}
	if got, want := NewT(1e6, 0).Survival(0.1), 0.4601721727460216; math.Abs(got-want) > 1e-13 {
		t.Errorf("df 1e6: P(T > 0.1) = %.15g, want %.15g", got, want)
	}
}

// E S² = 1 and, of half a χ² on one degree of freedom, E S = √(2/π).
func TestScaledChi(t *testing.T) {
	for _, df := range []float64{1, 1.5, 4, 30, 1e4} {
		s, w := ScaledChi(df, FineStep(df))
		var one, first, square float64
		for i := range s {
			one, first, square = one+w[i], first+w[i]*s[i], square+w[i]*s[i]*s[i]
		}
		if math.Abs(one-1) > 1e-14 || math.Abs(square-1) > 1e-13 {
			t.Errorf("df %g: weights add to %.16g, the mean square is %.16g", df, one, square)
		}
		if df == 1 && math.Abs(first-math.Sqrt(2/math.Pi)) > 1e-13 {
			t.Errorf("the mean of |Z| is %.16g", first)
		}
	}
}

func TestOutsideTheDomain(t *testing.T) {
	for _, d := range []T{NewT(0.5, 1), NewT(math.NaN(), 1), NewT(math.Inf(1), 1), NewT(3, math.Inf(1))} {
		if q, c := d.Quantile(0.9), d.CDF(1); !math.IsNaN(q) || !math.IsNaN(c) {
			t.Errorf("quantile %g, distribution function %g outside the domain", q, c)
		}
	}
	for _, p := range []float64{0, 1, -1, math.NaN()} {
		if q := NewT(3, 1).Quantile(p); !math.IsNaN(q) {
			t.Errorf("quantile at %g is %g", p, q)
		}
	}
}

// The quantile undoes the distribution function, the tails add to one, and −T
// of −δ mirrors T of δ.
func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		df := math.Exp(rapid.Float64Range(0, math.Log(2000)).Draw(t, "log df"))
		delta := rapid.Float64Range(-200, 200).Draw(t, "delta")
		p := rapid.Float64Range(1e-6, 1-1e-6).Draw(t, "p")
		d := NewT(df, delta)
		q := d.Quantile(p)
		if c := d.CDF(q); math.Abs(c-p) > 1e-13 {
			t.Fatalf("P(T ≤ quantile at %v) = %v", p, c)
		}
		if sum := d.CDF(q) + d.Survival(q); math.Abs(sum-1) > 1e-13 {
			t.Fatalf("the tails at %v add to %v", q, sum)
		}
		if mirror := NewT(df, -delta).Survival(-q); math.Abs(mirror-d.CDF(q)) > 1e-14 {
			t.Fatalf("mirrored %v, want %v", mirror, d.CDF(q))
		}
	})
}

// The two ways of reckoning meet at δ = 10√ν, and far beyond it T is δ/S, whose
// quantile at 0.95 on one degree of freedom is δ over that of |Z| at 0.05.
func TestWayChanges(t *testing.T) {
	for _, df := range []float64{1, 2, 5.5, 40, 700} {
		for _, p := range []float64{0.01, 0.5, 0.95} {
			delta := 10 * math.Sqrt(df)
			below, above := NewT(df, delta), NewT(df, math.Nextafter(delta, 1e9))
			if below.overZ || !above.overZ {
				t.Fatalf("df %g: the way does not change at %g", df, delta)
			}
			if a, b := below.Quantile(p), above.Quantile(p); math.Abs(a/b-1) > 1e-12 {
				t.Errorf("df %g: quantile at %g is %.15g below and %.15g above", df, p, a, b)
			}
		}
	}
	want := 1e12 / distuv.UnitNormal.Quantile(0.525)
	if got := NewT(1, 1e12).Quantile(0.95); math.Abs(got/want-1) > 1e-12 {
		t.Errorf("quantile %.15g, want %.15g", got, want)
	}
}

func BenchmarkQuantile(b *testing.B) {
	for b.Loop() {
		NewT(19, 7.3).Quantile(0.95)
	}
}
