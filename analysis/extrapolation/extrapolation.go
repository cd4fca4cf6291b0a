// Package extrapolation limits how far a shelf life may reach past the
// long-term data that support it, by the decision tree of ICH Q1E (2003), 2.4,
// 2.5 and Appendix A, with significant change as in ICH Q1A(R2) 2.2.7. Section
// numbers of both are from memory.
//
// Assess looks at everything measured on one pack in one orientation; Limit
// then answers for one attribute of it. Every fact that led to the answer is
// part of it.
package extrapolation

import (
	"math"
	"slices"

	"shelfspan/analysis/observed"
	"shelfspan/study"
)

// Six calendar months are 181 to 184 days and three are 89 to 92, whichever
// day they are counted from.
const (
	sixMonthsMost    = 184 / study.DaysPerMonth
	threeMonthsLeast = 89 / study.DaysPerMonth
	threeMonthsMost  = 92 / study.DaysPerMonth
	twelveMonthsMost = 366 / study.DaysPerMonth
)

// Series is what was measured of one attribute at one condition; the samples of
// time zero are among them.
type Series struct {
	Attribute, Condition int // indices into the study
	Samples              []observed.Sample
}

// Observed is X: the planned time, in months, of the last pull, made within its
// window, at which every one of the batches has a result; 0 where there is none.
func Observed(samples []observed.Sample, batches []int) float64 {
	x := 0.0
	for i := range samples {
		s := &samples[i]
		if s.PlannedMonths > x && slices.Contains(batches, s.Batch) &&
			complete(samples, batches, s.PlannedMonths) {
			x = s.PlannedMonths
		}
	}
	return x
}

// complete reports whether every batch has a result of the pull, made within
// its window.
func complete(samples []observed.Sample, batches []int, pull float64) bool {
	for _, b := range batches {
		if !slices.ContainsFunc(samples, func(s observed.Sample) bool {
			return s.Batch == b && s.InWindow && observed.SamePull(s.PlannedMonths, pull)
		}) {
			return false
		}
	}
	return true
}

// WholeMonths rounds a shelf life down to whole months; a crossing that was
// computed a hair short of a whole month is that month. +Inf and NaN have none
// and give 0.
func WholeMonths(months float64) int {
	if math.IsInf(months, 0) || !(months > 0) {
		return 0
	}
	return int(math.Floor(months + 1e-9))
}
