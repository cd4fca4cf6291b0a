// Package censored holds what is known of the time at which a unit fails, where
// it was looked at now and then and not watched.
package censored

import (
	"cmp"
	"math"
	"slices"
)

// Interval says of one or more units alike that they failed after After and not
// after By, in any one unit of time counted from the start:
//
//	0 < After < By < +Inf  interval-censored: passed at After, failed at By
//	After = 0 < By         left-censored: failed when first looked at
//	0 < After, By = +Inf   right-censored: passed when last looked at
//	After = By > 0         known exactly
//	After = By = 0         failed before it was stored
//	After = 0, By = +Inf   nothing is known
type Interval struct {
	After, By float64
	Units     float64 // how many it speaks for, or their weight
}

// Kind is one of the kinds of knowledge of a lifetime.
type Kind int8

// The kinds.
const (
	Unknown Kind = iota // nothing is known
	Exact
	Left
	Right
	Between
	AtStart // failed before it was stored
)

// Kind tells which kind of knowledge it is; it is meant for valid intervals.
func (x Interval) Kind() Kind {
	switch {
	case x.By == 0:
		return AtStart
	case x.After == x.By:
		return Exact
	case x.After == 0 && math.IsInf(x.By, 1):
		return Unknown
	case x.After == 0:
		return Left
	case math.IsInf(x.By, 1):
		return Right
	}
	return Between
}

// Units that an interval may speak for: with less or more a sum of them loses
// what it is made of.
const (
	LeastUnits = 1e-3
	MostUnits  = 1e6
)

// Valid reports whether the interval is one: 0 ≤ After ≤ By, After finite, and
// from LeastUnits to MostUnits units.
func (x Interval) Valid() bool {
	return x.After >= 0 && x.By >= x.After && !math.IsInf(x.After, 1) && x.Units >= LeastUnits && x.Units <= MostUnits
}

// Merge gives the intervals in ascending order, those alike joined into one
// that speaks for the units of all.
func Merge(intervals []Interval) []Interval {
	sorted := slices.Clone(intervals)
	slices.SortFunc(sorted, func(a, b Interval) int {
		return cmp.Or(cmp.Compare(a.After, b.After), cmp.Compare(a.By, b.By), cmp.Compare(a.Units, b.Units))
	})
	out := sorted[:0]
	for _, x := range sorted {
		if last := len(out) - 1; last >= 0 && out[last].After == x.After && out[last].By == x.By {
			out[last].Units += x.Units
			continue
		}
		out = append(out, x)
	}
	return out
}
