// Package noncentral reckons with Student's noncentral t distribution, which
// tolerance limits of normal samples rest on.
package noncentral

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// T is the noncentral t distribution: that of (Z + δ)/S with Z standard normal
// and S² an independent χ²/df, df not necessarily whole.
//
// It is held as the nodes and weights of a mean over one of the two variables,
// with the distribution function of the other inside (Johnson, Kotz &
// Balakrishnan, Continuous Univariate Distributions, vol. 2, chapter 31),
//
//	P(T ≤ t) = E Φ(t·S − δ) = E P(S ≥ (Z + δ)/t)  for t > 0 and Z > −δ,
//
// the first as long as δ² ≤ 100·df, the second beyond, where Φ would be too steep
// for a step of S. Probabilities are good to about 1e-13, quantiles to about
// 1e-12 of themselves.
type T struct {
	df, delta      float64 // delta ≥ 0 where overZ
	overZ          bool
	mirrored       bool // −T is held
	nodes, weights []float64
	logNorm        float64 // of the density of S; overZ only
}

// NewT prepares the distribution for df from 1 up and a finite noncentrality
// delta; for any other arguments every answer is NaN.
func NewT(df, delta float64) T {
	if !(df >= 1 && df <= math.MaxFloat64 && math.Abs(delta) <= math.MaxFloat64) {
		return T{delta: math.NaN(), nodes: []float64{1}, weights: []float64{1}}
	}
	if math.Abs(delta) <= 10*math.Sqrt(df) {
		s, weights := ScaledChi(df, FineStep(df+delta*delta/2))
		return T{df: df, delta: delta, nodes: s, weights: weights}
	}
	d := T{df: df, delta: math.Abs(delta), overZ: true, mirrored: delta < 0}
	// As a function of Z the inside is no steeper than the density of Z itself,
	// for which the trapezoidal rule of this step errs by exp(−2π²/step²), e⁻⁴⁹.
	// |Z| ≤ 8.75 < δ holds all but 2e-18 of it.
	const step, half = 0.625, 14
	sum := 0.0
	for i := -half; i <= half; i++ {
		z := step * float64(i)
		d.nodes, d.weights = append(d.nodes, z), append(d.weights, math.Exp(-z*z/2))
		sum += math.Exp(-z * z / 2)
	}
	for i := range d.weights {
		d.weights[i] /= sum
	}
	lgamma, _ := math.Lgamma(df / 2)
	d.logNorm = math.Ln2 + df/2*math.Log(df/2) - lgamma
	return d
}

// CDF is the probability of a value up to t.
func (d T) CDF(t float64) float64 {
	if d.mirrored {
		return d.tail(-t, 1)
	}
	return d.tail(t, -1)
}

// Survival is the probability of a value above t.
func (d T) Survival(t float64) float64 {
	if d.mirrored {
		return d.tail(-t, -1)
	}
	return d.tail(t, 1)
}

// Quantile is the value that T does not exceed with probability p, 0 < p < 1;
// NaN for any other p.
func (d T) Quantile(p float64) float64 {
	switch {
	case !(p > 0 && p < 1) || math.IsNaN(d.delta):
		return math.NaN()
	case (p < 0.5) != d.mirrored:
		return d.sign() * d.solve(-1, min(p, 1-p))
	default:
		return d.sign() * d.solve(1, min(p, 1-p))
	}
}

func (d T) sign() float64 {
	if d.mirrored {
		return -1
	}
	return 1
}

// tail is the probability below t, side −1, or above it, side 1, of what is held.
func (d T) tail(t, side float64) float64 {
	sum := 0.0
	switch {
	case !d.overZ:
		for i, s := range d.nodes {
			sum += d.weights[i] * math.Erfc(side*(t*s-d.delta)/math.Sqrt2)
		}
		return sum / 2
	case t <= 0 && side < 0:
		return 0 // less than Φ(−10)
	case t <= 0:
		return 1
	}
	for i, z := range d.nodes {
		s := (z + d.delta) / t
		if side > 0 {
			sum += d.weights[i] * mathext.GammaIncReg(d.df/2, d.df*s*s/2)
		} else {
			sum += d.weights[i] * mathext.GammaIncRegComp(d.df/2, d.df*s*s/2)
		}
	}
	return sum
}

// density of what is held at t.
func (d T) density(t float64) float64 {
	sum := 0.0
	switch {
	case !d.overZ:
		for i, s := range d.nodes {
			z := t*s - d.delta
			sum += d.weights[i] * s * math.Exp(-z*z/2)
		}
		return sum / math.Sqrt(2*math.Pi)
	case t <= 0:
		return 0
	}
	for i, z := range d.nodes {
		s := (z + d.delta) / t
		sum += d.weights[i] * math.Exp(d.logNorm+d.df*math.Log(s)-d.df*s*s/2)
	}
	return sum / t
}

// solve finds the t beyond which a tail is as small as the target, by Newton's
// steps on the logarithm of the tail, from δ, within a bracket that every value
// tried narrows; a step that leaves it, or is longer than the stride allowed, is
// replaced by the stride or by the middle of the bracket.
func (d T) solve(side, target float64) float64 {
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
