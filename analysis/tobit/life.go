package tobit

import (
	"errors"
	"fmt"
	"math"

	"shelfspan/analysis/crossing"
	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
)

// Life is when a line and its confidence limit meet a limit, in the unit of the
// times: 0 where at the start, +Inf where never.
type Life struct{ Estimate, Bound float64 }

// Meets finds when the mean of a batch, and its one-sided confidence limit, first
// meet a limit. The fit must have converged, and the confidence be at least 0.5
// and below 1; of a limit that either side may reach it is half of the rest
// nearer to 1.
//
// The bound is that of the profile likelihood: the mean at a time may be on the
// limit if that costs no more than
//
//	2(ℓ_max − ℓ) ≤ m·ln(1 + t²/ν)
//
// with m exact values, ν = m less coefficients, and the one-sided quantile t of
// Student's t. Where nothing is censored this is the exact limit of least
// squares. With censored values, by simulation (see the tests), a nominal 95 %
// covers in 94.5 to 99 %; Wald's limit with the same t in 93.6 to 98 %, with a
// normal quantile in as little as 69 %.
//
// In γ and θ a mean held on a limit is a linear constraint, so that ℓ is again
// the one maximum of a concave likelihood, and what the allowance holds is a
// convex set: the bound meets the limit at most once.
func (f *Fit) Meets(batch int, limit kinetics.Limit, confidence float64) (Life, error) {
	p, err := f.profile(batch, confidence)
	if err != nil {
		return Life{}, err
	}
	if math.IsInf(limit.Level, 0) && limit.Level > 0 == limit.Above {
		return Life{math.Inf(1), math.Inf(1)}, nil
	}
	if !pooling.Measurable(limit.Level) || !pooling.Measurable(limit.Share) {
		return Life{}, errOutOfRange
	}
	life := Life{Estimate: limit.MetBy(f.Lines[batch], 0)}
	switch {
	case life.Estimate == 0 || p.cost(limit, 0) <= 0:
	case math.IsInf(life.Estimate, 1) && p.cost(limit, math.Inf(1)) >= 0:
		// The best line never meets the limit, and the allowance holds none that
		// is level, let alone one that goes the other way.
		life.Bound = life.Estimate
	default:
		bound := crossing.First(func(x float64) float64 {
			if x >= life.Estimate {
				return -1
			}
			return p.cost(limit, x)
		}, min(f.span, life.Estimate), 2)
		life.Bound = min(bound, life.Estimate)
	}
	return life, p.err
}

// Limit is the one-sided confidence limit of a batch's mean at a time, the upper
// one where above is set. See Meets.
func (f *Fit) Limit(batch int, x float64, above bool, confidence float64) (float64, error) {
	p, err := f.profile(batch, confidence)
	if err != nil {
		return 0, err
	}
	if !pooling.Measurable(x) {
		return 0, errOutOfRange
	}
	mean, step := f.Lines[batch].Mean(x), f.Lines[batch].SE(x)
	if !above {
		step = -step
	}
	// How many standard errors away the mean may be: the cost of the mean itself
	// is nothing.
	away := crossing.First(func(u float64) float64 {
		return -p.cost(kinetics.Limit{Level: mean + u*step}, x)
	}, 1, 2)
	if step == 0 || math.IsInf(away, 1) {
		return 0, errProfile // the error has no digits left
	}
	return mean + away*step, p.err
}

// profile weighs lines by what they cost of the likelihood.
type profile struct {
	f         *Fit
	batch     int
	allowance float64
	err       error // of the first that did not converge
}

func (f *Fit) profile(batch int, confidence float64) (*profile, error) {
	switch {
	case f.Status != Converged:
		return nil, fmt.Errorf("the lines have not been fitted: %s", f.Status)
	case batch < 0 || batch >= len(f.Lines):
		return nil, fmt.Errorf("there is no batch %d", batch+1)
	case !(confidence >= 0.5 && confidence < 1):
		return nil, fmt.Errorf("a confidence of %g is not between 0.5 and 1", confidence)
	}
	t := linear.StudentQuantile(confidence, f.DF)
	return &profile{f: f, batch: batch, allowance: float64(f.Exact) * math.Log1p(t*t/float64(f.DF))}, nil
}

var errProfile = errors.New("the profile likelihood of a limit did not converge")

// cost is how far 2(ℓ_max − ℓ) goes beyond the allowance if a batch's mean is on
// the limit at x, or, with x infinite, does not change. It is taken of their
// roots, which run all but straight in x and in the level.
func (p *profile) cost(limit kinetics.Limit, x float64) float64 {
	f := p.f
	w := make([]float64, len(f.problem.columns))
	level, slope := places(f.Decision, p.batch)
	left := 1 - limit.Share
	height := (limit.Level - left*f.centre) / f.unit
	if math.IsInf(x, 0) {
		w[slope], height = 1, 0
	} else {
		w[level], w[slope] = left, x-left*f.Lines[p.batch].Centre
	}
	out := level
	if math.Abs(w[slope])*f.reach > math.Abs(w[level]) {
		out = slope
	}
	if w[out] == 0 {
		return math.Inf(1) // a change from the start is none there
	}
	held, start := f.problem.on(w, out, height, f.peak)
	s := held.solve(start, f.peak.theta)
	if !s.converged && p.err == nil {
		p.err = errProfile
	}
	return math.Sqrt(max(0, 2*(f.peak.logLikelihood-s.logLikelihood))) - math.Sqrt(p.allowance)
}

// on is the problem with w·γ = θ·height held, of which the coefficient out is
// given by the others, and a start for it.
func (p *problem) on(w []float64, out int, height float64, peak *solution) (*problem, []float64) {
	held := &problem{side: p.side, exact: p.exact, y: make([]float64, len(p.y))}
	own := p.columns[out].Values
	for i, y := range p.y {
		held.y[i] = y - own[i]*height/w[out]
	}
	var start []float64
	for j, column := range p.columns {
		if j == out {
			continue
		}
		values := make([]float64, len(p.y))
		for i, x := range column.Values {
			values[i] = x - own[i]*w[j]/w[out]
		}
		held.columns = append(held.columns, linear.Column{Name: column.Name, Values: values})
		start = append(start, peak.gamma[j])
	}
	return held, start
}
