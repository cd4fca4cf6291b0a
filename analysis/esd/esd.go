// Package esd finds outliers among values that are otherwise one normal sample,
// by the generalized extreme studentized deviate test: the unit that leaks among
// the rates of units that only permeate.
package esd

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/linear"
)

// Step is one value taken off: the one farthest from the mean of those left.
type Step struct {
	Index    int     // of the value, in the slice that was tested
	Above    bool    // it lies above the mean of those left
	R        float64 // its distance from their mean in their standard deviations, itself among them
	Critical float64 // λ: R beyond it makes this value and all taken off before it outliers
}

// Result is the outcome of a test.
type Result struct {
	Steps    []Step // in the order in which the values were taken off
	Outliers int    // the first so many of Steps are outliers
}

// Few is the number of values below which Rosner's critical values no longer
// keep the level (they are meant for 25 or more and fair down to 15): the test
// then finds outliers where there are none too often, the more so the more it may
// look for. By our own simulation at 0.05, looking for up to 1, 2, 3 and 5: 15
// values 0.05, 0.06, 0.07 and 0.08; 10 values 0.05, 0.07, 0.09 and 0.13; 6 values
// 0.05, 0.09 and 0.14. Looking for one alone it keeps the level with any number.
const Few = 15

// Test looks for up to `most` outliers among the values, on either side, at the
// significance level alpha, which is the chance of finding any where there is
// none (but see Few). It needs at least two values more than it may take off, and values of
// size 0 or 1e-60 to 1e60; anything else is an error.
//
// With n values, the i-th step takes off the value with the greatest
// R = |x − x̄|/s among those left and compares it with
//
//	λ = (n−i)·t / √((n−i−1+t²)(n−i+1)),  t = t(1 − α/(2(n−i+1)), n−i−1)
//
// There are as many outliers as the last step with R > λ has; the steps before
// it count whether or not their own R does, so that two outliers cannot hide
// each other. Of two values equally far the upper one is taken. Where those left
// are all equal the steps end.
//
// Source: Rosner, Percentage points for a generalized ESD many-outlier
// procedure, Technometrics 25, 1983, 165–172.
func Test(values []float64, most int, alpha float64) (Result, error) {
	n := len(values)
	if most < 1 || n < most+2 {
		return Result{}, fmt.Errorf("%d values are too few to look for up to %d outliers", n, most)
	}
	if err := suitable(values, alpha); err != nil {
		return Result{}, err
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(values[i], values[j]) })
	r := Result{Steps: make([]Step, 0, most)}
	left := order // ascending: the farthest is the first or the last
	for i := 1; i <= most; i++ {
		mean, sd := spread(values, left)
		if sd == 0 {
			break
		}
		low, high := mean-values[left[0]], values[left[len(left)-1]]-mean
		step := Step{Index: left[len(left)-1], Above: true, R: high / sd, Critical: critical(len(left), alpha)}
		if low > high {
			step.Index, step.Above, step.R = left[0], false, low/sd
			left = left[1:]
		} else {
			left = left[:len(left)-1]
		}
		r.Steps = append(r.Steps, step)
		if step.R > step.Critical {
			r.Outliers = i
		}
	}
	return r, nil
}

// suitable refuses what cannot be reckoned with.
func suitable(values []float64, alpha float64) error {
	if !(alpha > 0 && alpha < 1) {
		return fmt.Errorf("a significance level of %g is not between 0 and 1", alpha)
	}
	for _, v := range values {
		if v != 0 && !(math.Abs(v) >= 1e-60 && math.Abs(v) <= 1e60) {
			return fmt.Errorf("%g is out of the range of numbers reckoned with", v)
		}
	}
	return nil
}

// critical is λ with so many values left, the one to be taken off among them.
func critical(left int, alpha float64) float64 {
	m, df := float64(left), left-2
	// By the lower tail, where a small share keeps its digits.
	t := -linear.StudentQuantile(alpha/(2*m), df)
	return (m - 1) / math.Sqrt(m*(1+float64(df)/(t*t)))
}

// spread is the mean and the standard deviation; the latter is zero where it is
// no more than rounding.
func spread(values []float64, of []int) (mean, sd float64) {
	n, size := float64(len(of)), 0.0
	for _, i := range of {
		mean += values[i] / n
		size = max(size, math.Abs(values[i]))
	}
	s := 0.0
	for _, i := range of {
		s += (values[i] - mean) * (values[i] - mean)
	}
	if sd = math.Sqrt(s / (n - 1)); sd <= n*0x1p-52*size {
		sd = 0
	}
	return mean, sd
}
