package regression

import (
	"math"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/study"
)

// criterion is what every line of an evaluation is judged by.
type criterion struct {
	model                    kinetics.Model
	basis                    study.Basis
	baseline                 float64
	lower, upper             kinetics.Limit
	judgedLower, judgedUpper bool
	quantile                 float64
}

// judgement is a line with its criterion.
type judgement struct {
	line linear.Line
	*criterion
}

// meets gives the months at which the lower and the upper confidence limit
// meet the acceptance limit on their side, at a quantile q that is 0 for the
// mean itself; +Inf where never or where that side is not judged, 0 where at
// the start.
func (j judgement) meets(q float64) (lower, upper float64) {
	lower, upper = math.Inf(1), math.Inf(1)
	if j.judgedLower {
		lower = j.months(j.lower.MetBy(j.line, q))
	}
	if j.judgedUpper {
		upper = j.months(j.upper.MetBy(j.line, q))
	}
	return lower, upper
}

func (j judgement) months(tau float64) float64 {
	if tau == 0 {
		return 0 // at the start: not even the baseline is reached
	}
	return j.baseline + j.model.InverseTime(tau)
}

// Curve gives the fitted mean and its confidence limits at a time in months, in
// the attribute's unit or, on another basis, in percent of the initial value or
// as the change from it. A limit on a side that is not judged is NaN, as is
// everything before the baseline. On percent-of-initial a limit is infinite
// where the initial value itself cannot be told from zero.
func (j judgement) Curve(months float64) (mean, lower, upper float64) {
	x := j.model.Time(months - j.baseline)
	switch {
	case !(months >= j.baseline):
		nan := math.NaN()
		return nan, nan, nan
	case j.basis == study.BasisPercent && j.model == kinetics.FirstOrder:
		mean, lower, upper = j.limits(j.line.Departure(), x)
		mean, lower, upper = 100*math.Exp(mean), 100*math.Exp(lower), 100*math.Exp(upper)
	case j.basis == study.BasisPercent:
		mean, lower, upper = j.line.RatioToInitial(x, j.quantile)
		if j.model.Decreasing() {
			mean, lower, upper = j.model.Inverse(mean), j.model.Inverse(upper), j.model.Inverse(lower)
		}
		mean, lower, upper = 100*mean, 100*lower, 100*upper
	case j.basis == study.BasisChange:
		mean, lower, upper = j.limits(j.line.Departure(), x)
	default:
		mean, lower, upper = j.limits(j.line, x)
		if j.model.Decreasing() {
			lower, upper = upper, lower
		}
		mean, lower, upper = j.model.Inverse(mean), j.model.Inverse(lower), j.model.Inverse(upper)
	}
	if !j.judgedLower {
		lower = math.NaN()
	}
	if !j.judgedUpper {
		upper = math.NaN()
	}
	return mean, lower, upper
}

func (j judgement) limits(line linear.Line, x float64) (mean, lower, upper float64) {
	mean = line.Mean(x)
	half := j.quantile * line.SE(x)
	return mean, mean - half, mean + half
}
