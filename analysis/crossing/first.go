// Package crossing finds the first time at which a limit is met where no formula
// gives it.
package crossing

import "math"

// First is the first x ≥ 0 at which margin, what is left to the limit, comes down
// to zero: 0 where it is none at 0, +Inf where there still is some at 10⁹ steps.
//
// It looks at 0, step, and on in steps that grow by the factor growth > 1 from
// the fourth step on, and refines between the first two looks that differ, by
// the secant and bisection in turn (Illinois). A margin that is concave meets
// zero from above but once, and nothing is passed over whatever the steps; any
// other may dip between two looks unseen. A margin that is NaN counts as none.
func First(margin func(float64) float64, step, growth float64) float64 {
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

// between refines a bracket with fa > 0 and fb ≤ 0. Of its ends it gives the one
// where margin is left, so that an answer is never late.
func between(margin func(float64) float64, a, fa, b, fb float64) float64 {
	const precision = 1e-12
	side := 0
	for k := 0; k < 200 && b-a > precision*b; k++ {
		x := a + (b-a)*fa/(fa-fb)
		if k%3 == 2 || !(a < x && x < b) {
			x = a + (b-a)/2
		}
		if x == a || x == b {
			break
		}
		fx := margin(x)
		if fx > 0 {
			a, fa = x, fx
			if side > 0 {
				fb /= 2
			}
			side = 1
			continue
		}
		b, fb = x, fx
		if side < 0 {
			fa /= 2
		}
		side = -1
	}
	return a
}
