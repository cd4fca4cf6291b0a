// Package crossing finds the first time at which a limit is met where no formula
// gives it.
package crossing

import "math"

// First is the first x ≥ 0 at which the margin left to the limit comes down
// to zero: 0 where it is none at 0, +Inf where there still is some at 10⁹ steps.
//
// It looks at 0, step, and on in steps that grow by the factor growth > 1 from
// the fourth step on, and refines between the first two looks that differ. A
// margin that is concave meets zero from above but once, and nothing is passed
// over whatever the steps; any other may dip between two looks unseen. A margin
// that is NaN counts as none.
func First(left func(float64) float64, step, growth float64) float64 {
	margin := func(x float64) float64 {
		m := left(x)
		if math.IsNaN(m) {
			return math.Inf(-1)
		}
		return m
	}
	before := margin(0)
	if !(before > 0) {
		return 0
	}
	farthest := 1e9 * step
	for a, k := 0.0, 0; a < farthest; k++ {
		if k >= 4 {
			step *= growth
		}
		b := a + step
		after := margin(b)
		if !(after > 0) {
			return between(margin, a, before, b, after)
		}
		a, before = b, after
	}
	return math.Inf(1)
}

// between refines a bracket with fa > 0 and fb ≤ 0 by inverse quadratic
// interpolation and the secant, with bisection where they do not help (Brent,
// Algorithms for Minimization without Derivatives, 1973, chapter 4). Of the ends of
// what is left, a 10⁻¹¹ of the answer wide at most, it gives the one where margin
// is left, so that an answer is never late.
func between(margin func(float64) float64, a, fa, b, fb float64) float64 {
	const precision = 0.5e-11
	// b is the best estimate, c the other end of the bracket, a the estimate before.
	c, fc := a, fa
	step := b - a
	before := step
	for range 200 {
		if math.Abs(fc) < math.Abs(fb) || math.IsInf(fb, 0) {
			a, b, c = b, c, b
			fa, fb, fc = fb, fc, fb
		}
		tolerance := precision * math.Abs(b)
		half := (c - b) / 2
		if math.Abs(half) <= tolerance || fb == 0 {
			break
		}
		if math.Abs(before) < tolerance || !(math.Abs(fa) > math.Abs(fb)) {
			step, before = half, half
		} else {
			s := fb / fa
			p, q := 2*half*s, 1-s
			if a != c {
				r, t := fb/fc, fa/fc
				p, q = s*(2*half*t*(t-r)-(b-a)*(r-1)), (t-1)*(r-1)*(s-1)
			}
			if p > 0 {
				q = -q
			}
			p = math.Abs(p)
			if 2*p < min(3*half*q-math.Abs(tolerance*q), math.Abs(before*q)) {
				before, step = step, p/q
			} else {
				step, before = half, half
			}
		}
		a, fa = b, fb
		if math.Abs(step) > tolerance {
			b += step
		} else {
			b += math.Copysign(tolerance, half)
		}
		fb = margin(b)
		if !(fb > 0) == !(fc > 0) {
			c, fc = a, fa
			step = b - a
			before = step
		}
	}
	if fb >= 0 {
		return b
	}
	return min(b, c)
}
