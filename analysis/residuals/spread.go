package residuals

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mathext"

	"shelfspan/analysis/linear"
)

// Spread is the test of a spread that changes with what the residuals are set
// against: time, or the fitted mean.
type Spread struct {
	Statistic, P float64 // Koenker's studentized form, by which it is to be judged
	// OriginalStatistic and OriginalP are those of Breusch & Pagan, which take
	// the errors for exactly normal.
	OriginalStatistic, OriginalP float64
	DF                           int // of the χ² distribution: the number of columns
}

// ChangingSpread tests whether the variance of the residuals of a fit depends
// on the columns, of which none is the constant. It needs two observations more
// than columns, and residuals that are not all zero.
//
// The squares e² are regressed on the constant and the columns. Koenker's
// statistic is n·R² of that regression; Breusch and Pagan's is half of its
// explained sum of squares with e² in units of its mean. Either is compared
// with χ². The studentized form is judged by, because the original one takes
// long tails for a changing spread: see the tests for the rates of both.
//
// Source: Breusch & Pagan, Econometrica 47, 1979, 1287–1294; Koenker, Journal
// of Econometrics 17, 1981, 107–112.
func ChangingSpread(residuals []float64, columns []linear.Column) (Spread, error) {
	n := len(residuals)
	if len(columns) == 0 || n < len(columns)+2 {
		return Spread{}, errors.New("too few residuals to tell whether their spread changes")
	}
	size, err := sizeOf(residuals)
	if err != nil {
		return Spread{}, err
	}
	if size == 0 {
		return Spread{}, errNoVariation
	}
	u, one := make([]float64, n), make([]float64, n)
	mean := size * size / float64(n)
	for i, e := range residuals {
		u[i], one[i] = e*e/mean-1, 1
	}
	total := 0.0
	for _, v := range u {
		total += v * v
	}
	fit, err := linear.LeastSquares(append([]linear.Column{{Name: "the constant", Values: one}}, columns...), u)
	if err != nil {
		return Spread{}, err
	}
	s := Spread{P: 1, OriginalP: 1, DF: len(columns)}
	if explained := total - fit.RSS; explained > float64(n)*epsilon {
		s.Statistic, s.OriginalStatistic = float64(n)*explained/total, explained/2
		s.P = chiSquareSurvival(s.Statistic, s.DF)
		s.OriginalP = chiSquareSurvival(s.OriginalStatistic, s.DF)
	}
	return s, nil
}

func chiSquareSurvival(x float64, df int) float64 {
	return mathext.GammaIncRegComp(float64(df)/2, math.Max(x, 0)/2)
}
