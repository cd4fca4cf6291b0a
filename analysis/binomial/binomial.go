// Package binomial says what a count of failures among units says of the share
// that fails.
package binomial

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// ErrCount is that of a count of failures below zero or above that of the units.
var ErrCount = errors.New("failures are counted from 0 to the number of units")

// ErrUnits is that of no units, or of more than can be counted here.
var ErrUnits = errors.New("there has to be at least one unit, and no more than a million")

// ErrConfidence is that of a confidence that is not between 0 and 1.
var ErrConfidence = errors.New("a confidence lies between 0 and 1")

// ErrShare is that of a share that is not between 0 and 1.
var ErrShare = errors.New("a share lies between 0 and 1")

// mostUnits is how many units the incomplete beta function still serves: it
// loses about one part in 10¹⁵ for every unit.
const mostUnits = 1_000_000

func check(failures, units int, confidence float64) error {
	switch {
	case units < 1 || units > mostUnits:
		return ErrUnits
	case failures < 0 || failures > units:
		return ErrCount
	case !(confidence > 0 && confidence < 1):
		return ErrConfidence
	}
	return nil
}

// Upper is the exact one-sided upper bound of the share that fails (Clopper &
// Pearson, Biometrika 26, 1934, 404–413): the p at which so few failures, x of n,
// have probability 1 − confidence,
//
//	Σ_{k ≤ x} C(n, k) p^k (1 − p)^{n−k} = 1 − confidence,
//
// which for none is 1 − (1 − confidence)^{1/n}, and 1 where every unit failed.
// Units have to be independent and looked at in the same state; the confidence
// held is at least that stated, and above it for most shares.
func Upper(failures, units int, confidence float64) (float64, error) {
	if err := check(failures, units, confidence); err != nil {
		return 0, err
	}
	x, n := float64(failures), float64(units)
	switch failures {
	case units:
		return 1, nil
	case 0:
		return -math.Expm1(math.Log1p(-confidence) / n), nil
	}
	return mathext.InvRegIncBeta(x+1, n-x, confidence), nil
}

// Lower is the exact one-sided lower bound of the share that fails, as Upper:
// 0 where none failed, (1 − confidence)^{1/n} where all did.
func Lower(failures, units int, confidence float64) (float64, error) {
	if err := check(failures, units, confidence); err != nil {
		return 0, err
	}
	x, n := float64(failures), float64(units)
	switch failures {
	case 0:
		return 0, nil
	case units:
		return math.Exp(math.Log1p(-confidence) / n), nil
	}
	return mathext.InvRegIncBeta(x, n-x+1, 1-confidence), nil
}

// UnitsWithoutFailure is the least number of units that, if none of them fails,
// says with a confidence that no more than a share fails: the least n with
// (1 − share)^n ≤ 1 − confidence. Common practice, after Wilks (Ann. Math.
// Stat. 12, 1941, 91–96).
func UnitsWithoutFailure(share, confidence float64) (int, error) {
	switch {
	case !(share > 0 && share < 1):
		return 0, ErrShare
	case !(confidence > 0 && confidence < 1):
		return 0, ErrConfidence
	}
	n := math.Log1p(-confidence) / math.Log1p(-share)
	if !(n <= mostUnits) {
		return 0, ErrUnits
	}
	// 1 − 0.9 is not quite 0.1: what is a whole number but for rounding is one.
	if whole := math.Round(n); math.Abs(n-whole) <= 1e-12*n {
		return max(1, int(whole)), nil
	}
	return int(math.Ceil(n)), nil
}
