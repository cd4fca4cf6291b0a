package weightloss

import (
	"math"

	"shelfspan/analysis/linear"
)

// Course says whether loss goes in a straight line through the origin.
type Course struct {
	Units     int     // that were weighed at two times or more after the start
	Curvature float64 // mean of the units' Bend, % a month²; NaN where it was not tested
	F, P      float64 // of its being zero, on 1 and DF degrees of freedom; NaN where it was not tested
	DF        int
	Months    float64 // of the last weighing of those units
	Departure float64 // how far the mean curve is off its chord half way to it, % lost: below zero where loss gathers pace
	Relative  float64 // its size as a share of what the units' own rates say is lost half way; NaN where they lose nothing
}

// Tested reports whether there was enough to ask it of.
func (c *Course) Tested() bool { return !math.IsNaN(c.P) }

// Straight reports that no bend is shown at Level, which it is not either where
// nothing was tested.
func (c *Course) Straight() bool { return !(c.P < Level) }

// NewCourse tests whether the loss of units bends. Each unit gets its own curve
// r·t + c·t² (see Unit.Bend), and the mean of the units' c is compared with zero
// by Student's t, n − 1 degrees of freedom, written as F = t²: one figure a unit,
// as for the rates, since the start is common to all weighings of a unit and its
// error bends them all alike. It takes two units with two weighings each.
//
// What bends all units together is seen, whatever it is: a pack that dries out, a
// balance that drifted or one pull weighed on a damp day too. A unit that bends by
// itself only adds to the spread. Leakers are better left out of it.
//
// Source: common practice; for one figure a unit Matthews, Altman, Campbell &
// Royston, BMJ 300, 1990, 230.
func NewCourse(us []Unit) Course {
	nan := math.NaN()
	c := Course{Curvature: nan, F: nan, P: nan, Departure: nan, Relative: nan}
	sum, rates := 0.0, 0.0
	for i := range us {
		if !math.IsNaN(us[i].Bend) {
			c.Units++
			sum += us[i].Bend
			rates += us[i].Rate
			c.Months = max(c.Months, us[i].Months)
		}
	}
	if c.Units < 2 {
		return c
	}
	n := float64(c.Units)
	c.Curvature, c.DF = sum/n, c.Units-1
	squares := 0.0
	for i := range us {
		if d := us[i].Bend - c.Curvature; !math.IsNaN(d) {
			squares += d * d
		}
	}
	c.F, c.P = linear.ExtraSumOfSquares(n*c.Curvature*c.Curvature, 1, squares, c.DF)
	c.Departure = -c.Curvature * c.Months * c.Months / 4
	c.Relative = math.Abs(c.Departure / (rates / n * c.Months / 2))
	return c
}
