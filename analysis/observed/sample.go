// Package observed judges an attribute by what was seen, without a model: each
// sample against its acceptance criterion, the first one that misses it, and
// the time up to which nothing did. Grades and pass/fail have no other
// judgement; for every other attribute a failure that was observed stands
// whatever a fitted line says.
package observed

import "shelfspan/study"

// Sample is one unit at one time, its repeat readings averaged.
type Sample struct {
	Batch         int    // index into the study's batches
	Unit          string // its label; may be empty
	PlannedMonths float64
	Months        float64 // elapsed; for a sample of no planned pull, PlannedMonths is the same
	Value         float64 // in the attribute's unit; a grade's rank; 0 pass, 1 fail; percent lost for weighings
	Censor        study.Censor
	InWindow      bool // pulled within the window of the planned pull
}

// sameTime is how near two planned times, in months, are one pull: 12M and 1Y
// are, 3M and 90D (2.957) are not.
const sameTime = 1e-6

// SamePull reports whether two planned times in months are the same pull.
func SamePull(a, b float64) bool { return a-b < sameTime && b-a < sameTime }

// Before reports whether the planned time a is an earlier pull than b.
func Before(a, b float64) bool { return b-a >= sameTime }

// Supports is the time in months that a sample speaks for: the planned time of
// a pull made within its window, since 12 months on the day are 12 months and
// not 11.992; a pull made too early speaks only for the time that had passed.
func (x *Sample) Supports() float64 {
	if x.InWindow {
		return x.PlannedMonths
	}
	return min(x.PlannedMonths, x.Months)
}
