package regression

import (
	"math"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
)

// Path is the fitted mean of one batch over the model's own time, on its scale.
type Path interface {
	Start() float64             // at time zero
	Slope() (slope, se float64) // NaN where the path has no one slope
	// Meets gives when the mean, and its confidence limit, first meet a limit: 0
	// where at the start, +Inf where never.
	Meets(kinetics.Limit) (estimate, bound float64, err error)
	// At is the mean less share times its own start, and its confidence limits; a
	// limit that the method has none of is NaN.
	At(x, share float64) (mean, lower, upper float64)
	// Ratio is the mean over its own start, with its confidence limits as At.
	Ratio(x float64) (mean, lower, upper float64)
}

// Paths is what a method of fitting made of the batches, in their order.
type Paths struct {
	Of []Path
	// Pooling has the decision, the tests, and S and DF of the fit decided on; no
	// lines.
	Pooling pooling.Result
}

// straight is a line of least squares, judged by a quantile of Student's t.
type straight struct {
	line     linear.Line
	quantile float64
}

func (p straight) Start() float64             { return p.line.Intercept() }
func (p straight) Slope() (slope, se float64) { return p.line.Slope, p.line.SlopeSE() }

func (p straight) Meets(limit kinetics.Limit) (estimate, bound float64, err error) {
	return limit.MetBy(p.line, 0), limit.MetBy(p.line, p.quantile), nil
}

func (p straight) At(x, share float64) (mean, lower, upper float64) {
	line := p.line
	if share != 0 {
		line = line.AgainstInitial(share)
	}
	mean = line.Mean(x)
	half := p.quantile * line.SE(x)
	return mean, mean - half, mean + half
}

func (p straight) Ratio(x float64) (mean, lower, upper float64) {
	return p.line.RatioToInitial(x, p.quantile)
}

// NoLimit is what At and Ratio give for the limits of a mean where a method has
// none: the mean alone.
func NoLimit(mean float64) (_, lower, upper float64) { return mean, math.NaN(), math.NaN() }
