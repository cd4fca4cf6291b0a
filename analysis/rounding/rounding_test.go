package rounding_test

import (
	"fmt"
	"math"
	"math/big"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/rounding"
)

// The first rows are in the manner of the table of USP General Notices 7.20
// (limits of 98.0 %, 101.5 %, 0.02 %); the rest is arithmetic by hand.
func TestRound(t *testing.T) {
	for _, c := range []struct {
		x        float64
		decimals int
		want     float64
	}{
		{97.96, 1, 98.0},
		{97.92, 1, 97.9},
		{97.95, 1, 98.0},
		{101.55, 1, 101.6},
		{101.46, 1, 101.5},
		{101.45, 1, 101.5},
		{0.025, 2, 0.03},
		{0.015, 2, 0.02},
		{0.027, 2, 0.03},
		{89.95, 1, 90.0},
		{89.9499999999, 1, 89.9}, // 12 digits, and truly below the half
		{1.005, 2, 1.01},         // its binary neighbour lies below the half
		{2.675, 2, 2.68},
		{0.285, 2, 0.29},
		{0.5, 0, 1},
		{1.5, 0, 2},
		{2.5, 0, 3}, // half up, not half to even
		{-0.05, 1, -0.1},
		{-2.5, 0, -3}, // magnitude
		{-0.04, 1, 0},
		{0.049, 1, 0},
		{41999.5, 0, 42000},
		{1234567.123456, 6, 1234567.123456},
		{123456789012.5, 0, 123456789013},
		{5e17, 3, 5e17},
		{0.1 + 0.2, -1, 0.1 + 0.2},
		{math.Inf(1), 1, math.Inf(1)},
	} {
		got := rounding.Round(c.x, c.decimals)
		if got != c.want || math.Signbit(got) != math.Signbit(c.want) {
			t.Errorf("Round(%v, %d) = %v, want %v", c.x, c.decimals, got, c.want)
		}
	}
}

// A mean of readings that stands for a half is rounded as that half, however
// the sum was rounded in binary.
func TestRoundMeanOfReadings(t *testing.T) {
	for _, readings := range [][]float64{
		{89.9, 90.0}, {89.9, 90.0, 89.95}, {89.85, 90.05, 89.95, 89.95}, {89.93, 89.96, 89.96},
		{89.91, 89.99, 89.92, 89.98, 89.93, 89.97, 89.94, 89.96, 89.95},
	} {
		sum := 0.0
		for _, r := range readings {
			sum += r
		}
		mean := sum / float64(len(readings))
		if got := rounding.Round(mean, 1); got != 90 {
			t.Errorf("mean of %v is %v, rounded to %v, want 90", readings, mean, got)
		}
	}
	// 100 times y/y0 of 80.955 and 90: 89.95 by hand.
	if got := rounding.Round(100*80.955/90, 1); got != 90 {
		t.Errorf("89.95 %% of the initial rounded to %v, want 90", got)
	}
}

// decimalOracle rounds the shortest decimal text of x in whole decimal
// arithmetic.
func decimalOracle(x float64, decimals int) float64 {
	r, _ := new(big.Rat).SetString(strconv.FormatFloat(math.Abs(x), 'f', -1, 64))
	r.Mul(r, new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(decimals)), nil)))
	r.Add(r, big.NewRat(1, 2))
	whole := new(big.Int).Quo(r.Num(), r.Denom())
	s := fmt.Sprintf("%se-%d", whole, decimals)
	f, _ := strconv.ParseFloat(s, 64)
	if f == 0 {
		return 0
	}
	return math.Copysign(f, x)
}

func TestRoundIsDecimalArithmeticOnTheText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		digits := rapid.Int64Range(-999_999_999_999, 999_999_999_999).Draw(t, "digits")
		places := rapid.IntRange(0, 12).Draw(t, "places")
		decimals := rapid.IntRange(0, 8).Draw(t, "decimals")
		if rapid.Bool().Draw(t, "half") && places > decimals { // aim at halves
			digits = digits / 10 * 10
			digits += 5
			places = decimals + 1
		}
		x, _ := strconv.ParseFloat(fmt.Sprintf("%de-%d", digits, places), 64)
		if got, want := rounding.Round(x, decimals), decimalOracle(x, decimals); got != want {
			t.Fatalf("Round(%v, %d) = %v, want %v", x, decimals, got, want)
		}
	})
}

func TestMeets(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		x, lower, upper float64
		decimals        int
		want            bool
	}{
		{89.95, 90, inf, 1, true},
		{89.94, 90, inf, 1, false},
		{89.95, 90, inf, -1, false},
		{90, 90, inf, -1, true},
		{3.04, -inf, 3, 1, true},
		{3.05, -inf, 3, 1, false},
		{3.05, -inf, 3, 0, true},
		{5, 4, 6, 0, true},
		{math.NaN(), -inf, inf, 1, false},
	} {
		if got := rounding.Meets(c.x, c.lower, c.upper, c.decimals); got != c.want {
			t.Errorf("Meets(%v, %v, %v, %d) = %v", c.x, c.lower, c.upper, c.decimals, got)
		}
	}
}

func TestReaches(t *testing.T) {
	if change := 100 * (1 - 0.95); !rounding.Reaches(change, 5) {
		t.Errorf("a fall to 95 %% is %v, and does not reach 5", change)
	}
	if !rounding.Reaches(100*(104.5-110)/-110, 5) {
		t.Error("110 to 104.5 does not reach 5 %")
	}
	y0, y := 0.7, 0.665 // 5 % less, which comes out as 4.999999999999989
	if change := 100 * (y0 - y) / y0; change >= 5 || !rounding.Reaches(change, 5) {
		t.Errorf("0.7 to 0.665 is %v, and does not reach 5 %%", change)
	}
	if rounding.Reaches(4.999999, 5) {
		t.Error("4.999999 reaches 5")
	}
}
