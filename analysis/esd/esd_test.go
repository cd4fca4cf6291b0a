package esd

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/testdata/reference"
)

// NIST/SEMATECH e-Handbook 1.3.5.17.3, Rosner's data: it prints R and λ cut to
// three decimals and finds three outliers; the fourth decimals are from R.
func TestRosner(t *testing.T) {
	var y []float64
	for _, row := range reference.Table(t, "rosner.csv") {
		y = append(y, reference.Number(t, row["y"]))
	}
	r, err := Test(y, 10, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	if r.Outliers != 3 {
		t.Errorf("%d outliers, want 3", r.Outliers)
	}
	for i, want := range []struct{ value, r, lambda float64 }{
		{6.01, 3.1189, 3.1588}, {5.42, 2.9430, 3.1514}, {5.34, 3.1794, 3.1439}, {4.64, 2.8102, 3.1362}} {
		s := r.Steps[i]
		if y[s.Index] != want.value || !s.Above || math.Abs(s.R-want.r) > 5e-5 || math.Abs(s.Critical-want.lambda) > 5e-5 {
			t.Errorf("step %d: %v taken off, %+v; want %+v", i+1, y[s.Index], s, want)
		}
	}
}

// R: testdata/reference/esd/esd.R.
func TestAgainstR(t *testing.T) {
	sets := map[string][]float64{}
	for _, row := range reference.Table(t, "rosner.csv") {
		sets["rosner"] = append(sets["rosner"], reference.Number(t, row["y"]))
	}
	for _, row := range reference.Table(t, "esd/sets.csv") {
		sets[row["set"]] = append(sets[row["set"]], reference.Number(t, row["y"]))
	}
	found := map[float64]int{}
	for _, row := range reference.Table(t, "esd/answers.csv") {
		y := sets[row["set"]]
		r, err := Test(y, int(reference.Number(t, row["most"])), reference.Number(t, row["alpha"]))
		if err != nil {
			t.Fatal(err)
		}
		s := r.Steps[int(reference.Number(t, row["step"]))-1]
		// Which of two equal values is taken off is all one.
		if y[s.Index] != y[int(reference.Number(t, row["index"]))] {
			t.Errorf("%s, step %s: takes off %d, want %s", row["set"], row["step"], s.Index, row["index"])
		}
		for _, c := range []struct{ got, want float64 }{{s.R, reference.Number(t, row["R"])}, {s.Critical, reference.Number(t, row["lambda"])}} {
			// A million with three decimals leaves R ten digits.
			if math.Abs(c.got-c.want) > 1e-9*c.want {
				t.Errorf("%s, step %s: %.15g, want %.15g", row["set"], row["step"], c.got, c.want)
			}
		}
		if want := reference.Number(t, row["outliers"]); float64(r.Outliers) != want {
			t.Errorf("%s: %d outliers, want %v", row["set"], r.Outliers, want)
		}
		found[reference.Number(t, row["outliers"])]++
	}
	if found[0] == 0 || found[1] == 0 || found[3] == 0 {
		t.Errorf("the sets have too few answers: %v", found)
	}
}

// Where there are no outliers the test finds one at the rate alpha = 0.05 if it
// looks for one alone, or among many values; among few it does so too often. The
// rates beyond 0.05 are those that Few has on record, of 20,000 samples each.
func TestRateOfFalseFinds(t *testing.T) {
	const samples = 4000
	for _, c := range []struct {
		n, most int
		rate    float64
	}{
		{60, 5, 0.05}, {25, 1, 0.05}, {10, 1, 0.05}, {5, 1, 0.05},
		{15, 3, 0.070}, {10, 2, 0.068}, {10, 3, 0.088}, {6, 2, 0.090},
	} {
		random := rand.New(rand.NewPCG(2026, uint64(c.n)))
		values := make([]float64, c.n)
		found := 0
		for range samples {
			for i := range values {
				values[i] = random.NormFloat64()
			}
			r, err := Test(values, c.most, 0.05)
			if err != nil {
				t.Fatal(err)
			}
			if r.Outliers > 0 {
				found++
			}
		}
		share := float64(found) / samples
		if allowed := 3 * math.Sqrt(c.rate*(1-c.rate)/samples); math.Abs(share-c.rate) > allowed {
			t.Errorf("%d values, up to %d: finds in %.4f of the samples without, want %.4f ± %.4f", c.n, c.most, share, c.rate, allowed)
		}
	}
}

// Another unit and another order change neither R nor which value is taken off
// first.
func TestInvariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfNDistinct(rapid.IntRange(-1000, 1000), 6, 30, rapid.ID[int]).Draw(t, "y")
		shift := rapid.IntRange(-5000, 5000).Draw(t, "shift")
		scale := rapid.Float64Range(1e-3, 1e3).Draw(t, "scale")
		turn := rapid.IntRange(0, len(y)-1).Draw(t, "turn")
		plain, moved := make([]float64, len(y)), make([]float64, len(y))
		for i, v := range y {
			plain[i] = float64(v)
			moved[(i+turn)%len(y)] = scale * float64(v+shift)
		}
		a, errA := Test(plain, 3, 0.05)
		b, errB := Test(moved, 3, 0.05)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		p, q := a.Steps[0], b.Steps[0]
		if math.Abs(p.R-q.R) > 1e-9*p.R {
			t.Fatalf("R %v, and %v when moved", p.R, q.R)
		}
		sum := 0
		for _, v := range y {
			sum += v
		}
		// All but equally far above and below, rounding decides.
		if low, high := slices.Min(y), slices.Max(y); len(y)*(low+high) != 2*sum && (p.Index+turn)%len(y) != q.Index {
			t.Fatalf("takes off %d, and %d when moved by %d", p.Index, q.Index, turn)
		}
	})
}

