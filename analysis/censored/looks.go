package censored

import (
	"errors"
	"math"
)

// Look is one look at a unit against its criterion. A look that left the
// criterion undecided says nothing and is not one.
type Look struct {
	Time   float64 // since the unit was stored, from 0 on
	Failed bool
}

// Note is what the looks at a unit say beside the interval.
type Note int8

// The notes.
const (
	Plain     Note = iota
	Recovered      // it passed after it had failed: the interval goes by the first failure
	Unstored       // it passed, but was looked at before it was stored only: nothing is known
)

// ErrTime is that of a look whose time is below zero or no finite number.
var ErrTime = errors.New("a unit is looked at at a finite time, from 0 on")

// ErrNoLooks is that of a unit nobody looked at.
var ErrNoLooks = errors.New("the unit was never looked at")

// FromLooks makes one unit's interval of the looks at it, in any order: a unit
// that is opened once has a single look (current status), one that is returned
// to storage and looked at again has several. It failed after the last look
// before its first failure, or after time 0, and by that first failure; where it
// never failed, after its last look. Looks at one time count as one, failed
// where any of them did.
//
// A failure at time 0 is a failure of what was stored, not of its storage, and
// stays apart (AtStart).
func FromLooks(looks []Look) (Interval, Note, error) {
	if len(looks) == 0 {
		return Interval{}, Plain, ErrNoLooks
	}
	by, last := math.Inf(1), 0.0
	for _, l := range looks {
		if !(l.Time >= 0) || math.IsInf(l.Time, 1) {
			return Interval{}, Plain, ErrTime
		}
		last = max(last, l.Time)
		if l.Failed {
			by = min(by, l.Time)
		}
	}
	x, note := Interval{By: by, Units: 1}, Plain
	for _, l := range looks {
		switch {
		case l.Failed:
		case l.Time < by:
			x.After = max(x.After, l.Time)
		case l.Time > by && !failedAt(looks, l.Time):
			note = Recovered
		}
	}
	if last == 0 && math.IsInf(by, 1) {
		note = Unstored
	}
	return x, note, nil
}

func failedAt(looks []Look, time float64) bool {
	for _, l := range looks {
		if l.Failed && l.Time == time {
			return true
		}
	}
	return false
}
