package analysis

import (
	"fmt"
	"math"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/regression"
	"shelfspan/analysis/tobit"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// regressCensored fits the batches' means over time where some values are only
// known to lie below or above another, by maximum likelihood (package tobit). A
// limit of measurement is never taken as a value.
func (v *evaluator) regressCensored(a *Analysis, in regression.Input, where string) {
	batches := make([]tobit.Batch, 0, len(in.Batches))
	of := make([]int, len(in.Batches))
	for i, points := range in.Batches {
		if of[i] = -1; len(points) > 0 {
			of[i] = len(batches)
			batches = append(batches, tobit.Batch{})
		}
	}
	model := kinetics.Model(in.Model)
	count := 0
	for i := range a.Samples {
		x := &a.Samples[i]
		months, counts := x.trendTime(in.Baseline)
		if !counts {
			continue
		}
		side := tobit.Exact
		switch {
		case x.Censor == study.Exact:
		case (x.Censor == study.BelowThat) != model.Decreasing():
			side = tobit.Below
		default:
			side = tobit.Above
		}
		if side != tobit.Exact {
			count++
		}
		b := &batches[of[x.Batch]]
		b.X, b.Y, b.Side = append(b.X, model.Time(months-in.Baseline)), append(b.Y, model.Transform(x.Value)), append(b.Side, side)
	}
	in.Paths = func(_ kinetics.Model, confidence float64) (regression.Paths, error) {
		pool, err := tobit.Pool(batches, in.Alpha)
		if err != nil {
			return regression.Paths{}, err
		}
		fit := pool.Fit
		if fit.Status != tobit.Converged {
			return regression.Paths{}, whyNoLine[fit.Status]
		}
		paths := regression.Paths{Pooling: pooling.Result{
			Decision: fit.Decision, SlopesF: pool.SlopesF, SlopesP: pool.SlopesP, InterceptsF: pool.InterceptsF, InterceptsP: pool.InterceptsP,
			DF1: pool.DF1, DF2: pool.DF2, S: fit.Sigma * math.Sqrt(float64(fit.Exact)/float64(fit.DF)), DF: fit.DF,
		}}
		for i := range batches {
			paths.Of = append(paths.Of, censoredPath{fit, i, confidence})
		}
		return paths, nil
	}
	out, warnings := regression.Evaluate(in)
	if len(out.Fits) > 0 {
		a.Censored = count
		warnings = append(warnings, finding.Warning{Code: "censored",
			Text: fmt.Sprintf("%d of %d values lie below or above a limit of measurement. They enter as that, by maximum likelihood, and not as numbers.", count, values(in))})
	}
	v.take(a, out, warnings, where)
}

func values(in regression.Input) (n int) {
	for _, b := range in.Batches {
		n += len(b)
	}
	return n
}

// noLine says why there is none through censored values.
type noLine string

func (e noLine) Error() string { return string(e) }

var whyNoLine = map[tobit.Status]noLine{
	tobit.AllCensored:  "every value lies below or above a limit of measurement, and a limit is no number",
	tobit.TooFewExact:  "the values that lie within the limits of measurement are too few to tell the lines and their error",
	tobit.NoResidual:   "the values that lie within the limits of measurement leave no residual, so that the others cannot be weighed against an error",
	tobit.NotConverged: "the likelihood's greatest value was not found",
}

// censoredPath is the line of one batch, judged by its profile likelihood.
type censoredPath struct {
	fit        *tobit.Fit
	batch      int
	confidence float64
}

func (p censoredPath) line() linear.Line { return p.fit.Lines[p.batch] }

func (p censoredPath) Start() float64             { return p.line().Intercept() }
func (p censoredPath) Slope() (slope, se float64) { return p.line().Slope, p.line().SlopeSE() }

func (p censoredPath) Meets(limit kinetics.Limit) (estimate, bound float64, err error) {
	life, err := p.fit.Meets(p.batch, limit, p.confidence)
	return life.Estimate, life.Bound, err
}

// At has no limits of a mean that is referred to the start.
func (p censoredPath) At(x, share float64) (mean, lower, upper float64) {
	mean = p.line().AgainstInitial(share).Mean(x)
	if share != 0 {
		return regression.NoLimit(mean)
	}
	side := func(above bool) float64 {
		limit, err := p.fit.Limit(p.batch, x, above, p.confidence)
		if err != nil {
			return math.NaN()
		}
		return limit
	}
	return mean, side(false), side(true)
}

func (p censoredPath) Ratio(x float64) (mean, lower, upper float64) {
	return regression.NoLimit(p.line().Mean(x) / p.Start())
}
