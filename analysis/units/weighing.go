// Package units evaluates attributes whose units are measured and put back:
// weighings, and whatever else is returned to storage. There the unit is what
// varies: repeated readings of one unit are never taken as independent. Each
// unit gets its own rate or line first, and the bound comes from the spread
// between units.
package units

import "math"

// Base is what a percentage of mass lost refers to.
type Base string

// The bases, in the order in which they are preferred.
const (
	NetByTare  Base = "net mass"            // the unit's own initial gross mass less its tare
	NetByFill  Base = "stated net fill"     // the pack's net fill, where no tare is known
	GrossShare Base = "gross mass, no tare" // the initial gross mass, where neither is known: the loss of content looks smaller than it is
)

// Whole is the mass in g that a percentage lost refers to: of a unit its initial
// gross mass less its tare, else the stated net fill, else its gross mass. Tare
// and net fill are NaN where they are not known. ok is false where there is no
// positive mass to refer to.
func Whole(initial, tare, netFill float64) (whole float64, base Base, ok bool) {
	whole, base = initial, GrossShare
	switch {
	case !math.IsNaN(tare):
		whole, base = initial-tare, NetByTare
	case !math.IsNaN(netFill):
		whole, base = netFill, NetByFill
	}
	return whole, base, whole > 0
}

// PercentLost turns two gross masses of a unit, in g, into the percentage of
// mass lost since its own start, 100·(initial − mass)/whole, with the mass it
// refers to as Whole has it; a gain is negative.
func PercentLost(initial, mass, tare, netFill float64) (percent float64, base Base, ok bool) {
	whole, base, ok := Whole(initial, tare, netFill)
	if !ok {
		return 0, base, false
	}
	return 100 * (initial - mass) / whole, base, true
}
