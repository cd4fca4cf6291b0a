// Package turnbull estimates the distribution of lifetimes that are known to lie
// in intervals, without a model.
package turnbull

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"shelfspan/analysis/censored"
)

// Jump is an interval that holds a share of the lifetimes; where in it they lie
// the data do not say.
type Jump struct {
	After, By float64 // open at After and closed at By, but for After = By, a point; By may be +Inf
	Share     float64 // above zero
}

// Result is the estimate.
type Result struct {
	Jumps []Jump // ascending and disjoint; their shares add up to 1
	// Converged reports whether the conditions of Karush, Kuhn and Tucker hold to
	// rounding. Gap is what they are short of: no distribution has a log-likelihood
	// above LogLikelihood + Gap (Lindsay, Ann. Stat. 11, 1983, 86–94).
	Converged     bool
	Gap           float64
	LogLikelihood float64
	Units         float64 // that something is known of
	Unknown       float64 // units of which nothing is known; they do not enter
	Iterations    int
}

// ErrNothingKnown is that of data without a unit of which something is known.
var ErrNothingKnown = errors.New("of no unit anything is known")

// Estimate is the nonparametric maximum likelihood estimate (Peto, Appl. Stat. 22,
// 1973, 86–91; Turnbull, J. R. Stat. Soc. B 38, 1976, 290–295). The shares lie
// in the innermost intervals, those that begin with a left end and end with the
// next end, a right one; a share of units that fail before they are stored lies
// at 0.
//
// The log-likelihood Σ wᵢ ln Pᵢ, Pᵢ being the sum of the shares within interval
// i, is concave in the shares. It is climbed from shares in as few cells as hold
// one of every interval. Between any two neighbours among the cells with a share
// that with the steepest gradient enters, if it is steep enough; then a step of
// Newton's method goes to the top, among shares not below zero, of the quadratic function
// with the same slope and curvature, and shares that fall to zero leave (the constrained
// Newton method: Wang, J. R. Stat. Soc. B 69, 2007, 185–198, from memory). It ends
// where the gradient is no more than the number of units anywhere, and equal to it
// where there is a share.
//
// The shares are the only ones with that likelihood. Between two neighbours among
// the cells with a full gradient some interval ends, the first cell being one's
// last, so that as much of the gradient has to begin there: from every such place
// a chain of intervals leads down to the first cell, and their probabilities,
// which are the same in every solution, fix the sum of the shares up to there.
func Estimate(data []censored.Interval) (*Result, error) {
	r := &Result{}
	var known []censored.Interval
	for i, x := range data {
		switch {
		case !x.Valid():
			return nil, fmt.Errorf("interval %d is none: after %v, by %v, %v units", i+1, x.After, x.By, x.Units)
		case x.Kind() == censored.Unknown:
			r.Unknown += x.Units
		default:
			known = append(known, x)
			r.Units += x.Units
		}
	}
	if len(known) == 0 {
		return nil, ErrNothingKnown
	}
	s := newSearch(censored.Merge(known), r.Units)
	s.climb()
	steepest := s.steepest()
	r.Iterations, r.Gap = s.iterations, max(0, steepest-1)*r.Units
	r.Converged = steepest-1 <= kktTolerance && s.slack() <= kktTolerance
	r.LogLikelihood = s.logLikelihood() * r.Units
	for j, p := range s.share {
		if p > 0 {
			r.Jumps = append(r.Jumps, Jump{s.cells[j].after, s.cells[j].by, p})
		}
	}
	return r, nil
}

// Failed is the time bracket by which a share of the lifetimes, above 0 and up
// to 1, is over: the jump in which the estimated distribution reaches the
// share. By is +Inf where only the lifetimes beyond the last look would.
func (r *Result) Failed(share float64) (after, by float64) {
	const rounding = 1e-9
	sum := 0.0
	for _, j := range r.Jumps {
		sum += j.Share
		if sum >= share-rounding {
			return j.After, j.By
		}
	}
	last := r.Jumps[len(r.Jumps)-1]
	return last.After, last.By
}

// cell is an innermost interval.
type cell struct{ after, by float64 }

// end is an end of an interval, in the order on the line: at one time a point's
// left end comes first, then right ends, then the left ends of those that are
// open there.
type end struct {
	time  float64
	order int8
}

const (
	leftOfPoint int8 = iota
	right
	leftOpen
)

func compareEnds(a, b end) int {
	return cmp.Or(cmp.Compare(a.time, b.time), cmp.Compare(a.order, b.order))
}

// ends gives both ends of an interval.
func ends(x censored.Interval) (from, to end) {
	from = end{x.After, leftOpen}
	if x.After == x.By {
		from.order = leftOfPoint
	}
	return from, end{x.By, right}
}

// innermost finds the cells, ascending.
func innermost(data []censored.Interval) []cell {
	all := make([]end, 0, 2*len(data))
	for _, x := range data {
		from, to := ends(x)
		all = append(all, from, to)
	}
	slices.SortFunc(all, compareEnds)
	var cells []cell
	for k := 1; k < len(all); k++ {
		if all[k-1].order != right && all[k].order == right {
			cells = append(cells, cell{all[k-1].time, all[k].time})
		}
	}
	return cells
}
