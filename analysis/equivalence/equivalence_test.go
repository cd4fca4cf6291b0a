package equivalence

import (
	"errors"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/testdata/reference"
)

// R 4.2.2, by pt and qt; testdata/reference/equivalence/equivalence.R, which takes the
// verdict by the intervals, not by p.
func TestAgainstR(t *testing.T) {
	verdicts := map[Verdict]int{}
	beyond := 0
	for _, row := range reference.Table(t, "equivalence/tests.csv") {
		n := func(name string) float64 { return reference.Number(t, row[name]) }
		r, err := Test(Estimate{n("d"), n("se"), n("df")}, Margins{n("lower"), n("upper")}, n("alpha"))
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			name string
			got  float64
		}{{"low", r.Low}, {"high", r.High}, {"plower", r.PLower}, {"pupper", r.PUpper}, {"pzero", r.PZero}} {
			if want := n(c.name); !(math.Abs(c.got-want) <= 1e-9*math.Abs(want)) {
				t.Errorf("%v: %s is %.15g, want %.15g", row, c.name, c.got, want)
			}
		}
		if string(r.Verdict) != row["verdict"] || strconv.FormatBool(r.Beyond) != map[string]string{"TRUE": "true", "FALSE": "false"}[row["beyond"]] {
			t.Errorf("%v: %+v", row, r)
		}
		verdicts[r.Verdict]++
		if r.Beyond {
			beyond++
		}
	}
	if verdicts[Equivalent] < 5 || verdicts[Different] < 5 || verdicts[NotShown] < 5 || beyond == 0 {
		t.Errorf("the cases have too few of a verdict: %v, %d beyond", verdicts, beyond)
	}
}

// Lakens, Social Psychological and Personality Science 8, 2017, 355–362 (from memory):
// means 5.25 and 5.22 with standard deviations 0.95 and 0.83 of 95 and 89, margins of
// 0.43 standard deviations: t 3.15 and −2.69, p 0.001 and 0.004, the 90 % interval −0.188
// to 0.248.
func TestPublished(t *testing.T) {
	v1, v2 := 0.95*0.95/95, 0.83*0.83/89
	df := (v1 + v2) * (v1 + v2) / (v1*v1/94 + v2*v2/88)
	margin := 0.43 * math.Sqrt((0.95*0.95+0.83*0.83)/2)
	r, err := Test(Estimate{5.25 - 5.22, math.Sqrt(v1 + v2), df}, Margins{-margin, margin}, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ got, want, within float64 }{
		{r.PLower, 0.001, 5e-4}, {r.PUpper, 0.004, 5e-4}, {r.P, 0.004, 5e-4}, {r.Low, -0.188, 2e-3}, {r.High, 0.248, 2e-3}} {
		if math.Abs(c.got-c.want) > c.within {
			t.Errorf("%.5f, published %.4f", c.got, c.want)
		}
	}
	if r.Verdict != Equivalent {
		t.Errorf("%+v", r)
	}
}

func TestPowerAgainstR(t *testing.T) {
	rows := reference.Table(t, "equivalence/power.csv")
	worst := 0.0
	for _, row := range rows {
		n := func(name string) float64 { return reference.Number(t, row[name]) }
		p, err := Power(n("truth"), n("se"), n("df"), Margins{n("lower"), n("upper")}, n("alpha"))
		if err != nil {
			t.Fatal(err)
		}
		off := math.Abs(p - n("power"))
		worst = max(worst, off)
		if !(off < 1e-9) {
			t.Errorf("%v: %.15g", row, p)
		}
	}
	if len(rows) < 200 {
		t.Errorf("only %d rows", len(rows))
	}
	t.Logf("largest difference %.1e", worst)
}

