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

// What ICH Q1E asks of any shelf life longer than the long-term data; to be
// shown with every extrapolation.
const (
	SupportingData = "A shelf life longer than the long-term data assumes that the change seen so far goes on in the same way. " +
		"ICH Q1E (2.3) asks for supporting data: what is known of how the product changes, how well the model fits, and results from related batches or formulas."
	LaterVerification = "It has to be verified by the results of the continuing long-term study, up to the end of the shelf life, as they come in (ICH Q1E 2.3)."
)

// Six calendar months are 181 to 184 days and three are 89 to 92, whichever
// day they are counted from: a pull planned at 26W is a six-month pull.
const (
	sixMonthsLeast   = 181 / study.DaysPerMonth
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

// Storage is the class of labelled storage, on which the rules depend.
type Storage string

// The classes of storage, by the temperature of the storage condition.
const (
	RoomTemperature Storage = "room temperature" // above 8 °C
	Refrigerated    Storage = "refrigerated"     // 2 to 8 °C
	Freezer         Storage = "freezer"          // below 2 °C
)

func storageClass(celsius float64) Storage {
	switch {
	case celsius > 8:
		return RoomTemperature
	case celsius >= 2:
		return Refrigerated
	}
	return Freezer
}

// leastStep is how much warmer than storage, in °C, an accelerated condition
// has to be; the smallest step of ICH Q1A(R2) is from 30 to 40 °C.
const leastStep = 10

// acceleratedConditions gives the conditions at which significant change is
// judged: those of the role accelerated; for refrigerated storage those near
// 25 °C, of whatever role but stress and cycling, where there are any.
func acceleratedConditions(s *study.Study, class Storage) []int {
	if class == Freezer {
		return nil
	}
	store := s.Conditions[s.StoreAt].Temperature
	var byRole, room []int
	for i := range s.Conditions {
		c := &s.Conditions[i]
		if i == s.StoreAt || c.Role == study.Stress || c.Role == study.Cycling || !(c.Temperature >= store+leastStep) {
			continue
		}
		if c.Role == study.Accelerated {
			byRole = append(byRole, i)
		}
		if near(c.Temperature, 25) {
			room = append(room, i)
		}
	}
	if class == Refrigerated && room != nil {
		return room
	}
	return byRole
}

// near reports whether a temperature is a nominal one of ICH Q1A(R2), ± 2 °C.
func near(celsius, nominal float64) bool { return math.Abs(celsius-nominal) <= 2 }

func withRole(s *study.Study, role study.Role) []int {
	var list []int
	for i := range s.Conditions {
		if s.Conditions[i].Role == role {
			list = append(list, i)
		}
	}
	return list
}
