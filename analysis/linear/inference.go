package linear

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// ExtraSumOfSquares is the F-test of a model against a wider one: extra is the
// sum of squares that the wider one takes off, on df1 degrees of freedom, and
// rss that which is left as error, on df2,
//
//	F = (extra/df1)/(rss/df2).
//
// Without any error an extra sum of squares is either zero too, p = 1, or
// infinitely large against it, p = 0. One below zero is rounding.
func ExtraSumOfSquares(extra float64, df1 int, rss float64, df2 int) (f, p float64) {
	switch {
	case extra <= 0:
		return 0, 1
	case rss == 0:
		return math.Inf(1), 0
	}
	f = extra / float64(df1) / (rss / float64(df2))
	return f, FSurvival(f, df1, df2)
}

// FSurvival is the probability that an F-distributed variable exceeds f ≥ 0,
// I(d2/(d2 + d1·f); d2/2, d1/2). The arguments are in the order that keeps the
// upper tail's digits (DLMF 8.17.4).
func FSurvival(f float64, df1, df2 int) float64 {
	if math.IsInf(f, 1) {
		return 0
	}
	d1, d2 := float64(df1), float64(df2)
	return mathext.RegIncBeta(d2/2, d1/2, d2/(d2+d1*f))
}

// StudentQuantile is the quantile at p of Student's t on df degrees of freedom.
func StudentQuantile(p float64, df int) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(df)}.Quantile(p)
}
