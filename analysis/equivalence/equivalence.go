// Package equivalence tells whether a difference is shown to be so small that it
// does not matter: two one-sided tests against margins. That a test finds no
// difference shows nothing of the kind.
package equivalence

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Margins are the limits, set before the results are seen, within which a difference
// does not matter: Lower < 0 < Upper, both finite. Of a ratio they and
// the estimate are logarithms.
type Margins struct{ Lower, Upper float64 }

// Estimate is an estimated difference with its standard error, above zero, on DF
// degrees of freedom, 1 or more; +Inf where the error is known.
type Estimate struct{ Difference, SE, DF float64 }

// Verdict says what an estimate shows.
type Verdict string

// The verdicts. One that is equivalent may be told from zero all the same, where the
// estimate is precise: the difference is then real and does not matter.
const (
	Equivalent Verdict = "equivalent" // the difference lies within the margins
	Different  Verdict = "different"  // not equivalent, and the difference is not zero; it may be smaller than matters
	NotShown   Verdict = "not-shown"  // neither is shown: the results are too few or spread too much
)

// Result is the outcome of a test.
type Result struct {
	Verdict Verdict

	// Low and High are the two-sided interval of the difference at 1 − 2·alpha: it
	// is equivalent where they lie within the margins.
	Low, High float64
	PLower    float64 // of a difference at or below the lower margin: small if it is shown to lie above
	PUpper    float64 // of one at or above the upper margin
	P         float64 // the larger of both: equivalent where below alpha

	PZero float64 // two-sided, of a difference of zero: it is none where below alpha
	// Beyond says that the difference is shown to be more than a margin: the interval
	// lies outside both, and the verdict is Different.
	Beyond bool
}

var (
	errAlpha   = errors.New("alpha lies between 0 and 0.5")
	errMargins = errors.New("the margins lie one below and one above zero")
)

func check(m Margins, alpha float64) error {
	switch {
	case !(m.Lower < 0 && m.Upper > 0) || math.IsInf(m.Lower, 0) || math.IsInf(m.Upper, 0):
		return errMargins
	case !(alpha > 0 && alpha < 0.5):
		return errAlpha
	}
	return nil
}

func (e Estimate) check() error {
	switch {
	case math.IsNaN(e.Difference) || math.IsInf(e.Difference, 0):
		return fmt.Errorf("a difference of %g is no estimate", e.Difference)
	case !(e.SE > 0 && e.SE <= math.MaxFloat64):
		return fmt.Errorf("a standard error of %g is none to test with", e.SE)
	case !(e.DF >= 1):
		return fmt.Errorf("%g degrees of freedom: there has to be at least one", e.DF)
	}
	return nil
}

// Test is Schuirmann's two one-sided tests, each at the level alpha (common: 0.05),
//
//	t₁ = (d − Lower)/SE,  t₂ = (d − Upper)/SE,
//	PLower = P(T > t₁),  PUpper = P(T < t₂),  T Student's t on ν degrees of freedom.
//
// Both below alpha show equivalence, and the probability to find it where there is none
// is at most alpha. It is the same as the interval at 1 − 2·alpha, d ± t(1 − alpha, ν)·SE,
// within the margins. The other verdict is that of the usual two-sided test of zero at
// alpha; the probability to find a difference where there is none is at most alpha too.
// Testing several differences adds up what may go wrong in either.
//
// Source: Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15, 1987,
// 657–680.
func Test(e Estimate, m Margins, alpha float64) (Result, error) {
	if err := check(m, alpha); err != nil {
		return Result{}, err
	}
	if err := e.check(); err != nil {
		return Result{}, err
	}
	half := quantile(alpha, e.DF) * e.SE
	r := Result{
		Verdict: NotShown,
		Low:     e.Difference - half, High: e.Difference + half,
		PLower: above((e.Difference-m.Lower)/e.SE, e.DF),
		PUpper: above((m.Upper-e.Difference)/e.SE, e.DF),
		PZero:  min(1, 2*above(math.Abs(e.Difference)/e.SE, e.DF)),
	}
	r.P = max(r.PLower, r.PUpper)
	switch {
	case r.P < alpha:
		r.Verdict = Equivalent
	case r.PZero < alpha:
		r.Verdict = Different
		r.Beyond = r.High < m.Lower || r.Low > m.Upper
	}
	return r, nil
}

