package linear

import "math"

// Line is a fitted straight line, Level + Slope·(x − Centre), with what is
// known of its error. In centred form Level and Slope are all but uncorrelated,
// and the error of the mean loses no digits far from x = 0.
type Line struct {
	Centre, Level, Slope float64
	// LevelVar, SlopeVar and Cov are the unscaled variances and covariance of
	// Level and Slope: times S² they are the variances.
	LevelVar, SlopeVar, Cov float64
	S                       float64 // residual standard deviation, on DF degrees of freedom
	DF                      int
}

// Mean is the fitted mean at x.
func (l Line) Mean(x float64) float64 { return l.Level + l.Slope*(x-l.Centre) }

// SE is the standard error of the fitted mean at x.
func (l Line) SE(x float64) float64 { return l.S * l.unscaledSE(x-l.Centre) }

func (l Line) unscaledSE(u float64) float64 {
	return math.Sqrt(max(0, l.LevelVar+u*(2*l.Cov+u*l.SlopeVar)))
}

// Intercept is the fitted mean at x = 0.
func (l Line) Intercept() float64 { return l.Mean(0) }

// SlopeSE is the standard error of the slope.
func (l Line) SlopeSE() float64 { return l.S * math.Sqrt(l.SlopeVar) }

// Departure is the line's change from its own value at x = 0, Slope·x, with the
// slope's error alone.
func (l Line) Departure() Line { return l.AgainstInitial(1) }

// AgainstInitial is the line less p times its own value at x = 0,
// a(1 − p) + b·x with a and b the intercept and slope. The error of a counts on
// both sides, so that where its confidence limit meets zero, Fieller's limit of
// the ratio of the mean to its initial value meets p (Fieller, J. R. Stat. Soc.
// B 16, 1954, 175). In centred form it is again a line: a is Level −
// Slope·Centre, hence (1 − p)·Level + Slope·(x − (1 − p)·Centre).
func (l Line) AgainstInitial(p float64) Line {
	r := 1 - p
	l.Centre *= r
	l.Level *= r
	l.LevelVar *= r * r
	l.Cov *= r
	return l
}

// CrossingBelow is the first x ≥ 0 at which Mean − q·SE comes down to the
// limit; q ≥ 0 is the quantile, 0 for the mean itself. It is 0 where the limit
// is met already at x = 0, and +Inf where it never is. A limit of −Inf is never
// met. A line whose rise is not significant at q is met sooner or later: its
// error outgrows its rise.
//
// With u = x − Centre, d = Level − limit, m = Slope and k = q·S the condition is
// d + m·u = k·√(LevelVar + 2·Cov·u + SlopeVar·u²). The left side less the right
// is concave in u, so from a start above the limit it meets it at most once, at
// the root (−B − √(B² − AC))/A of the squared condition Au² + 2Bu + C = 0; the
// form of that root is taken that does not cancel.
func (l Line) CrossingBelow(limit, q float64) float64 {
	d, m, k := l.Level-limit, l.Slope, q*l.S
	if math.IsInf(d, 1) {
		return math.Inf(1)
	}
	if d-m*l.Centre-k*l.unscaledSE(-l.Centre) <= 0 {
		return 0
	}
	levelSE, slopeSE := k*math.Sqrt(l.LevelVar), k*math.Sqrt(l.SlopeVar)
	a := (m - slopeSE) * (m + slopeSE)
	if m >= 0 && a >= 0 {
		return math.Inf(1)
	}
	b := d*m - k*k*l.Cov
	c := (d - levelSE) * (d + levelSE)
	// B² − AC with d²m² taken out by hand.
	e := k * math.Sqrt(max(0, m*m*l.LevelVar-2*d*m*l.Cov+d*d*l.SlopeVar-k*k*(l.LevelVar*l.SlopeVar-l.Cov*l.Cov)))
	var u float64
	if b >= 0 {
		u = -(b + e) / a
	} else {
		u = c / (e - b)
	}
	return max(0, l.Centre+u)
}

// CrossingAbove is the first x ≥ 0 at which Mean + q·SE comes up to the limit,
// as CrossingBelow is for the other side. A limit of +Inf is never met.
func (l Line) CrossingAbove(limit, q float64) float64 {
	l.Level, l.Slope = -l.Level, -l.Slope
	return l.CrossingBelow(-limit, q)
}
