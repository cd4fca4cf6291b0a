package comparison

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"shelfspan/analysis/linear"
)

// Estimate is a contrast of coefficients with its error.
type Estimate struct {
	Value, SE float64
	DF        int
	T, P      float64 // two-sided, by Student's t; of this contrast alone
}

// estimate is a contrast of coefficients, of which those that do not enter may be
// NaN.
func estimate(contrast, coefficients []float64, covariance *mat.SymDense, variance float64, df int) Estimate {
	e := Estimate{DF: df}
	v := 0.0
	for i, a := range contrast {
		if a == 0 {
			continue
		}
		e.Value += a * coefficients[i]
		for j, b := range contrast {
			if b != 0 {
				v += a * b * covariance.At(i, j)
			}
		}
	}
	e.SE = math.Sqrt(max(0, v) * variance)
	switch {
	case e.SE > 0:
		e.T = e.Value / e.SE
	case e.Value == 0:
		e.T = 0
	default:
		e.T = math.Inf(int(math.Copysign(1, e.Value)))
	}
	e.P = 1
	if df > 0 {
		e.P = linear.FSurvival(e.T*e.T, 1, df)
	}
	return e
}

// Of is the estimate of a contrast of the fit's coefficients.
func (f *Fit) Of(contrast []float64) Estimate {
	return estimate(contrast, f.Coefficients, f.Covariance, f.Variance, f.DF)
}
