package lifetime

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Distribution is that of the lifetimes. In the logarithm of time both are of
// location and scale: z = (ln t − μ)/σ has a distribution without parameters.
type Distribution string

// The distributions.
const (
	Lognormal Distribution = "lognormal" // z is normal
	Weibull   Distribution = "weibull"   // z is of the smallest extreme value: F(z) = 1 − exp(−e^z); shape 1/σ, scale e^μ
)

// family is the likelihood of a standardized distribution, its terms on the log
// scale with their first and second derivatives. All are concave.
type family interface {
	// exact is ln f(z), left ln F(z) and right ln(1 − F(z)).
	exact(z float64) slope
	left(z float64) slope
	right(z float64) slope
	// between is ln(F(m + w/2) − F(m − w/2)) in the middle m and the width w > 0.
	between(m, w float64) bend
	quantile(p float64) float64
}

// slope is a term of one argument.
type slope struct{ l, z, zz float64 }

// bend is a term of two.
type bend struct{ l, m, w, mm, mw, ww float64 }

func (d Distribution) family() family {
	switch d {
	case Lognormal:
		return normal{}
	case Weibull:
		return extreme{}
	}
	return nil
}

// extreme is the distribution of the smallest extreme value.
type extreme struct{}

func (extreme) exact(z float64) slope {
	e := math.Exp(z)
	return slope{z - e, 1 - e, -e}
}

func (extreme) right(z float64) slope {
	e := math.Exp(z)
	return slope{-e, -e, -e}
}

func (extreme) left(z float64) slope {
	d := math.Exp(z)
	g, dg := shareOfHazard(d)
	return slope{log1mexp(d, z), g, dg}
}

// between works on the cumulative hazards A and B at the ends, F(b) − F(a) =
// e^−A(1 − e^−(B−A)), whose difference keeps its digits however narrow the interval.
func (extreme) between(m, w float64) bend {
	a := m - w/2
	hazard := math.Exp(a)
	logGrowth := w + math.Log(-math.Expm1(-w)) // ln(e^w − 1)
	d := math.Exp(a + logGrowth)               // B − A
	g, dg := shareOfHazard(d)
	ratio := -1 / math.Expm1(-w) // B/(B − A)
	// In a and w, then in m and w.
	first := -hazard + g
	second := g * ratio
	aa := -hazard + dg
	aw := dg * ratio
	ww := dg*ratio*ratio - g*math.Exp(-w)*ratio*ratio
	return bend{
		l: -hazard + log1mexp(d, a+logGrowth),
		m: first, w: second - first/2,
		mm: aa, mw: aw - aa/2, ww: ww - aw + aa/4,
	}
}

func (extreme) quantile(p float64) float64 { return math.Log(-math.Log1p(-p)) }

// log1mexp is ln(1 − e^−d) for d > 0, whose logarithm is known too (Mächler,
// "Accurately computing log(1 − exp(−|a|))", 2012).
func log1mexp(d, logD float64) float64 {
	switch {
	case d < 1e-8:
		return logD - d/2
	case d < math.Ln2:
		return math.Log(-math.Expm1(-d))
	}
	return math.Log1p(-math.Exp(-d))
}

// shareOfHazard is g(d) = d/(e^d − 1), and d·g′(d) = g(1 − g − d).
func shareOfHazard(d float64) (g, dg float64) {
	switch {
	case d < 1e-2:
		h := d * (-0.5 + d*(-1./12+d*d/720)) // 1 − g − d
		g = 1 - d - h
		return g, g * h
	case d > 700:
		return 0, 0
	}
	g = d / math.Expm1(d)
	return g, g * (1 - g - d)
}

// normal is the standard normal distribution.
type normal struct{}

const (
	lnSqrt2Pi = 0.918938533204672741780329736406
	farOut    = 26. // beyond, the tail is taken by its asymptotic series
)

func (normal) exact(z float64) slope { return slope{-z*z/2 - lnSqrt2Pi, -z, -1} }

func (normal) left(z float64) slope {
	l, h, excess := upperTail(-z)
	return slope{l, h, -h * excess}
}

