package randombatch

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"shelfspan/analysis/crossing"
	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/noncentral"
)

// judge finds times at which bounds meet limits, for one coverage and confidence
// on each side.
type judge struct {
	*design
	fit                  *Fit
	coverage, confidence float64
	z                    float64 // normal quantile of the coverage
	future               *future // nil where the batches' lines have no error
}

func (d *design) judge(f *Fit, coverage, confidence float64) *judge {
	j := &judge{design: d, fit: f, coverage: coverage, confidence: confidence, z: distuv.UnitNormal.Quantile(coverage)}
	if d.rss > 0 {
		j.future = d.newFuture(j.z)
	}
	return j
}

// side is 1 for a limit that is met from above, −1 for one met from below.
func side(limit kinetics.Limit) float64 {
	if limit.Above {
		return -1
	}
	return 1
}

// toward turns a line and a limit so that it is a lower limit on the line itself.
func toward(line linear.Line, limit kinetics.Limit) (linear.Line, float64) {
	line = line.AgainstInitial(limit.Share)
	if limit.Above {
		line.Level, line.Slope = -line.Level, -line.Slope
	}
	return line, side(limit) * limit.Level
}

// mean is when the mean path of batches meets a limit, and when its confidence
// limit does.
func (j *judge) mean(limit kinetics.Limit) (estimate, life float64) {
	line, level := toward(j.fit.mean, limit)
	estimate = line.CrossingBelow(level, 0)
	if math.IsInf(level, -1) {
		return estimate, math.Inf(1)
	}
	life = crossing.First(func(t float64) float64 { return j.meanLeft(t, limit) }, j.scale, growth)
	return estimate, min(life, estimate)
}

// meanLeft is above zero where the confidence limit of the mean path at t is
// within the limit: what the probability of Student's t beyond it leaves of 1 −
// confidence.
func (j *judge) meanLeft(t float64, limit kinetics.Limit) float64 {
	line, level := toward(j.fit.mean, limit)
	left, se := line.Mean(t)-level, line.SE(t)
	if se == 0 {
		return left
	}
	df := j.fit.df.at(vector{1 - limit.Share, t - line.Centre}) // the centre is moved with the share
	return 1 - j.confidence - studentSurvival(left/se, df)
}

// meanDF is the degrees of freedom of the error of the mean where its life ends,
// of the slope's where it never does.
func (j *judge) meanDF(limits []kinetics.Limit, l Life) float64 {
	if l.LimitedBy < 0 {
		return j.fit.SlopeDF
	}
	limit := limits[l.LimitedBy]
	at := vector{1 - limit.Share, l.ShelfLife - (1-limit.Share)*j.fit.mean.Centre}
	if at == (vector{}) { // the start against itself
		return j.fit.SlopeDF
	}
	return j.fit.df.at(at)
}

// quantile is when the path that the share of batches asked for is above (below)
// meets a limit, and when its bound does.
func (j *judge) quantile(limit kinetics.Limit) (estimate, life float64) {
	line, level := toward(j.fit.paths, limit)
	estimate = line.CrossingBelow(level, j.z)
	if math.IsInf(level, -1) {
		return estimate, math.Inf(1)
	}
	life = crossing.First(func(t float64) float64 { return j.pathsLeft(t, limit) }, j.scale, growth)
	return estimate, min(life, estimate)
}

// pathsLeft is above zero where the bound of the quantile path at t is within the
// limit.
func (j *judge) pathsLeft(t float64, limit kinetics.Limit) float64 {
	return 1 - j.confidence - j.beyond(t, limit)
}

// growth of the steps in which a crossing is looked for, the first being
// the spread of times.
const growth = 1.5

// beyond is the generalized probability that the quantile path has passed the
// limit at t.
func (j *judge) beyond(t float64, limit kinetics.Limit) float64 {
	s := side(limit)
	start, l := j.design.at(0), j.design.at(t)
	l = vector{s * (l.a - limit.Share*start.a), s * (l.b - limit.Share*start.b)}
	y := s * (limit.Level - (1-limit.Share)*j.origin) / j.size
	if j.future != nil {
		return j.future.below(l, y)
	}
	// Lines without error are a sample of batches: the noncentral t of its mean
	// and standard deviation.
	mean, covariance := j.sample()
	sd, k := math.Sqrt(max(0, covariance.form(l))), float64(j.lines)
	if left := mean.dot(l) - y; sd > 0 {
		return noncentral.NewT(k-1, j.z*math.Sqrt(k)).Survival(left * math.Sqrt(k) / sd)
	} else if left > 0 {
		return 0
	}
	return 1
}

// Bounds is the mean path and the path that the share Coverage of batches is
// better than, at one time, with their one-sided bounds.
type Bounds struct{ Mean, MeanBound, Path, PathBound float64 }

// At gives the paths and bounds at a time, lower ones, or where above is set
// upper ones, at the Coverage and Confidence of the output. Where nothing was
// fitted they are NaN.
func (o *Output) At(t float64, above bool) Bounds {
	if o.judge == nil {
		nan := math.NaN()
		return Bounds{nan, nan, nan, nan}
	}
	j := o.judge
	limit := kinetics.Limit{Above: above}
	s := side(limit)
	mean, se, df := j.fit.Mean(t)
	b := Bounds{Mean: mean, MeanBound: mean, Path: mean - s*j.z*j.fit.PathSD(t)}
	if se > 0 {
		b.MeanBound -= s * se * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(j.confidence)
	}
	step := se + j.fit.PathSD(t)
	b.PathBound = b.Path - s*crossing.First(func(x float64) float64 {
		limit.Level = b.Path - s*x
		return j.beyond(t, limit) - (1 - j.confidence)
	}, step, growth)
	return b
}