// Sizes of crossover studies in two periods for a power of 0.8, alpha 0.05, a ratio of
// 0.95 and margins of 0.8 to 1.25 (Diletti, Hauschke & Steinijans, International Journal
// of Clinical Pharmacology 29, 1991, 1–8, from memory): 20 at a coefficient of variation
// of 20 %, 40 at 30 %. The standard error is √(2·ln(1 + CV²)/n) on n − 2.
func TestFewest(t *testing.T) {
	for cv, want := range map[float64]int{0.2: 20, 0.3: 40} {
		n, power, err := Fewest(2, 500, 0.8, math.Log(0.95), Margins{-math.Log(1.25), math.Log(1.25)}, 0.05,
			func(half int) (float64, float64) {
				n := 2 * float64(half) // as many in either order
				return math.Sqrt(2 * math.Log1p(cv*cv) / n), n - 2
			})
		if err != nil || 2*n != want || power < 0.8 || power > 0.9 {
			t.Errorf("CV %g: %d with a power of %.4f, %v; want %d", cv, 2*n, power, err, want)
		}
	}
	never := func(int) (float64, float64) { return 1, 10 }
	if n, _, err := Fewest(2, 50, 0.8, 0, Margins{-0.1, 0.1}, 0.05, never); !errors.Is(err, ErrNoPower) {
		t.Errorf("%d, %v", n, err)
	}
	always := func(int) (float64, float64) { return 1e-3, 10 }
	if n, _, err := Fewest(3, 50, 0.8, 0, Margins{-0.1, 0.1}, 0.05, always); n != 3 || err != nil {
		t.Errorf("%d, %v; want the least", n, err)
	}
}

// At a margin the test finds equivalence at most at the rate alpha, and all but at that
// rate where the error is small; and as often as Power has it. Three binomial standard
// errors are allowed.
func TestRate(t *testing.T) {
	const studies = 10000
	m := Margins{-1, 1}
	random := rand.New(rand.NewPCG(2026, 7))
	for _, c := range []struct{ truth, se float64 }{{1, 0.1}, {-1, 0.3}, {1, 0.7}, {0.3, 0.3}, {0, 0.4}} {
		const df = 8
		found := 0
		for range studies {
			square := 0.0
			for range df {
				z := random.NormFloat64()
				square += z * z
			}
			r, err := Test(Estimate{c.truth + c.se*random.NormFloat64(), c.se * math.Sqrt(square/df), df}, m, 0.05)
			if err != nil {
				t.Fatal(err)
			}
			if r.Verdict == Equivalent {
				found++
			}
		}
		share := float64(found) / studies
		power, err := Power(c.truth, c.se, df, m, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		if allowed := 3 * math.Sqrt(power*(1-power)/studies); math.Abs(share-power) > allowed {
			t.Errorf("%+v: found in %.4f of studies, power %.4f ± %.4f", c, share, power, allowed)
		}
		if math.Abs(c.truth) == 1 && power > 0.05+1e-9 {
			t.Errorf("%+v: found at a margin with probability %.6f", c, power)
		}
	}
}

func TestRefuses(t *testing.T) {
	good, margins := Estimate{0.1, 0.2, 5}, Margins{-1, 1}
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		e     Estimate
		m     Margins
		alpha float64
	}{
		{Estimate{nan, 1, 5}, margins, 0.05}, {Estimate{inf, 1, 5}, margins, 0.05},
		{Estimate{0, 0, 5}, margins, 0.05}, {Estimate{0, -1, 5}, margins, 0.05}, {Estimate{0, nan, 5}, margins, 0.05}, {Estimate{0, inf, 5}, margins, 0.05},
		{Estimate{0, 1, 0}, margins, 0.05}, {Estimate{0, 1, nan}, margins, 0.05},
		{good, Margins{0, 1}, 0.05}, {good, Margins{1, 2}, 0.05}, {good, Margins{-1, nan}, 0.05}, {good, Margins{-inf, 1}, 0.05},
		{good, margins, 0}, {good, margins, 0.5}, {good, margins, nan},
	} {
		if r, err := Test(c.e, c.m, c.alpha); err == nil {
			t.Errorf("%+v: %+v without an error", c, r)
		}
		if p, err := Power(c.e.Difference, c.e.SE, c.e.DF, c.m, c.alpha); err == nil {
			t.Errorf("%+v: a power of %g without an error", c, p)
		}
	}
	if _, _, err := Fewest(1, 5, 1, 0, margins, 0.05, func(int) (float64, float64) { return 1, 1 }); err == nil {
		t.Error("a power of 1 without an error")
	}
}

