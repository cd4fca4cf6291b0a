// Package plateau fits changes over time that are no straight line under any
// transformation, by nonlinear least squares:
//
//	approach  y = y∞ + (y0 − y∞)·e^(−k·t), k > 0: a first-order approach to a plateau
//	power     y = y0 + b·t^m, m > 0
//
// Either is a straight line, y = y0 + D·x, in a progress x(t) that is 0 at the
// start and 1 at the longest time and whose shape has one parameter, k or m. With
// the shape held everything is linear; all that is searched is the shape.
package plateau

import (
	"math"

	"shelfspan/study"
)

// Model is one of the models.
type Model study.Model

// The models.
const (
	Approach = Model(study.ApproachToPlateau)
	Power    = Model(study.PowerOfTime)
)

// The shape of an approach is κ = k·T, T being the longest time: 0 is a straight
// line, and the larger it is the sooner the change is over. That of a power is
// its exponent, 1 for a straight line. Times s are in parts of T.

// progress is x(s).
func (m Model) progress(shape, s float64) float64 {
	switch {
	case m == Power:
		return math.Pow(s, shape)
	case shape == 0:
		return s
	}
	return math.Expm1(-shape*s) / math.Expm1(-shape)
}

// fill writes the progress at many times.
func (m Model) fill(x []float64, shape float64, s []float64) {
	switch {
	case m == Power:
		for i, v := range s {
			x[i] = math.Pow(v, shape)
		}
	case shape == 0:
		copy(x, s)
	default:
		whole := math.Expm1(-shape)
		for i, v := range s {
			x[i] = math.Expm1(-shape*v) / whole
		}
	}
}

// bend is the derivative of x by the shape.
func (m Model) bend(shape, s float64) float64 {
	switch {
	case m == Power && s == 0:
		return 0
	case m == Power:
		return math.Pow(s, shape) * math.Log(s)
	case math.Abs(shape) < 1e-5:
		return s * (1 - s) / 2
	}
	whole := -math.Expm1(-shape)
	return (s*math.Exp(-shape*s) + math.Expm1(-shape*s)/whole*math.Exp(-shape)) / whole
}

// inverse is the time at which x is reached; +Inf where it lies beyond the plateau.
func (m Model) inverse(shape, x float64) float64 {
	switch {
	case math.IsInf(x, 1):
		return x
	case m == Power:
		return math.Pow(x, 1/shape)
	case shape == 0:
		return x
	}
	left := 1 + x*math.Expm1(-shape)
	if left <= 0 {
		return math.Inf(1)
	}
	return -math.Log1p(x*math.Expm1(-shape)) / shape
}

// straight is the shape of a straight line.
func (m Model) straight() float64 {
	if m == Power {
		return 1
	}
	return 0
}

// cover spreads shapes over all that the times can tell, as close together as
// anything changes there. The last shape of an approach is that of a change
// which is over at the first time after the start; the first and the last of a
// power are those of a change that is over then, and that comes at the last time.
func (m Model) cover(times []float64) []float64 {
	var points []float64
	grow := func(from, to, ratio float64) {
		for x := from; x < to; x *= ratio {
			points = append(points, x)
		}
		points = append(points, to)
	}
	if m == Power {
		grow(1e-3, 1, 1.25)
		grow(1.2, 50, 1.25)
		return points
	}
	first, zero := math.Inf(1), false
	for _, s := range times {
		if s == 0 {
			zero = true
		} else {
			first = min(first, s)
		}
	}
	points = []float64{0}
	// At the last shape e^(−κs) is e⁻²⁰ at the first time. Without a result at the
	// start more than e⁻¹⁰ would lose the digits of what is left of the change.
	last := 20 / first
	if !zero {
		last = 10 / first
	}
	grow(0.02, min(last, 1e9), 1.25)
	return points
}

// least finds the least value of f over a cover: every point that is no higher
// than its neighbours is refined between them. f may be +Inf.
func least(f func(float64) float64, cover []float64) (x, fx float64) {
	values := make([]float64, len(cover))
	for i, p := range cover {
		values[i] = f(p)
	}
	last := len(cover) - 1
	x, fx = cover[0], math.Inf(1)
	for i, v := range values {
		before, after := max(i-1, 0), min(i+1, last)
		if math.IsInf(v, 1) || v > values[before] || v > values[after] {
			continue
		}
		if at, low := descend(f, cover[before], cover[i], cover[after], v); low < fx {
			x, fx = at, low
		}
	}
	return x, fx
}

// descend narrows the valley at m, a ≤ m ≤ b, down by golden section to a
// millionth, where its bottom is flat to twelve digits.
func descend(f func(float64) float64, a, m, b, fm float64) (x, fx float64) {
	const section = 0.3819660112501051
	for b-a > 1e-6*(math.Abs(a)+math.Abs(b))+1e-12 {
		x := m + section*(b-m)
		if b-m < m-a {
			x = m - section*(m-a)
		}
		switch fx := f(x); {
		case fx < fm && x > m:
			a, m, fm = m, x, fx
		case fx < fm:
			b, m, fm = m, x, fx
		case x > m:
			b = x
		default:
			a = x
		}
	}
	return m, fm
}
