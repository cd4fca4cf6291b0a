package residuals

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
)

// LackOfFit is the test of a model against the scatter of replicates.
type LackOfFit struct {
	F, P     float64
	DF1, DF2 int     // of the lack of fit and of the pure error
	PureSD   float64 // standard deviation of replicates about their means
}

// ErrNoReplicates says that no two observations were made alike.
var ErrNoReplicates = errors.New("there are no replicates to test the fit against")

// AgainstReplicates tests the fit of y by the columns against pure error.
// Replicates are the observations that agree in all columns, to within a
// billionth of the range of each. They must be independent of each other, of
// different samples: repeat readings of one sample make the pure error too small,
// and any model looks wrong.
//
//	F = ((RSS − SSPE)/(m − p)) / (SSPE/(n − m))
//
// with SSPE the sum of squares of n observations about the means of their m
// sets of replicates. Source: Draper & Smith, Applied Regression Analysis, 3rd
// ed. 1998, 2.1 (section from memory).
func AgainstReplicates(columns []linear.Column, y []float64) (LackOfFit, error) {
	size, err := sizeOf(y)
	if err != nil {
		return LackOfFit{}, err
	}
	fit, err := linear.LeastSquares(columns, y)
	if err != nil {
		return LackOfFit{}, err
	}
	return lack(fit.RSS, len(columns), replicates(columns, len(y)), y, size)
}

// BatchesAgainstReplicates is AgainstReplicates for batches each with a line of
// its own, where the replicates are the values of one batch at one time.
func BatchesAgainstReplicates(batches []pooling.Batch) (LackOfFit, error) {
	r, err := OfBatches(batches)
	if err != nil {
		return LackOfFit{}, err
	}
	y := make([]float64, 0, len(r.Points))
	var sets [][]int
	for _, b := range batches {
		at := levels(b.X)
		first := len(sets)
		sets = append(sets, make([][]int, slices.Max(at)+1)...)
		for j, l := range at {
			sets[first+l] = append(sets[first+l], len(y)+j)
		}
		y = append(y, b.Y...)
	}
	size, err := sizeOf(y)
	if err != nil {
		return LackOfFit{}, err
	}
	return lack(r.RSS, 2*len(batches), sets, y, size)
}

// lack compares the residual sum of squares of a model of p coefficients with
// the scatter within sets of replicates.
func lack(rss float64, p int, sets [][]int, y []float64, size float64) (LackOfFit, error) {
	n := len(y)
	pure := 0.0
	for _, set := range sets {
		mean := 0.0
		for _, i := range set {
			mean += y[i] / float64(len(set))
		}
		for _, i := range set {
			pure += (y[i] - mean) * (y[i] - mean)
		}
	}
	if math.Sqrt(pure) <= float64(n)*epsilon*size {
		pure = 0
	}
	l := LackOfFit{DF1: len(sets) - p, DF2: n - len(sets)}
	switch {
	case l.DF2 < 1:
		return LackOfFit{}, ErrNoReplicates
	case l.DF1 < 1:
		return LackOfFit{}, fmt.Errorf("%d different settings leave %d coefficients nothing to lack", len(sets), p)
	}
	l.PureSD = math.Sqrt(pure / float64(l.DF2))
	// The model cannot lack what the rounding of its own residuals is.
	extra := rss - pure
	if extra <= float64(n)*epsilon*rss {
		extra = 0
	}
	l.F, l.P = linear.ExtraSumOfSquares(extra, l.DF1, pure, l.DF2)
	return l, nil
}

// replicates gathers the observations that agree in all columns.
func replicates(columns []linear.Column, n int) [][]int {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	set := make([]int, n) // the number of the set of each observation so far
	for _, c := range columns {
		steps := levels(c.Values)
		slices.SortFunc(order, func(i, j int) int {
			return cmp.Or(set[i]-set[j], steps[i]-steps[j], i-j)
		})
		next, before := -1, [2]int{-1, -1}
		for _, i := range order {
			if now := [2]int{set[i], steps[i]}; now != before {
				next++
				before = now
			}
			set[i] = next
		}
	}
	var sets [][]int
	for k, i := range order {
		if k == 0 || set[i] != set[order[k-1]] {
			sets = append(sets, nil)
		}
		sets[len(sets)-1] = append(sets[len(sets)-1], i)
	}
	return sets
}

// alike is the part of their range below which two values of a predictor are one.
const alike = 1e-9

// levels numbers the different values, the least first.
func levels(values []float64) []int {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Or(cmp.Compare(values[i], values[j]), i-j) })
	level := make([]int, len(values))
	apart := alike * (values[order[len(order)-1]] - values[order[0]])
	for k, i := range order[1:] {
		level[i] = level[order[k]]
		if values[i]-values[order[k]] > apart {
			level[i]++
		}
	}
	return level
}