// The verdict is that of the intervals; wider margins never take equivalence away; a
// mirrored difference has the same verdict; power grows as the error shrinks.
func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := Estimate{
			rapid.Float64Range(-3, 3).Draw(t, "difference"),
			math.Exp(rapid.Float64Range(-5, 1).Draw(t, "log se")),
			math.Exp(rapid.Float64Range(0, 12).Draw(t, "log df")),
		}
		m := Margins{-rapid.Float64Range(0.01, 3).Draw(t, "lower"), rapid.Float64Range(0.01, 3).Draw(t, "upper")}
		alpha := rapid.Float64Range(0.001, 0.2).Draw(t, "alpha")
		r, err := Test(e, m, alpha)
		if err != nil {
			t.Fatal(err)
		}
		if within := r.Low > m.Lower && r.High < m.Upper; within != (r.Verdict == Equivalent) && math.Abs(r.P-alpha) > 1e-9 {
			t.Fatalf("%+v", r)
		}
		if r.Beyond && (r.Verdict != Different || r.Low <= m.Upper && r.High >= m.Lower) {
			t.Fatalf("%+v", r)
		}
		mirrored, _ := Test(Estimate{-e.Difference, e.SE, e.DF}, Margins{-m.Upper, -m.Lower}, alpha)
		if mirrored.Verdict != r.Verdict || mirrored.P != r.P || mirrored.PZero != r.PZero || mirrored.Low != -r.High {
			t.Fatalf("%+v, mirrored %+v", r, mirrored)
		}
		wider, _ := Test(e, Margins{2 * m.Lower, 2 * m.Upper}, alpha)
		if r.Verdict == Equivalent && wider.Verdict != Equivalent || wider.P > r.P {
			t.Fatalf("%+v, with wider margins %+v", r, wider)
		}
		truth := rapid.Float64Range(0, 1).Draw(t, "truth")*(m.Upper-m.Lower) + m.Lower
		a, _ := Power(truth, e.SE, e.DF, m, alpha)
		b, _ := Power(truth, e.SE/2, e.DF, m, alpha)
		if !(a >= 0 && b <= 1 && b >= a-1e-8) && truth > m.Lower+1e-6 && truth < m.Upper-1e-6 {
			t.Fatalf("power %v, with half the error %v", a, b)
		}
	})
}

func FuzzTest(f *testing.F) {
	f.Add(0.1, 0.2, 12.0, -0.5, 0.5, 0.05)
	f.Add(1e300, 1e-300, 1.0, -1e-300, 1e300, 0.4999999)
	f.Add(-1.0, 1e-9, 1e9, -1.0, 2.0, 1e-12)
	f.Fuzz(func(t *testing.T, d, se, df, lower, upper, alpha float64) {
		r, err := Test(Estimate{d, se, df}, Margins{lower, upper}, alpha)
		if err == nil {
			for _, p := range []float64{r.PLower, r.PUpper, r.P, r.PZero} {
				if !(p >= 0 && p <= 1) {
					t.Fatalf("%+v", r)
				}
			}
			if !(r.Low <= r.High) || r.Verdict == "" {
				t.Fatalf("%+v", r)
			}
		}
		if p, err := Power(d, se, df, Margins{lower, upper}, alpha); err == nil && !(p >= 0 && p <= 1) {
			t.Fatalf("power %v", p)
		}
	})
}

func BenchmarkTest(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Test(Estimate{0.1, 0.2, 12}, Margins{-0.5, 0.5}, 0.05); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPower(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Power(0.1, 0.15, 12, Margins{-0.5, 0.5}, 0.05); err != nil {
			b.Fatal(err)
		}
	}
}
