package regression

import (
	"math"

	"shelfspan/analysis/kinetics"
	"shelfspan/study"
)

// criterion is what every line of an evaluation is judged by.
type criterion struct {
	model                    kinetics.Model
	basis                    study.Basis
	baseline                 float64
	lower, upper             kinetics.Limit
	judgedLower, judgedUpper bool
}

// judgement is a path with its criterion.
type judgement struct {
	path Path
	*criterion
}

// crossings are the months at which a mean, and its confidence limit, meet the
// acceptance limit on one side; +Inf where never or where that side is not
// judged, 0 where at the start.
type crossings struct{ estimate, bound float64 }

func (j judgement) meets() (lower, upper crossings, err error) {
	side := func(judged bool, limit kinetics.Limit) crossings {
		if !judged || err != nil {
			return crossings{math.Inf(1), math.Inf(1)}
		}
		var estimate, bound float64
		estimate, bound, err = j.path.Meets(limit)
		return crossings{j.months(estimate), j.months(bound)}
	}
	lower = side(j.judgedLower, j.lower)
	upper = side(j.judgedUpper, j.upper)
	return lower, upper, err
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
		mean, lower, upper = j.path.At(x, 1)
		mean, lower, upper = 100*math.Exp(mean), 100*math.Exp(lower), 100*math.Exp(upper)
	case j.basis == study.BasisPercent:
		mean, lower, upper = j.path.Ratio(x)
		if j.model.Decreasing() {
			mean, lower, upper = j.model.Inverse(mean), j.model.Inverse(upper), j.model.Inverse(lower)
		}
		mean, lower, upper = 100*mean, 100*lower, 100*upper
	case j.basis == study.BasisChange:
		mean, lower, upper = j.path.At(x, 1)
	default:
		mean, lower, upper = j.path.At(x, 0)
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
