package linear

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// By hand: of the line through x = 0, 1, 2, 3 the leverage at x is ¼ + (x − 1.5)²/5.
func TestLeverageOfALine(t *testing.T) {
	basis, err := Orthonormal([]Column{{"one", []float64{1, 1, 1, 1}}, {"x", []float64{0, 1, 2, 3}}})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0.7, 0.3, 0.3, 0.7} {
		got := 0.0
		for _, q := range basis {
			got += q[i] * q[i]
		}
		if math.Abs(got-want) > 1e-15 {
			t.Errorf("leverage %d: %v, want %v", i, got, want)
		}
	}
}

// The vectors are of length 1 and at right angles, and hold every column.
func TestOrthonormal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 20).Draw(t, "n")
		columns := make([]Column, rapid.IntRange(1, 3).Draw(t, "p"))
		for j := range columns {
			columns[j] = Column{"a", rapid.SliceOfN(rapid.Float64Range(-100, 100), n, n).Draw(t, "column")}
		}
		basis, err := Orthonormal(columns)
		if err != nil {
			t.Skip(err)
		}
		dot := func(a, b []float64) (s float64) {
			for i := range a {
				s += a[i] * b[i]
			}
			return s
		}
		for j, a := range basis {
			for k, b := range basis {
				want := 0.0
				if j == k {
					want = 1
				}
				if got := dot(a, b); math.Abs(got-want) > 1e-13 {
					t.Fatalf("product of %d and %d: %v", j, k, got)
				}
			}
		}
		for j, c := range columns {
			within := 0.0
			for _, q := range basis {
				within += dot(q, c.Values) * dot(q, c.Values)
			}
			if whole := dot(c.Values, c.Values); math.Abs(within-whole) > 1e-12*whole {
				t.Fatalf("column %d: %v of %v lies in the space", j, within, whole)
			}
		}
	})
}

func TestOrthonormalRefuses(t *testing.T) {
	for name, c := range map[string][]Column{
		"nothing":         nil,
		"too few":         {{"a", []float64{1}}, {"b", []float64{2}}},
		"twice the same":  {{"a", []float64{1, 2, 3}}, {"b", []float64{2, 4, 6}}},
		"of other length": {{"a", []float64{1, 2, 3}}, {"b", []float64{2, 4}}},
		"no number":       {{"a", []float64{1, math.NaN(), 3}}},
	} {
		if basis, err := Orthonormal(c); err == nil {
			t.Errorf("%s: %v without an error", name, basis)
		}
	}
}
