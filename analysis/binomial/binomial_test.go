package binomial

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// Against binom.test of R 4.2.2; script and output in testdata/reference/binomial.
func TestReference(t *testing.T) {
	f, err := os.Open("../../testdata/reference/binomial/binomial.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	worst := 0.0
	for _, r := range rows[1:] {
		x, n, confidence := int(number(r[0])), int(number(r[1])), number(r[2])
		lower, errL := Lower(x, n, confidence)
		upper, errU := Upper(x, n, confidence)
		if errL != nil || errU != nil {
			t.Fatal(errL, errU)
		}
		for k, got := range []float64{lower, upper} {
			want := number(r[3+k])
			if want != 0 {
				worst = max(worst, math.Abs(got/want-1))
			}
			// The incomplete beta function loses 1e-15 a unit, to 1e-10 for 100,000.
			if !(math.Abs(got-want) <= (1e-12+2e-15*float64(n))*want) {
				t.Errorf("%d of %d at %v: bound %d = %.15g, R has %.15g", x, n, confidence, k, got, want)
			}
		}
	}
	t.Logf("largest relative difference %.1e over %d rows", worst, len(rows)-1)
}

// The numbers of units that every handbook of zero-failure testing lists (from
// memory), with the arithmetic: 0.95^58 = 0.0510, 0.95^59 = 0.0485;
// 0.9^21 = 0.109, 0.9^22 = 0.0985; 0.99^298 = 0.05003, 0.99^299 = 0.0495.
func TestUnitsWithoutFailure(t *testing.T) {
	for _, c := range []struct {
		share, confidence float64
		want              int
	}{{0.05, 0.95, 59}, {0.1, 0.9, 22}, {0.01, 0.95, 299}, {0.1, 0.95, 29}, {0.5, 0.5, 1}, {0.1, 0.1, 1}, {0.5, 0.75, 2}, {0.01, 0.99, 459}} {
		if n, err := UnitsWithoutFailure(c.share, c.confidence); n != c.want || err != nil {
			t.Errorf("%v at %v: %d, %v; want %d", c.share, c.confidence, n, err, c.want)
		}
	}
}

// 59 units without a failure say with 95 % confidence that no more than 1 − 0.05^(1/59) fail:
// ln 0.05 = −2.995732, /59 = −0.0507751, e to it 0.9504924.
func TestNoFailureByHand(t *testing.T) {
	p, err := Upper(0, 59, 0.95)
	if err != nil || math.Abs(p-0.0495076) > 1e-7 {
		t.Errorf("%v, %v; want 0.0495076", p, err)
	}
}

func TestRefuses(t *testing.T) {
	for _, c := range []struct {
		x, n       int
		confidence float64
		want       error
	}{{0, 0, 0.95, ErrUnits}, {0, -3, 0.95, ErrUnits}, {0, 1_000_001, 0.95, ErrUnits}, {-1, 3, 0.95, ErrCount}, {4, 3, 0.95, ErrCount},
		{1, 3, 0, ErrConfidence}, {1, 3, 1, ErrConfidence}, {1, 3, math.NaN(), ErrConfidence}} {
		if _, err := Upper(c.x, c.n, c.confidence); !errors.Is(err, c.want) {
			t.Errorf("upper of %+v: %v", c, err)
		}
		if _, err := Lower(c.x, c.n, c.confidence); !errors.Is(err, c.want) {
			t.Errorf("lower of %+v: %v", c, err)
		}
	}
	for _, share := range []float64{0, 1, math.NaN(), -0.1} {
		if _, err := UnitsWithoutFailure(share, 0.95); !errors.Is(err, ErrShare) {
			t.Errorf("share %v: %v", share, err)
		}
	}
	if _, err := UnitsWithoutFailure(0.1, math.NaN()); !errors.Is(err, ErrConfidence) {
		t.Error(err)
	}
	if _, err := UnitsWithoutFailure(1e-300, 0.95); !errors.Is(err, ErrUnits) {
		t.Error(err)
	}
}

// The bounds are what they are defined to be: at the upper bound the
// probability of so few failures, summed by hand, is 1 − confidence; a bound
// of failures is one minus that of the units that are left.
func TestDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 200).Draw(t, "units")
		x := rapid.IntRange(0, n-1).Draw(t, "failures")
		confidence := rapid.Float64Range(0.01, 0.999).Draw(t, "confidence")
		p, err := Upper(x, n, confidence)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for k := 0; k <= x; k++ {
			all, _ := math.Lgamma(float64(n) + 1)
			in, _ := math.Lgamma(float64(k) + 1)
			out, _ := math.Lgamma(float64(n-k) + 1)
			sum += math.Exp(all - in - out + float64(k)*math.Log(p) + float64(n-k)*math.Log1p(-p))
		}
		if math.Abs(sum-(1-confidence)) > 1e-9 {
			t.Fatalf("at %v so few failures have probability %v, want %v", p, sum, 1-confidence)
		}
		if q, _ := Lower(n-x, n, confidence); math.Abs(q-(1-p)) > 1e-12 {
			t.Fatalf("lower bound of the complement %v, want %v", q, 1-p)
		}
	})
}
