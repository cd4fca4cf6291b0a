package tobit

import (
	"math"

	"shelfspan/analysis/linear"
)

// problem is a normal linear model with censored observations, to be fitted by
// maximum likelihood in Olsen's parameters: γ = β/σ of the columns and θ = 1/σ,
// in which the log-likelihood
//
//	Σ ln θ − ½ ln 2π − ½(θy − xᵀγ)²  over the exact
//	+ Σ ln Φ(±(θy − xᵀγ))            over those below (+) or above (−) y
//
// is concave, so that it has one maximum, which Newton's method finds from
// anywhere (Olsen, Econometrica 46, 1978, 1211–1215).
type problem struct {
	columns []linear.Column
	y       []float64
	side    []Side
	exact   int
}

// solution is a maximum.
type solution struct {
	gamma         []float64
	theta         float64
	logLikelihood float64
	iterations    int
	converged     bool
}

const (
	mostIterations = 200
	// settled is the decrement, twice what the log-likelihood can still rise, from
	// which one more full step leaves nothing but rounding: Newton's steps square it.
	settled = 1e-10
)

// solve climbs from a start. The information is never formed: a Newton step is
// the solution of a least-squares problem whose rows are those of the model,
// weighted by their curvature, and one for θ.
func (p *problem) solve(gamma []float64, theta float64) *solution {
	n, k := len(p.y), len(p.columns)
	s := &solution{gamma: append([]float64(nil), gamma...), theta: theta}
	s.logLikelihood = p.value(s.gamma, s.theta)
	rows := make([]linear.Column, k+1)
	for j := range rows {
		rows[j].Values = make([]float64, n+1)
	}
	right := make([]float64, n+1)
	trial := make([]float64, k)
	for !s.converged && s.iterations < mostIterations {
		s.iterations++
		p.linearize(s, rows, right)
		step, err := linear.LeastSquares(rows, right)
		if err != nil {
			return s
		}
		// The part of the right side that the step explains is gᵀH⁻¹g.
		decrement := -step.RSS
		for _, r := range right {
			decrement += r * r
		}
		last := decrement < settled
		for share := 1.0; ; share /= 2 {
			if share < 1e-12 {
				return s
			}
			for j := range trial {
				trial[j] = s.gamma[j] + share*step.Coefficients[j]
			}
			t := s.theta + share*step.Coefficients[k]
			if !(t > 0) {
				continue
			}
			// Near the top rounding hides the rise.
			if value := p.value(trial, t); value >= s.logLikelihood+0.1*share*decrement || last {
				copy(s.gamma, trial)
				s.theta, s.logLikelihood, s.converged = t, value, last
				break
			}
		}
	}
	return s
}

// covariance is the inverse of the observed information of β, row by row, in
// units of σ², at a maximum. With y counted from the lines γ is zero there and
// β = γ/θ has the covariance of γ; taken of γ and θ themselves it would be the
// difference of numbers that are far larger.
func (p *problem) covariance(s *solution) ([]float64, error) {
	n, k := len(p.y), len(p.columns)
	centred := &problem{columns: p.columns, side: p.side, exact: p.exact, y: make([]float64, n)}
	for i := range centred.y {
		centred.y[i] = p.residual(i, s.gamma, s.theta) / s.theta
	}
	rows := make([]linear.Column, k+1)
	for j := range rows {
		rows[j].Values = make([]float64, n+1)
	}
	right := make([]float64, n+1)
	centred.linearize(&solution{gamma: make([]float64, k), theta: s.theta}, rows, right)
	step, err := linear.LeastSquares(rows, right)
	if err != nil {
		return nil, err
	}
	covariance := make([]float64, 0, k*k)
	for i := range k {
		covariance = append(covariance, step.Covariance[i*(k+1):i*(k+1)+k]...)
	}
	return covariance, nil
}

// linearize fills in the rows of a Newton step's least-squares problem.
func (p *problem) linearize(s *solution, rows []linear.Column, right []float64) {
	n, k := len(p.y), len(p.columns)
	for i := range n {
		u := p.residual(i, s.gamma, s.theta)
		slope, weight := -u, 1.0
		if p.side[i] != Exact {
			sign := p.side[i].sign()
			slope, weight = mills(sign * u)
			slope *= sign
		}
		root := math.Sqrt(weight)
		for j, c := range p.columns {
			rows[j].Values[i] = -root * c.Values[i]
		}
		rows[k].Values[i] = root * p.y[i]
		if right[i] = 0; root > 0 {
			right[i] = slope / root
		}
	}
	rows[k].Values[n] = math.Sqrt(float64(p.exact)) / s.theta
	right[n] = math.Sqrt(float64(p.exact))
}

// residual is θy − xᵀγ.
func (p *problem) residual(i int, gamma []float64, theta float64) float64 {
	u := theta * p.y[i]
	for j, c := range p.columns {
		u -= c.Values[i] * gamma[j]
	}
	return u
}

// value is the log-likelihood.
func (p *problem) value(gamma []float64, theta float64) float64 {
	l := float64(p.exact) * (math.Log(theta) - 0.5*math.Log(2*math.Pi))
	for i, side := range p.side {
		u := p.residual(i, gamma, theta)
		if side == Exact {
			l -= u * u / 2
		} else {
			l += logPhi(side.sign() * u)
		}
	}
	return l
}
