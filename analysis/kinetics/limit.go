package kinetics

import (
	"math"

	"shelfspan/analysis/linear"
	"shelfspan/study"
)

// Limit is an acceptance limit on a model's scale. A path is compared less Share
// times its own start with Level, and meets it from below where Above is set,
// from above otherwise.
type Limit struct {
	Share, Level float64
	Above        bool
}

// Limit puts a lower or upper acceptance limit on the model's scale. On the
// basis percent-of-initial it is in percent, and referred to the start of the
// same path: under first order ln y is compared with its start plus ln(limit/100),
// else y or 1/y with that part of its start. A change from the initial value
// has no meaning under first and second order.
//
// A lower limit that what is positive never misses is never met, and an upper one
// that it can never keep is met at the start. ±Inf is no limit and is never met.
func (m Model) Limit(limit float64, upper bool, basis study.Basis) Limit {
	l := Limit{Level: limit, Above: upper != m.Decreasing()}
	switch {
	case math.IsInf(limit, 0):
		l.Level = math.Inf(-1)
		if l.Above {
			l.Level = math.Inf(1)
		}
	case basis == study.BasisChange:
		l.Share = 1
	case basis == study.BasisPercent && m == FirstOrder:
		l.Share, l.Level = 1, math.Log(max(limit/100, 0))
	case basis == study.BasisPercent && m == SecondOrder && limit > 0:
		l.Share, l.Level = 100/limit, 0
	case basis == study.BasisPercent && m != SecondOrder:
		l.Share, l.Level = limit/100, 0
	case m == FirstOrder:
		l.Level = math.Log(max(limit, 0))
	case m == SecondOrder:
		l.Level = 1 / max(limit, 0)
	}
	return l
}

// MetBy is the model's own time at which a line's confidence limit at the
// quantile q, 0 for the line itself, meets the limit: 0 where at the start, +Inf
// where never (see linear.Line).
func (l Limit) MetBy(line linear.Line, q float64) float64 {
	line = line.AgainstInitial(l.Share)
	if l.Above {
		return line.CrossingAbove(l.Level, q)
	}
	return line.CrossingBelow(l.Level, q)
}