func (normal) right(z float64) slope {
	l, h, excess := upperTail(z)
	return slope{l, -h, -h * excess}
}

// upperTail is ln(1 − Φ(z)), the hazard h = φ(z)/(1 − Φ(z)), and h − z.
func upperTail(z float64) (l, h, excess float64) {
	if z > farOut {
		// Mills' ratio is (1 − 1/z² + 1·3/z⁴ − …)/z.
		v := 1 / (z * z)
		less := v * (1 - v*(3-v*(15-v*(105-v*(945-v*10395)))))
		h = z / (1 - less)
		return -z*z/2 - lnSqrt2Pi - math.Log(h), h, z * less / (1 - less)
	}
	s := math.Erfc(z/math.Sqrt2) / 2
	if z < -1 {
		l = math.Log1p(-math.Erfc(-z/math.Sqrt2) / 2)
	} else {
		l = math.Log(s)
	}
	h = math.Exp(-z*z/2-lnSqrt2Pi) / s
	return l, h, h - z
}

// between is, where the interval is narrow, φ(m)·w times the mean of exp(−m·h·s −
// h²s²/2) over s from −1 to 1, h being w/2, by Gauss's quadrature: no difference is taken
// and every digit kept. Where it is wide, the difference of the nearer tails is.
func (normal) between(m, w float64) bend {
	if w*(1+math.Abs(m)) < 2 {
		return narrow(m, w)
	}
	// Φ(b) − Φ(a) is the same turned round.
	turned := m > 0
	if turned {
		m = -m
	}
	a, b := m-w/2, m+w/2
	la, _, _ := upperTail(-a)
	lb, _, _ := upperTail(-b)
	l := lb + log1mexp(lb-la, math.Log(lb-la))
	// Derivatives by the ends.
	da := -math.Exp(-a*a/2 - lnSqrt2Pi - l)
	db := math.Exp(-b*b/2 - lnSqrt2Pi - l)
	daa, dbb, dab := -da*(a+da), -db*(b+db), -da*db
	t := bend{l: l, m: da + db, w: (db - da) / 2,
		mm: daa + 2*dab + dbb, mw: (dbb - daa) / 2, ww: (daa - 2*dab + dbb) / 4}
	if turned {
		t.m, t.mw = -t.m, -t.mw
	}
	return t
}

// Nodes and weights of Gauss and Legendre's quadrature with 10 points, of which
// those above zero; the weights are halved (Abramowitz & Stegun, table 25.4).
var (
	nodes   = [5]float64{0.148874338981631211, 0.433395394129247191, 0.679409568299024406, 0.865063366688984511, 0.973906528517171720}
	weights = [5]float64{0.295524224714752870 / 2, 0.269266719309996355 / 2, 0.219086362515982044 / 2, 0.149451349150580593 / 2, 0.066671344308688138 / 2}
)

func narrow(m, w float64) bend {
	h := w / 2
	var q, s1, s2, s3, s4 float64 // the mean, and moments of s under what it is the mean of
	for k, s := range nodes {
		even := weights[k] * math.Exp(-h*h*s*s/2)
		tilt := math.Exp(-m * h * s)
		up, down := even*tilt, even/tilt
		sum, difference := up+down, up-down
		q += sum
		s1 += s * difference
		s2 += s * s * sum
		s3 += s * s * s * difference
		s4 += s * s * s * s * sum
	}
	s1, s2, s3, s4 = s1/q, s2/q, s3/q, s4/q
	variance := s2 - s1*s1
	covariance := s3 - s1*s2 // of s and s²
	square := s4 - s2*s2     // variance of s²
	return bend{
		l:  -m*m/2 - lnSqrt2Pi + math.Log(w) + math.Log(q),
		m:  -m - h*s1,
		w:  1/w - (m*s1+h*s2)/2,
		mm: -1 + h*h*variance,
		mw: (-s1 + h*(m*variance+h*covariance)) / 2,
		ww: -1/(w*w) + (-s2+m*m*variance+2*m*h*covariance+h*h*square)/4,
	}
}

func (normal) quantile(p float64) float64 { return mathext.NormalQuantile(p) }