func TestNothingToFind(t *testing.T) {
	r, err := Test([]float64{0.1, 0.1, 0.1, 0.1, 0.1}, 2, 0.05)
	if err != nil || len(r.Steps) != 0 || r.Outliers != 0 {
		t.Errorf("equal values: %+v, %v", r, err)
	}
	// One of five: R = 4/√5 = 1.789 whatever its distance, λ = 1.715; the four
	// that are left are equal.
	r, err = Test([]float64{1, 1, 9, 1, 1}, 2, 0.05)
	if err != nil || len(r.Steps) != 1 || r.Outliers != 1 || r.Steps[0].Index != 2 || math.Abs(r.Steps[0].R-4/math.Sqrt(5)) > 1e-15 {
		t.Errorf("one beside equals: %+v, %v", r, err)
	}
	for name, f := range map[string]func() (Result, error){
		"three values for two":  func() (Result, error) { return Test([]float64{1, 2, 3}, 2, 0.05) },
		"none to be looked for": func() (Result, error) { return Test([]float64{1, 2, 3}, 0, 0.05) },
		"a level of 1":          func() (Result, error) { return Test([]float64{1, 2, 3}, 1, 1) },
		"no number":             func() (Result, error) { return Test([]float64{1, 2, math.NaN()}, 1, 0.05) },
		"infinite":              func() (Result, error) { return Test([]float64{1, 2, math.Inf(1)}, 1, 0.05) },
	} {
		if r, err := f(); err == nil {
			t.Errorf("%s: %+v without an error", name, r)
		}
	}
}

func FuzzTest(f *testing.F) {
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyz0123456789"), 2, 0.05)
	f.Fuzz(func(t *testing.T, data []byte, most int, alpha float64) {
		if len(data) > 1600 {
			return
		}
		var y []float64
		for ; len(data) >= 8; data = data[8:] {
			y = append(y, math.Float64frombits(binary.LittleEndian.Uint64(data)))
		}
		r, err := Test(y, most, alpha)
		if err != nil {
			return
		}
		if r.Outliers > len(r.Steps) || len(r.Steps) > most {
			t.Fatalf("%+v", r)
		}
		for i, s := range r.Steps {
			if !(s.R > 0 && s.Critical > 0) || math.IsInf(s.R, 0) || math.IsInf(s.Critical, 0) || s.Index < 0 || s.Index >= len(y) {
				t.Fatalf("step %d of %v: %+v", i+1, y, s)
			}
		}
	})
}

func BenchmarkTest(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 2))
	y := make([]float64, 60)
	for i := range y {
		y[i] = random.NormFloat64()
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Test(y, 6, 0.05); err != nil {
			b.Fatal(err)
		}
	}
}
