package arrhenius

import "math"

// outermost finds where a function first comes down to a level along points that
// go from outside to a place where it is at or below it, and are as close
// together as its features are wide: a point lower than both its neighbours is
// refined between them. It is the first point where f is that low there already.
func outermost(f func(float64) float64, points []float64, level float64) float64 {
	before, v := points[0], f(points[0])
	if v <= level {
		return before
	}
	above := func(x float64) float64 { return f(x) - level }
	vBefore := math.Inf(1)
	for k := 1; k < len(points); k++ {
		x := points[k]
		vx := f(x)
		if vx <= level {
			return root(above, x, points[k-1])
		}
		if k > 1 && v < vBefore && v <= vx {
			if at, least := minimum(f, min(before, x), points[k-1], max(before, x), v); least <= level {
				return root(above, at, before)
			}
		}
		before, vBefore, v = points[k-1], v, vx
	}
	return points[len(points)-1]
}

// root finds where f, at most 0 at a and positive at b, changes sign, by
// bisection and the secant through the ends in turn (Illinois).
func root(f func(float64) float64, a, b float64) float64 {
	fa, fb := f(a), f(b)
	if fa >= 0 {
		return a
	}
	side := 0
	for k := 0; k < 200 && math.Abs(b-a) > 1e-13*(math.Abs(a)+math.Abs(b)); k++ {
		x := (a*fb - b*fa) / (fb - fa)
		if k%3 == 2 || !(math.Min(a, b) < x && x < math.Max(a, b)) {
			x = a + (b-a)/2
		}
		if x == a || x == b {
			break
		}
		fx := f(x)
		switch {
		case fx == 0:
			return x
		case fx < 0:
			a, fa = x, fx
			if side == -1 {
				fb /= 2
			}
			side = -1
		default:
			b, fb = x, fx
			if side == 1 {
				fa /= 2
			}
			side = 1
		}
	}
	return a
}

// minimum finds the least value of f between a and b near m, where f(m) = fm is
// no more than f just beside it, by parabolic interpolation with golden section
// where that fails (Brent, Algorithms for Minimization without Derivatives,
// 1973, chapter 5). f may be +Inf.
func minimum(f func(float64) float64, a, m, b, fm float64) (x, fx float64) {
	const golden = 0.3819660112501051
	tol := 1e-8 * (b - a) // about √ε: closer together values cannot be told apart
	x, fx = m, fm
	w, fw, v, fv := x, fx, x, fx
	var d, e float64
	for range 100 {
		mid := (a + b) / 2
		if math.Abs(x-mid) <= 2*tol-(b-a)/2 {
			break
		}
		parabolic := false
		if math.Abs(e) > tol && isFinite(fw) && isFinite(fv) {
			r := (x - w) * (fx - fv)
			q := (x - v) * (fx - fw)
			p := (x-v)*q - (x-w)*r
			q = 2 * (q - r)
			if q > 0 {
				p = -p
			}
			q = math.Abs(q)
			if math.Abs(p) < math.Abs(q*e/2) && p > q*(a-x) && p < q*(b-x) {
				parabolic = true
				e, d = d, p/q
				if u := x + d; u-a < 2*tol || b-u < 2*tol {
					d = math.Copysign(tol, mid-x)
				}
			}
		}
		if !parabolic {
			e = b - x
			if x >= mid {
				e = a - x
			}
			d = golden * e
		}
		u := x + d
		if math.Abs(d) < tol {
			u = x + math.Copysign(tol, d)
		}
		fu := f(u)
		if fu <= fx {
			if u >= x {
				a = x
			} else {
				b = x
			}
			v, fv, w, fw, x, fx = w, fw, x, fx, u, fu
			continue
		}
		if u < x {
			a = u
		} else {
			b = u
		}
		if fu <= fw || w == x {
			v, fv, w, fw = w, fw, u, fu
		} else if fu <= fv || v == x || v == w {
			v, fv = u, fu
		}
	}
	return x, fx
}

// valley finds the least value of f over a range covered by points, ascending
// and as close together as its features are wide: every point that is no higher
// than its neighbours is refined between them. f may be +Inf.
func valley(f func(float64) float64, points []float64) (x, fx float64) {
	values := make([]float64, len(points))
	for k, p := range points {
		values[k] = f(p)
	}
	x, fx = points[0], math.Inf(1)
	last := len(points) - 1
	for k, v := range values {
		before, after := max(k-1, 0), min(k+1, last)
		if math.IsInf(v, 1) || v > values[before] || v > values[after] {
			continue
		}
		at := points[k]
		if !math.IsInf(v, -1) && before != after {
			at, v = minimum(f, points[before], at, points[after], v)
		}
		if v < fx {
			x, fx = at, v
		}
	}
	return x, fx
}

// descend goes downhill from a start in growing steps until f rises, not beyond
// low and high, and refines the bottom. f may be +Inf, but not at the start.
func descend(f func(float64) float64, start, step, low, high float64) (x, fx float64) {
	behind, at := start, start
	fAt := f(at)
	ahead := min(at+step, high)
	fAhead := f(ahead)
	if !(fAhead < fAt) {
		step = -step
		behind, ahead = ahead, max(at+step, low)
		fAhead = f(ahead)
	}
	for fAhead < fAt {
		if math.IsInf(fAhead, -1) || ahead == low || ahead == high {
			return ahead, fAhead
		}
		step *= 2
		behind, at, fAt = at, ahead, fAhead
		ahead = min(max(at+step, low), high)
		fAhead = f(ahead)
	}
	return minimum(f, min(behind, ahead), at, max(behind, ahead), fAt)
}
