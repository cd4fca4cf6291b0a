// Package kinetics holds the degradation models that make a straight line of a
// change over time, and the choice among them.
//
//	zero-order        y    = a + b·t
//	first-order       ln y = a + b·t
//	second-order      1/y  = a + b·t
//	square-root-time  y    = a + b·√t
//
// The integrated rate laws are those of any physical chemistry text; the
// square root of time is Higuchi's law of release from an ointment base
// (J. Pharm. Sci. 50, 1961, 874), used for anything led by diffusion.
package kinetics

import (
	"math"

	"shelfspan/study"
)

// Model is one of the models, never auto.
type Model study.Model

// The models, in the order in which they are compared.
const (
	ZeroOrder      = Model(study.ZeroOrder)
	FirstOrder     = Model(study.FirstOrder)
	SecondOrder    = Model(study.SecondOrder)
	SquareRootTime = Model(study.SquareRootTime)
)

// Models lists them, zero-order first.
var Models = [...]Model{ZeroOrder, FirstOrder, SecondOrder, SquareRootTime}

// InDomain reports whether a value can be put on the model's scale: any finite
// one, and for first and second order a positive one.
func (m Model) InDomain(y float64) bool {
	if math.IsNaN(y) || math.IsInf(y, 0) {
		return false
	}
	return y > 0 || !m.positive()
}

// Judges reports whether limits on a basis have a meaning on the model's scale:
// a change from the initial value has none under first and second order.
func (m Model) Judges(basis study.Basis) bool { return basis != study.BasisChange || !m.positive() }

func (m Model) positive() bool { return m == FirstOrder || m == SecondOrder }

// Transform puts a value on the model's scale, g(y); NaN outside its domain.
func (m Model) Transform(y float64) float64 {
	switch {
	case !m.InDomain(y):
		return math.NaN()
	case m == FirstOrder:
		return math.Log(y)
	case m == SecondOrder:
		return 1 / y
	}
	return y
}

// Inverse takes a value from the model's scale back. Second order runs away to
// +Inf where 1/y has come down to zero.
func (m Model) Inverse(z float64) float64 {
	switch m {
	case FirstOrder:
		return math.Exp(z)
	case SecondOrder:
		if z <= 0 {
			return math.Inf(1)
		}
		return 1 / z
	}
	return z
}

// Decreasing reports whether a larger value stands lower on the model's scale,
// so that lower and upper limits change places.
func (m Model) Decreasing() bool { return m == SecondOrder }

// Time is the model's own time, τ(t): t or √t. Negative times give NaN under
// the square root.
func (m Model) Time(t float64) float64 {
	if m == SquareRootTime {
		return math.Sqrt(t)
	}
	return t
}

// InverseTime takes the model's own time, at least 0, back to months.
func (m Model) InverseTime(tau float64) float64 {
	if m == SquareRootTime {
		return tau * tau
	}
	return tau
}

// LogDerivative is ln|g′(y)|, by which likelihoods on different scales are made
// comparable.
func (m Model) LogDerivative(y float64) float64 {
	switch m {
	case FirstOrder:
		return -math.Log(y)
	case SecondOrder:
		return -2 * math.Log(y)
	}
	return 0
}
