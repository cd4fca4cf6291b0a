package analysis

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/plateau"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/regression"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// Curve is what the fitted curve of a batch is made of, an approach to a plateau
// or a power of time (see package plateau). Time is in months from where the
// trend counts.
type Curve struct {
	Batch int
	plateau.Parameters
	SE plateau.Parameters // asymptotic

	// StraightP is the p-value of the straight line against the curves, the same
	// for all batches: where it is not small, a line would do as well.
	StraightP float64
}

// straightAsGood is the p-value from which on a curve is said not to be told from
// a straight line; common practice, no source.
const straightAsGood = 0.05

// curve fits the batches' means by a curve; the fit is nil where the data have
// none of that shape. Their straight line then stands for it, and that is told.
func curve(in regression.Input) (regression.Output, []finding.Warning, *plateau.Pooling) {
	model := plateau.Model(in.Model)
	batches := make([]pooling.Batch, 0, len(in.Batches))
	for _, points := range in.Batches {
		if len(points) == 0 {
			continue
		}
		var b pooling.Batch
		for _, p := range points {
			b.X, b.Y = append(b.X, p.Months-in.Baseline), append(b.Y, p.Value)
		}
		batches = append(batches, b)
	}
	pool, err := plateau.Pool(batches, model, in.Alpha)
	if err != nil || pool.Fit.Status != plateau.Converged {
		why := ""
		if err != nil {
			why = err.Error()
		} else {
			why = whyNoCurve[pool.Fit.Status]
		}
		in.Model = study.ZeroOrder
		out, warnings := regression.Evaluate(in)
		if len(out.Fits) > 0 {
			warnings = append(warnings, finding.Warning{Code: "no-curve",
				Text: fmt.Sprintf("No %s was found in these results: %s. A straight line stands for it.", curveName(study.Model(model)), why)})
		}
		return out, warnings, nil
	}
	fit := pool.Fit
	in.Paths = func(_ kinetics.Model, confidence float64) (regression.Paths, error) {
		lock := new(sync.Mutex)
		paths := regression.Paths{Pooling: pooling.Result{
			Decision: fit.Decision, SlopesF: pool.ChangesF, SlopesP: pool.ChangesP, InterceptsF: pool.StartsF, InterceptsP: pool.StartsP,
			DF1: pool.StartsDF, DF2: pool.DF2, S: fit.S, DF: fit.DF,
		}}
		for i := range batches {
			paths.Of = append(paths.Of, &curvePath{fit, i, confidence, lock})
		}
		return paths, nil
	}
	out, warnings := regression.Evaluate(in)
	if len(out.Fits) == 0 {
		return out, warnings, nil
	}
	if fit.StraightP > straightAsGood {
		warnings = append(warnings, finding.Warning{Code: "straight-as-good",
			Text: fmt.Sprintf("A straight line fits these results all but as well as the curve (p = %.2f): that the change bends is not shown here.", fit.StraightP)})
	}
	if model == plateau.Approach && out.Status == regression.NeverReached {
		warnings = append(warnings, finding.Warning{Code: "rests-on-plateau",
			Text: "By the curve the change comes to rest before it reaches a limit. That is seen up to the last pull alone: only later results can show that it stays so."})
	}
	return out, warnings, pool
}

// takeCurves takes over what the fits of an analysis are made of.
func (a *Analysis) takeCurves(pool *plateau.Pooling) {
	if pool == nil {
		return
	}
	for i, f := range a.Fits {
		c := pool.Fit.Curves[i]
		a.Curves = append(a.Curves, Curve{Batch: f.Batch, Parameters: c.Parameters, SE: c.SE, StraightP: pool.Fit.StraightP})
	}
	a.Pooling.ChangesDF = pool.ChangesDF
}

var whyNoCurve = map[plateau.Status]string{
	plateau.NoChange:     "the values of a batch are all equal",
	plateau.NoBend:       "the change does not slow down in a batch",
	plateau.AtOnce:       "in a batch the change is over at the first time after the start, so that how fast it was cannot be told",
	plateau.AtTheEnd:     "in a batch all of the change comes at the last time",
	plateau.NotConverged: "the fit did not come to an end",
}

func curveName(m study.Model) string {
	if m == study.PowerOfTime {
		return "power of time"
	}
	return "approach to a plateau"
}

// curvePath is the curve of one batch. A fit is for one goroutine at a time.
type curvePath struct {
	fit        *plateau.Fit
	batch      int
	confidence float64
	lock       *sync.Mutex
}

func (p *curvePath) Start() float64             { return p.fit.Curves[p.batch].Start }
func (p *curvePath) Slope() (slope, se float64) { return math.NaN(), math.NaN() }

func (p *curvePath) Meets(limit kinetics.Limit) (estimate, bound float64, err error) {
	p.lock.Lock()
	defer p.lock.Unlock()
	life, err := p.fit.Meets(p.batch, limit, p.confidence)
	return life.Estimate, life.Bound, err
}

func (p *curvePath) At(x, share float64) (mean, lower, upper float64) {
	p.lock.Lock()
	defer p.lock.Unlock()
	mean, lower, upper, err := p.fit.Limits(p.batch, x, share, p.confidence)
	if err != nil {
		return regression.NoLimit(math.NaN())
	}
	return mean, lower, upper
}

func (p *curvePath) Ratio(x float64) (mean, lower, upper float64) {
	mean, _, _ = p.At(x, 0)
	return regression.NoLimit(mean / p.Start())
}

// orCurve adds the curves to the comparison of the models of a straight line. A
// curve replaces the one preferred of them only where its AICc is lower by more
// than that one needs over zero-order (see kinetics.Preferred).
func orCurve(line kinetics.Model, candidates []kinetics.Candidate, groups [][][]kinetics.Point, baseline float64) choice {
	approach, power := plateau.Compare(groups, baseline, plateau.Approach), plateau.Compare(groups, baseline, plateau.Power)
	i := slices.IndexFunc(candidates, func(c kinetics.Candidate) bool { return c.Model == line })
	final := []kinetics.Candidate{candidates[i], approach, power}
	return choice{final[kinetics.Preferred(final)].Model, append(candidates, approach, power)}
}
