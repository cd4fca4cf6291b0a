package shapiro

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/testdata/reference"
)

// R's shapiro.test: testdata/reference/shapiro/shapiro.R.
func TestAgainstR(t *testing.T) {
	sets := map[string][]float64{}
	for _, row := range reference.Table(t, "shapiro/sets.csv") {
		sets[row["set"]] = append(sets[row["set"]], reference.Number(t, row["x"]))
	}
	answers := reference.Table(t, "shapiro/answers.csv")
	if len(answers) != len(sets) || len(answers) < 80 {
		t.Fatalf("%d answers for %d sets", len(answers), len(sets))
	}
	for _, row := range answers {
		compare(t, row, sets[row["set"]])
	}
	for _, row := range reference.Table(t, "shapiro/large.csv") {
		x := make([]float64, int(reference.Number(t, row["n"])))
		for i := range x {
			u := (float64(i) + 0.5) / float64(len(x))
			if x[i] = -math.Log1p(-u); row["set"] == "cubed" {
				x[i] = (u - 0.5) + math.Pow(u-0.5, 3)
			}
		}
		compare(t, row, x)
	}
}

func compare(t *testing.T, row map[string]string, x []float64) {
	t.Helper()
	r, err := Test(x)
	if err != nil {
		t.Fatalf("%s: %v", row["set"], err)
	}
	if want := reference.Number(t, row["W"]); math.Abs(r.W-want) > 1e-12 {
		t.Errorf("%s: W %.15g, want %.15g", row["set"], r.W, want)
	}
	// p hangs on ln(1 − W), which where W is all but 1 has fewer digits than W.
	if want := reference.Number(t, row["p"]); math.Abs(r.P-want) > 1e-9*want+1e-10 {
		t.Errorf("%s: p %.15g, want %.15g", row["set"], r.P, want)
	}
}

// Three values by hand: of 0, 0 and 1 the square is 2/3 and the product √½, so
// that W = ½ / ⅔ = ¾, the least there is, and p = 0; of 0, 1 and 2 W is 1, and so
// is p.
func TestThreeValues(t *testing.T) {
	for _, c := range []struct {
		x        []float64
		w, p     float64
		distinct int
	}{{[]float64{1, 0, 0}, 0.75, 0, 2}, {[]float64{2, 0, 1}, 1, 1, 3}} {
		r, err := Test(c.x)
		if err != nil || math.Abs(r.W-c.w) > 1e-15 || math.Abs(r.P-c.p) > 1e-7 || r.Distinct != c.distinct {
			t.Errorf("%v: %+v, %v", c.x, r, err)
		}
	}
}

// Normal samples are found not to be normal at the rate of the level, to within
// three binomial standard errors and the half of a per cent that Royston's
// approximation is good to.
func TestLevel(t *testing.T) {
	const samples = 4000
	random := rand.New(rand.NewPCG(2026, 3))
	for _, n := range []int{3, 7, 11, 12, 21, 60} {
		x := make([]float64, n)
		low := 0
		for range samples {
			for i := range x {
				x[i] = 100 + 2*random.NormFloat64()
			}
			if r, err := Test(x); err != nil {
				t.Fatal(err)
			} else if r.P < 0.05 {
				low++
			}
		}
		if share := float64(low) / samples; math.Abs(share-0.05) > 0.0103+0.005 {
			t.Errorf("%d values: p < 0.05 in %.4f of the samples", n, share)
		}
	}
}

// Another unit and another order change nothing.
func TestInvariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfNDistinct(rapid.IntRange(-1000, 1000), 3, 40, rapid.ID[int]).Draw(t, "y")
		shift := rapid.IntRange(-5000, 5000).Draw(t, "shift")
		scale := rapid.Float64Range(1e-3, 1e3).Draw(t, "scale")
		plain, moved := make([]float64, len(y)), make([]float64, len(y))
		for i, v := range y {
			plain[i] = float64(v)
			moved[len(y)-1-i] = -scale * float64(v+shift)
		}
		a, errA := Test(plain)
		b, errB := Test(moved)
		if errA != nil || errB != nil || math.Abs(a.W-b.W) > 1e-11 || a.Distinct != len(y) || b.Distinct != len(y) {
			t.Fatalf("%+v %v, and %+v %v when turned round", a, errA, b, errB)
		}
		if !(a.W > 0 && a.W <= 1 && a.P >= 0 && a.P <= 1) {
			t.Fatalf("%+v", a)
		}
	})
}

func TestRefused(t *testing.T) {
	for name, x := range map[string][]float64{
		"two values":                   {1, 2},
		"5001 values":                  make([]float64, 5001),
		"equal values":                 {7.1, 7.1, 7.1, 7.1},
		"values a rounding apart":      {0.1 + 0.2, 0.3, 0.3, 0.3},
		"no number":                    {1, 2, math.NaN()},
		"infinite":                     {1, 2, math.Inf(-1)},
		"squares that are no number":   {1e200, 2e200, 4e200},
		"squares that are all nothing": {1e-200, 2e-200, 4e-200},
	} {
		if r, err := Test(x); err == nil {
			t.Errorf("%s: %+v without an error", name, r)
		}
	}
}

func FuzzTest(f *testing.F) {
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyz0123456789"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1600 {
			return
		}
		var x []float64
		for ; len(data) >= 8; data = data[8:] {
			x = append(x, math.Float64frombits(binary.LittleEndian.Uint64(data)))
		}
		if r, err := Test(x); err == nil && !(r.W > 0 && r.W <= 1 && r.P >= 0 && r.P <= 1 && r.Distinct > 1 && r.Distinct <= len(x)) {
			t.Fatalf("%v: %+v", x, r)
		}
	})
}

func BenchmarkTest(b *testing.B) {
	x := make([]float64, 60)
	random := rand.New(rand.NewPCG(1, 2))
	for i := range x {
		x[i] = random.NormFloat64()
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Test(x); err != nil {
			b.Fatal(err)
		}
	}
}
