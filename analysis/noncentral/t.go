// Package noncentral reckons with Student's noncentral t distribution, which
// tolerance limits of normal samples rest on.
package noncentral

import "math"

// T is the noncentral t distribution: that of (Z + Delta)/S with Z standard
// normal and S² an independent χ²/DF, DF ≥ 1 and not necessarily whole.
//
// It is held as the weights of a mean over S,
//
//	P(T ≤ t) = E Φ(t·S − δ),
//
// by the trapezoidal rule in ln S (see ScaledChi), which the quantile then sums
// again and again at other t. Probabilities are good to about 1e-14, quantiles
// to about 1e-12 of themselves. Johnson, Kotz & Balakrishnan, Continuous
// Univariate Distributions, vol. 2, chapter 31, give the integral.
type T struct {
	delta      float64
	s, weights []float64
}

// NewT prepares the distribution for df from 1 up and |delta| up to 10⁴·√df; for
// any other arguments every answer is NaN. The work grows with |delta|/√df.
func NewT(df, delta float64) T {
	if !(df >= 1 && df <= math.MaxFloat64 && math.Abs(delta) <= 1e4*math.Sqrt(df)) {
		return T{math.NaN(), []float64{1}, []float64{1}}
	}
	s, weights := ScaledChi(df, FineStep(df+delta*delta/2))
	return T{delta, s, weights}
}

// CDF is the probability of a value up to t.
func (d T) CDF(t float64) float64 { return d.tail(t, -1) }

// Survival is the probability of a value above t.
func (d T) Survival(t float64) float64 { return d.tail(t, 1) }

// tail is the probability below t, side −1, or above it, side 1.
func (d T) tail(t, side float64) float64 {
	sum := 0.0
	for i, s := range d.s {
		sum += d.weights[i] * math.Erfc(side*(t*s-d.delta)/math.Sqrt2)
	}
	return sum / 2
}

// density of T at t.
func (d T) density(t float64) float64 {
	sum := 0.0
	for i, s := range d.s {
		z := t*s - d.delta
		sum += d.weights[i] * s * math.Exp(-z*z/2)
	}
	return sum / math.Sqrt(2*math.Pi)
}

// Quantile is the value that T does not exceed with probability p, 0 < p < 1;
// NaN for any other p.
//
// Newton's steps on the logarithm of the smaller tail, from δ, within a bracket
// that every value tried narrows; a step that leaves it, or is longer than the
// stride allowed, is replaced by the stride or by the middle of the bracket.
func (d T) Quantile(p float64) float64 {
	if !(p > 0 && p < 1) || math.IsNaN(d.delta) {
		return math.NaN()
	}
	side, target := 1.0, 1-p
	if p < 0.5 {
		side, target = -1, p
	}
	lo, hi := math.Inf(-1), math.Inf(1)
	t, stride := d.delta, 1+math.Abs(d.delta)
	for range 2000 {
		tail := d.tail(t, side)
		if (tail > target) == (side > 0) {
			lo = t
		} else {
			hi = t
		}
		next := t + side*math.Log(tail/target)*tail/d.density(t)
		switch {
		case math.Abs(next-t) <= 1e-10*math.Abs(t)+1e-13:
			return next // the steps' errors are squared from one to the next
		case next > lo && next < hi && math.Abs(next-t) <= stride:
		case math.IsInf(hi, 1):
			next = lo + stride
			stride *= 2
		case math.IsInf(lo, -1):
			next = hi - stride
			stride *= 2
		default:
			next = lo + (hi-lo)/2
		}
		if next <= lo || next >= hi {
			return next
		}
		t = next
	}
	return t
}

// FineStep is the step of ScaledChi that means lose no digits to, but for
// rounding: of f(S) alone at df, of Φ(t·S − δ) at df + δ²/2.
//
// With u = x + iy the integrand of such a mean outgrows itself on the real line
// by no more than exp(c·y²), c the argument, for small y, and without bound as y
// goes to π/4; the rule errs by exp(−2πy/h) times that (Trefethen & Weideman,
// SIAM Review 56, 2014, 385). At the best y this step makes it e⁻³⁵ or less.
func FineStep(c float64) float64 { return 1 / math.Sqrt(110+4*c) }

// ScaledChi gives nodes s and weights, which add to 1, for means over S =
// √(χ²/df): E f(S) ≈ Σ weights[i]·f(s[i]).
//
// It is the trapezoidal rule in u = ln s, with the density of u proportional to
// exp(df·(u − e^{2u}/2)). The weights are divided by their own sum, which is as
// accurate, so that no gamma function is needed. df is at least 1.
func ScaledChi(df, step float64) (s, weights []float64) {
	const negligible = 1e-19
	log := func(u float64) float64 { return df * (u - math.Expm1(2*u)/2) }
	least := math.Log(negligible * min(1, df*step)) // below the mode the weights fall by e^{−df·step} a step at slowest
	low, high := 0, 0
	for log(float64(low)*step) > least {
		low--
	}
	for log(float64(high)*step) > least {
		high++
	}
	n := high - low - 1
	work := make([]float64, 2*n)
	s, weights = work[:n:n], work[n:]
	sum := 0.0
	for i := range s {
		u := float64(low+1+i) * step
		s[i], weights[i] = math.Exp(u), math.Exp(log(u))
		sum += weights[i]
	}
	for i := range weights {
		weights[i] /= sum
	}
	return s, weights
}
