// Package tolerance works out how long nearly all units of a product stay within
// a limit, where the regression's limit speaks of their mean: a one-sided
// tolerance limit about a fitted straight line.
package tolerance

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"shelfspan/analysis/crossing"
	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/noncentral"
)

// Level says how much a tolerance limit promises: that at least the share
// Coverage of all units lies on its good side, and that this is so in the share
// Confidence of studies. Each is at least 0.5 and at most 1 − 10⁻⁹.
type Level struct{ Coverage, Confidence float64 }

// Valid reports whether both shares are in their range.
func (l Level) Valid() bool {
	in := func(p float64) bool { return p >= 0.5 && p <= 1-1e-9 }
	return in(l.Coverage) && in(l.Confidence)
}

// z is the normal quantile of the coverage.
func (l Level) z() float64 { return distuv.UnitNormal.Quantile(l.Coverage) }

// Factor is k: the tolerance limit of units about a fitted mean is the mean less
// (plus) k times their residual standard deviation, on df degrees of freedom,
//
//	k = t′(Confidence; df, δ = z/√h)·√h
//
// with t′ the quantile of the noncentral t, z the normal quantile of Coverage
// and h ≥ 0 the leverage, the variance of the fitted mean over the residual
// variance; 1/n for the mean of one sample. It is exact for independent normal
// residuals of one variance (Owen, Technometrics 10, 1968, 445; Krishnamoorthy &
// Mathew, Statistical Tolerance Regions, 2009, 3.2; both from memory).
func (l Level) Factor(h float64, df int) float64 {
	z := l.z()
	r := relativeError(z, h)
	if r == 0 {
		return 0
	}
	return noncentral.NewT(float64(df), z/r).Quantile(l.Confidence) * r
}

// relativeError is √h, but that a mean known exactly, which would leave δ
// infinite, is taken for one known to a billionth of the spread of units: k is the
// same to its last digit.
func relativeError(z, h float64) float64 { return max(math.Sqrt(h), 1e-9*z) }

// Limits gives the lower and the upper tolerance limit of units about a line
// whose S is their residual standard deviation. They are one-sided, each by
// itself.
func (l Level) Limits(line linear.Line, x float64) (lower, upper float64) {
	mean := line.Mean(x)
	if line.S == 0 {
		return mean, mean
	}
	half := line.S * l.Factor(leverage(line, x), line.DF)
	return mean - half, mean + half
}

func leverage(line linear.Line, x float64) float64 {
	se := line.SE(x) / line.S
	return se * se
}

// MetBy is the first time, on the model's scale, at which the tolerance limit of
// units about the line meets an acceptance limit: 0 where at the start, +Inf where
// never. The line's S is the residual standard deviation of the units, of which
// each was measured once, and DF its degrees of freedom, at least 1; lines of
// package units, whose S is something else, do not qualify. Where the limit is
// referred to the start, a unit is compared with the fitted mean at the start.
//
// On two degrees of freedom or more and from a confidence of 0.7 up, k is convex
// in the standard error of the mean (found by reckoning it through), which is
// convex in time: what is left to the limit is concave, and comes down to it at
// most once. Below that k may bend the other way by a little, and the search, at
// four times before the mean itself is in doubt, could pass over a limit that is
// only just met. What is left is never more than the confidence limit of the mean
// leaves, and far out, where √h grows in proportion to time and δ goes to zero, it
// changes as that does: a limit that is not met at the start and never by the
// confidence limit is never met.
func (l Level) MetBy(line linear.Line, limit kinetics.Limit) float64 {
	line, level := toward(line, limit)
	if math.IsInf(level, -1) {
		return math.Inf(1)
	}
	if line.S == 0 {
		return line.CrossingBelow(level, 0)
	}
	z := l.z()
	// The limit is met where (mean − level)/(S·√h) comes down to the quantile of
	// the noncentral t, which is where what lies above it outgrows 1 − Confidence.
	margin := func(x float64) float64 {
		r := relativeError(z, leverage(line, x))
		return 1 - l.Confidence - noncentral.NewT(float64(line.DF), z/r).Survival((line.Mean(x)-level)/(line.S*r))
	}
	mean := line.CrossingBelow(level, linear.StudentQuantile(l.Confidence, line.DF))
	if mean == 0 || math.IsInf(mean, 1) && margin(0) > 0 {
		return mean
	}
	return crossing.First(margin, mean/4, 2)
}

// EstimateMetBy is the time at which the fitted quantile of units, the mean less
// (plus) z times the residual standard deviation, meets the limit: 0 where at the
// start, +Inf where never.
func (l Level) EstimateMetBy(line linear.Line, limit kinetics.Limit) float64 {
	line, level := toward(line, limit)
	return line.CrossingBelow(level+l.z()*line.S, 0)
}

// toward turns a line and a limit so that it is a lower limit on the line itself.
func toward(line linear.Line, limit kinetics.Limit) (linear.Line, float64) {
	line = line.AgainstInitial(limit.Share)
	if limit.Above {
		line.Level, line.Slope = -line.Level, -line.Slope
		return line, -limit.Level
	}
	return line, limit.Level
}