// Power is the probability that Test will find a difference equivalent, if it truly is
// true, its estimate is normal with the standard error se, and the error is estimated
// on df degrees of freedom (+Inf where it is known): with S the estimated over the
// true error, S² = χ²/ν, and t Student's quantile at 1 − alpha,
//
//	E max(0, Φ((Upper − true)/se − t·S) − Φ((Lower − true)/se + t·S)),
//
// over S up to (Upper − Lower)/(2·t·se), above which the interval is wider than the
// margins. The mean is taken by Gauss's rule, to about 1e-9.
//
// Source: Phillips, Journal of Pharmacokinetics and Biopharmaceutics 18, 1990, 137–144.
func Power(truth float64, se, df float64, m Margins, alpha float64) (float64, error) {
	if err := check(m, alpha); err != nil {
		return 0, err
	}
	if err := (Estimate{truth, se, df}).check(); err != nil {
		return 0, err
	}
	t := quantile(alpha, df)
	low, high := (m.Lower-truth)/se, (m.Upper-truth)/se
	given := func(s float64) float64 {
		return max(0, (math.Erfc((low+t*s)/math.Sqrt2)-math.Erfc((high-t*s)/math.Sqrt2))/2)
	}
	if df > normal {
		return given(1), nil
	}
	// The density of S beyond 9 of its standard deviations, or 9 (of |Z|), is nothing.
	from, to := 1-9/math.Sqrt(2*df), 1+9/math.Sqrt(2*df)+1/df
	from, to = max(0, from), min(to, (m.Upper-m.Lower)/se/(2*t))
	if to <= from {
		return 0, nil
	}
	lgamma, _ := math.Lgamma(df / 2)
	constant := math.Ln2 + df/2*math.Log(df/2) - lgamma
	density := func(s float64) float64 { return math.Exp(constant + (df-1)*math.Log(s) - df*s*s/2) }
	return min(1, quad.Fixed(func(s float64) float64 { return density(s) * given(s) }, from, to, 200, quad.Legendre{}, 1)), nil
}

// ErrNoPower is that of a power that no number of observations up to the most reaches.
var ErrNoPower = errors.New("no number of observations up to the most has that power")

// Fewest is the least n from `least` to `most` whose power, with the standard error and the degrees of
// freedom that errors gives for n, is at least that wanted. More observations must
// never make an error larger nor take degrees of freedom away.
func Fewest(least, most int, wanted, truth float64, m Margins, alpha float64, errors func(n int) (se, df float64)) (n int, power float64, err error) {
	if !(wanted > 0 && wanted < 1) {
		return 0, 0, fmt.Errorf("a power of %g is not between 0 and 1", wanted)
	}
	at := func(n int) (float64, error) {
		se, df := errors(n)
		return Power(truth, se, df, m, alpha)
	}
	if power, err = at(most); err != nil {
		return 0, 0, err
	}
	if power < wanted || least > most {
		return 0, power, ErrNoPower
	}
	n = most
	for low := least; low < n; {
		middle := low + (n-low)/2
		p, err := at(middle)
		if err != nil {
			return 0, 0, err
		}
		if p >= wanted {
			n, power = middle, p
		} else {
			low = middle + 1
		}
	}
	return n, power, nil
}

// normal is ν from which on Student's t is normal to eight digits, which the
// incomplete beta function loses up there.
const normal = 1e8

// above is P(T > t).
func above(t, df float64) float64 {
	var tail float64 // of |t|
	switch {
	case df > normal:
		return math.Erfc(t/math.Sqrt2) / 2
	case math.IsInf(t*t, 1):
	default:
		tail = mathext.RegIncBeta(df/2, 0.5, df/(df+t*t)) / 2
	}
	if t < 0 {
		return 1 - tail
	}
	return tail
}

// quantile is the t that T exceeds with probability p.
func quantile(p, df float64) float64 {
	if df > normal {
		return -distuv.UnitNormal.Quantile(p)
	}
	return -distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(p)
}
