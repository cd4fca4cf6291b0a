// Package rounding rounds values for their comparison with an acceptance
// criterion. Nothing else is ever rounded: regression uses values as they came.
package rounding

import "math"

// noise is the relative error that a value may carry from having been computed
// (a mean of readings, a percentage of the initial) and still be taken for the
// decimal number it stands for. A text of up to 12 significant digits is always
// judged exactly as written: its last digit is worth more than noise.
const noise = 5e-13

// Round rounds to a number of decimals, halves up in magnitude, on the decimal
// text of the value and not on its binary neighbour: 89.95 becomes 90.0, and so
// does a mean of 89.9 and 90.0 that came out as 89.94999999999999. Negative
// decimals mean that the value is judged as it is.
//
// Source: USP General Notices 7.20, Rounding Rules (from memory: only the digit
// after the last place counts; where it is 5 or more, the last place goes up).
func Round(x float64, decimals int) float64 {
	if decimals < 0 || decimals > 15 {
		return x
	}
	unit := math.Pow10(decimals) // exact up to 1e22
	scaled := math.Abs(x) * unit
	if !(scaled < 1<<50) {
		return x // no decimals left to round, or no number
	}
	whole := math.Floor(scaled + 0.5 + math.Min(scaled*noise, 1e-3))
	if whole == 0 {
		return 0 // never −0
	}
	// A whole number over an exact power of ten is the double nearest to the
	// decimal, so that 90.0 compares equal to a limit written as 90.
	return math.Copysign(whole/unit, x)
}

// Meets reports whether a value, rounded to a number of decimals, lies within
// its acceptance limits, the limits themselves included. A limit that does not
// apply is infinite. Limits are taken as they are written; they are not rounded.
func Meets(x, lower, upper float64, decimals int) bool {
	r := Round(x, decimals)
	return r >= lower && r <= upper
}

// Reaches reports whether a computed amount is at least a threshold, the noise
// of its computation apart: a fall from 100 to 95 is a change of 5 %, whatever
// the last binary digit says.
func Reaches(x, threshold float64) bool {
	return x >= threshold-math.Abs(threshold)*noise
}
