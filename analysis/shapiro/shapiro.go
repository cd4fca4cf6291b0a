// Package shapiro tests whether values may be a sample of a normal distribution.
package shapiro

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// The numbers of values the test is made for.
const (
	Least = 3
	Most  = 5000
)

// Result is the outcome of a test.
type Result struct {
	W float64 // 1 where the ordered values lie on a line with the expected normal scores, less the less they do
	P float64 // the chance of a W as low or lower if the values are a normal sample
	// Distinct is the number of different values. Where it is far below the
	// number of values they were rounded too far: that alone makes W low.
	Distinct int
}

// Test is the Shapiro–Wilk test of 3 to 5000 values, not all equal, of size 0 or
// 1e-60 to 1e60; anything else is an error. The values are left as they are.
//
// W = (Σ aᵢ x₍ᵢ₎)² / Σ (xᵢ − x̄)², with Royston's approximation to the weights a
// and to the distribution of W. The P of residuals of a fitted line is
// approximate: they are neither independent nor of one variance.
//
// Source: Shapiro & Wilk, Biometrika 52, 1965, 591–611; Royston, Algorithm AS
// R94, Applied Statistics 44, 1995, 547–551.
func Test(values []float64) (Result, error) {
	n := len(values)
	if n < Least || n > Most {
		return Result{}, fmt.Errorf("%d values; the test is made for %d to %d", n, Least, Most)
	}
	x := slices.Clone(values)
	mean, size := 0.0, 0.0
	for _, v := range x {
		if v != 0 && !(math.Abs(v) >= 1e-60 && math.Abs(v) <= 1e60) {
			return Result{}, fmt.Errorf("%g is out of the range of numbers reckoned with", v)
		}
		mean += v / float64(n)
		size = max(size, math.Abs(v))
	}
	slices.Sort(x)
	r := Result{Distinct: 1}
	square := 0.0
	for i, v := range x {
		square += (v - mean) * (v - mean)
		if i > 0 && v != x[i-1] {
			r.Distinct++
		}
	}
	if r.Distinct == 1 || math.Sqrt(square) <= float64(n)*0x1p-52*size {
		return Result{}, errors.New("the values are all equal, but for rounding")
	}
	a := weights(n)
	product, length := 0.0, 0.0
	for i, w := range a {
		product += w * (x[n-1-i] - x[i])
		length += 2 * w * w
	}
	// 1 − W without the digits that are lost where W is all but 1.
	whole := math.Sqrt(length * square)
	rest := max(0, (whole-product)*(whole+product)/(length*square))
	r.W = 1 - rest
	r.P = significance(n, r.W, rest)
	return r, nil
}

// weights gives the upper half of the weights, the largest first; the lower half
// is its negative. The two largest are polynomials in 1/√n, the others are the
// normal scores in the proportion that brings all to length 1.
func weights(n int) []float64 {
	a := make([]float64, n/2)
	if n == 3 {
		a[0] = math.Sqrt(0.5)
		return a
	}
	square := 0.0
	for i := range a {
		a[i] = distuv.UnitNormal.Quantile((float64(n-i) - 0.375) / (float64(n) + 0.25))
		square += 2 * a[i] * a[i]
	}
	u, length := 1/math.Sqrt(float64(n)), math.Sqrt(square)
	exact := []float64{a[0]/length + polynomial(u, 0, 0.221157, -0.147981, -2.07119, 4.434685, -2.706056)}
	if n > 5 {
		exact = append(exact, a[1]/length+polynomial(u, 0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633))
	}
	left := 1.0
	for i, w := range exact {
		square -= 2 * a[i] * a[i]
		left -= 2 * w * w
	}
	scale := math.Sqrt(left / square)
	for i := range a {
		a[i] *= scale
	}
	copy(a, exact)
	return a
}

// significance is the lower tail of W: exact for three values, by a normal
// variable made of ln(1 − W) for more. rest is 1 − W.
func significance(n int, w, rest float64) float64 {
	size := float64(n)
	var z float64
	switch {
	case n == 3:
		const least = 0.75 // of W of three values
		p := 6 / math.Pi * (math.Asin(math.Sqrt(w)) - math.Asin(math.Sqrt(least)))
		return min(max(0, p), 1)
	case n <= 11:
		pole := polynomial(size, -2.273, 0.459) - math.Log(rest)
		if pole <= 0 {
			return 0
		}
		mean := polynomial(size, 0.544, -0.39978, 0.025054, -6.714e-4)
		sd := math.Exp(polynomial(size, 1.3822, -0.77857, 0.062767, -0.0020322))
		z = (-math.Log(pole) - mean) / sd
	default:
		l := math.Log(size)
		mean := polynomial(l, -1.5861, -0.31082, -0.083751, 0.0038915)
		sd := math.Exp(polynomial(l, -0.4803, -0.082676, 0.0030302))
		z = (math.Log(rest) - mean) / sd
	}
	return math.Erfc(z/math.Sqrt2) / 2
}

// polynomial has its coefficients in ascending order.
func polynomial(x float64, coefficients ...float64) float64 {
	s := 0.0
	for i := len(coefficients) - 1; i >= 0; i-- {
		s = s*x + coefficients[i]
	}
	return s
}
