// Package weightloss works out what the units of a weighing lose and what that
// says of units nobody weighed: each unit's own rate, the limit below which
// nearly all units stay, which units leak, and whether loss goes in a straight
// line.
//
// The unit is what varies: every figure rests on one number from each unit, and
// repeated weighings of one are never taken as independent. The spread between
// units holds what a rate of few weighings is in doubt by as well, which makes the
// limits wider than the units themselves are, never narrower.
package weightloss

import (
	"math"

	"shelfspan/analysis/units"
)

// Unit is what one unit loses.
type Unit struct {
	Batch  int // index into the study
	Label  string
	N      int     // weighings after the start
	Months float64 // of the last one
	Start  float64 // gross mass at time zero, g
	Whole  float64 // the mass that a percentage of it refers to, g (see units.Whole)
	Rate   float64 // its own rate through the origin, % a month (see units.Rate); below zero where it gains

	// Bend is c of the least squares curve r·t + c·t² through the origin, in % a
	// month²; NaN where it was not weighed at two times after the start.
	Bend float64
}

// Grams is its rate in g a month.
func (u *Unit) Grams() float64 { return u.Rate / 100 * u.Whole }

// New is what a unit loses, from the percentages lost since its own start; ok is
// false where it has no weighing after it. start and whole are in g.
func New(u units.Unit, start, whole float64) (out Unit, ok bool) {
	rate, ok := units.Rate(u.Points)
	if !ok {
		return Unit{}, false
	}
	out = Unit{Batch: u.Batch, Label: u.Label, Start: start, Whole: whole, Rate: rate}
	for _, p := range u.Points {
		if p.Months > 0 {
			out.N++
			out.Months = max(out.Months, p.Months)
		}
	}
	out.Bend = bend(u, out.Months, rate)
	return out, true
}

// bend takes t in units of the last time, and t² by what t leaves of it, so that
// the two columns are of one size and at right angles. A bend that is no more than
// the rounding of masses written in full is none.
func bend(u units.Unit, last, rate float64) float64 {
	var xx, xxx float64
	for _, p := range u.Points {
		if x := p.Months / last; x > 0 {
			xx += x * x
			xxx += x * x * x
		}
	}
	var zz, zy float64
	for _, p := range u.Points {
		if x := p.Months / last; x > 0 {
			z := x*x - x*xxx/xx
			zz += z * z
			zy += z * p.Value
		}
	}
	if !(zz > 1e-12) {
		return math.NaN()
	}
	if c := zy / zz; math.Abs(c) > 1e-9*math.Abs(rate)*last {
		return c / (last * last)
	}
	return 0
}
