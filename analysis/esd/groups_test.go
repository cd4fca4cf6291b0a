package esd

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/testdata/reference"
)

// R, by lm and rstandard: testdata/reference/losses/losses.R.
func TestGroupsAgainstR(t *testing.T) {
	type set struct {
		rates  []float64
		batch  []int
		labels []string
	}
	sets := map[string]*set{}
	for _, row := range reference.Table(t, "losses/rates.csv") {
		s := sets[row["case"]]
		if s == nil {
			s = &set{}
			sets[row["case"]] = s
		}
		s.rates, s.batch, s.labels = append(s.rates, reference.Number(t, row["rate"])), append(s.batch, int(reference.Number(t, row["batch"]))), append(s.labels, row["unit"])
	}
	grouped := 0
	for _, row := range reference.Table(t, "losses/leakers.csv") {
		s := sets[row["case"]]
		groups := s.batch
		if row["grouped"] == "FALSE" {
			groups = make([]int, len(s.rates))
		} else {
			grouped++
		}
		r, err := TestGroups(s.rates, groups, int(reference.Number(t, row["most"])), 0.05)
		if err != nil {
			t.Fatal(err)
		}
		step := r.Steps[int(reference.Number(t, row["step"]))-1]
		if got := s.labels[step.Index]; got != row["unit"] || math.Abs(step.R-reference.Number(t, row["R"])) > 1e-10 || math.Abs(step.Critical-reference.Number(t, row["lambda"])) > 1e-10 {
			t.Errorf("%s, grouped %s, step %s: %s, %.14g, %.14g; R has %s, %s, %s", row["case"], row["grouped"], row["step"], got, step.R, step.Critical, row["unit"], row["R"], row["lambda"])
		}
		if want := reference.Number(t, row["outliers"]); float64(r.Outliers) != want {
			t.Errorf("%s, grouped %s: %d outliers, want %v", row["case"], row["grouped"], r.Outliers, want)
		}
	}
	if grouped < 4 {
		t.Errorf("%d rows of groups", grouped)
	}
}

// One group is Rosner's test, R and λ by √(1 − 1/m) greater; shifting a group
// changes nothing, nor does another order.
func TestGroupsInvariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfNDistinct(rapid.IntRange(1, 100000), 8, 24, rapid.ID[int]).Draw(t, "y")
		values, groups, moved := make([]float64, len(y)), make([]int, len(y)), make([]float64, len(y))
		of := make([]int, len(y))
		shift := float64(rapid.IntRange(-300, 300).Draw(t, "shift"))
		for i, v := range y {
			values[i] = float64(v) + 1e-3*math.Sqrt(float64(v))
			of[i] = i % 3
			moved[i] = values[i] + shift*float64(of[i])
		}
		const most = 2
		one, err := TestGroups(values, groups, most, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		plain, err := Test(values, most, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		if one.Outliers != plain.Outliers {
			t.Fatalf("%d outliers of one group, %d of the sample", one.Outliers, plain.Outliers)
		}
		for i := range plain.Steps {
			m := float64(len(y) - i)
			if c := math.Sqrt(1 - 1/m); math.Abs(one.Steps[i].R*c-plain.Steps[i].R) > 1e-9 || math.Abs(one.Steps[i].Critical*c-plain.Steps[i].Critical) > 1e-9 {
				t.Fatalf("step %d: %+v and %+v", i, one.Steps[i], plain.Steps[i])
			}
		}
		a, errA := TestGroups(values, of, most, 0.05)
		b, errB := TestGroups(moved, of, most, 0.05)
		slices.Reverse(moved)
		turned := slices.Clone(of)
		slices.Reverse(turned)
		c, errC := TestGroups(moved, turned, most, 0.05)
		if errA != nil || errB != nil || errC != nil {
			t.Fatal(errA, errB, errC)
		}
		if x := a.Steps[0].R; math.Abs(x-b.Steps[0].R) > 1e-7*x || math.Abs(x-c.Steps[0].R) > 1e-7*x {
			t.Fatalf("R %v, moved %v, turned %v", x, b.Steps[0].R, c.Steps[0].R)
		}
	})
}

// Of a group of two the upper one is taken, whichever stands first; one alone is
// never taken, however far; and too few degrees of freedom are refused.
func TestSmallGroups(t *testing.T) {
	values := []float64{1, 1.01, 1.02, 5, 5.7, 99}
	for _, turn := range []bool{false, true} {
		groups := []int{0, 0, 0, 1, 1, 2}
		v := slices.Clone(values)
		if turn {
			slices.Reverse(v)
			slices.Reverse(groups)
		}
		r, err := TestGroups(v, groups, 1, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		if s := r.Steps[0]; v[s.Index] != 5.7 || !s.Above {
			t.Errorf("takes off %v", v[s.Index])
		}
	}
	for name, c := range map[string]struct {
		values []float64
		groups []int
		alpha  float64
	}{
		"one degree of freedom": {[]float64{1, 2}, []int{0, 0}, 0.05},
		"all alone":             {[]float64{1, 2, 3, 4}, []int{0, 1, 2, 3}, 0.05},
		"groups missing":        {[]float64{1, 2, 3}, []int{0, 0}, 0.05},
		"no level":              {[]float64{1, 2, 3}, []int{0, 0, 0}, 1},
		"no number":             {[]float64{1, 2, math.NaN()}, []int{0, 0, 0}, 0.05},
	} {
		if _, err := TestGroups(c.values, c.groups, 1, c.alpha); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if r, err := TestGroups([]float64{7, 7, 7, 3, 3, 3}, []int{0, 0, 0, 1, 1, 1}, 2, 0.05); err != nil || len(r.Steps) != 0 || r.Outliers != 0 {
		t.Errorf("no spread: %+v, %v", r, err)
	}
}

// The rates of false finds about the means of batches: 0.05 for one alone, and
// for more what 20,000 samples of each have on record here.
func TestRateOfFalseFindsInGroups(t *testing.T) {
	const samples = 2000
	for _, c := range []struct {
		groups, each, most int
		rate               float64
	}{{3, 4, 1, 0.05}, {3, 4, 3, 0.088}, {3, 6, 3, 0.066}, {5, 5, 5, 0.067}} {
		random := rand.New(rand.NewPCG(2026, uint64(c.each)))
		values, groups := make([]float64, c.groups*c.each), make([]int, c.groups*c.each)
		found := 0
		for range samples {
			for i := range values {
				groups[i] = i % c.groups
				values[i] = random.NormFloat64() + 10*float64(groups[i])
			}
			r, err := TestGroups(values, groups, c.most, 0.05)
			if err != nil {
				t.Fatal(err)
			}
			if r.Outliers > 0 {
				found++
			}
		}
		share := float64(found) / samples
		if allowed := 3 * math.Sqrt(c.rate*(1-c.rate)/samples); math.Abs(share-c.rate) > allowed {
			t.Errorf("%d groups of %d, up to %d: %.4f, want %.4f ± %.4f", c.groups, c.each, c.most, share, c.rate, allowed)
		}
	}
}
