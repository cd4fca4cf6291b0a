// Package fisher compares two shares, such as of units that leak in one pack and in
// another, by Fisher's exact test, which holds however few the units are.
package fisher

import (
	"errors"
	"fmt"
	"math"
)

// Result is what a 2×2 table says of the two shares behind its rows.
type Result struct {
	// P is the two-sided p-value of equal shares: the probability of all tables with the
	// margins of this one that are no more probable than it. Greater is that of a first
	// cell as large or larger, Less of one as small or smaller. A probability below 1e-300
	// may be given as 0.
	P, Less, Greater float64

	// Odds is the conditional maximum likelihood estimate of the odds ratio, the odds
	// of the first column in the first row over those in the second; it is not quite
	// ad/bc. 0 and +Inf where the first cell is as small, or as large, as the margins
	// allow; NaN where a margin is zero, and any ratio fits as well.
	Odds float64
	// Low and High are its exact two-sided interval: 0 to +Inf where a margin is zero.
	// It may hold 1 though P is small and the other way round, since the interval
	// counts each tail by itself.
	Low, High float64
}

// MostUnits is the greatest sum of a table that is dealt with.
const MostUnits = 2_000_000

// ErrConfidence is that of a confidence that is not between 0 and 1.
var ErrConfidence = errors.New("a confidence lies between 0 and 1")

// Test tests the table of counts {{a, b}, {c, d}}, none below zero. With its margins given
// a is x with the probability (Fisher's noncentral hypergeometric)
//
//	P(x; ψ) ∝ C(a+b, x)·C(c+d, a+c−x)·ψˣ,
//
// ψ the odds ratio, 1 where the shares are equal. Odds is the ψ at which the mean of x
// is a; at Low P(x ≥ a; ψ), at High P(x ≤ a; ψ) is (1 − confidence)/2.
//
// The one-sided tests never reject equal shares more often than at their level, and
// mostly less often. Two-sided, that a table counts that is as improbable, is common
// practice, as fisher.test of R has it, with its tolerance of 1e-7 for ties.
//
// Source: Fisher, Journal of the Royal Statistical Society 98, 1935, 39–82; of the
// interval, Cornfield, Proceedings of the Third Berkeley Symposium 4, 1956, 135–148,
// from memory.
func Test(table [2][2]int, confidence float64) (Result, error) {
	if !(confidence > 0 && confidence < 1) {
		return Result{}, ErrConfidence
	}
	sum := 0
	for _, row := range table {
		for _, n := range row {
			if n < 0 {
				return Result{}, fmt.Errorf("%d is no count", n)
			}
			if n > MostUnits-sum {
				return Result{}, fmt.Errorf("the counts add to more than %d", MostUnits)
			}
			sum += n
		}
	}
	m := margins{
		row:    float64(table[0][0] + table[0][1]),
		other:  float64(table[1][0] + table[1][1]),
		column: float64(table[0][0] + table[1][0]),
	}
	x := float64(table[0][0])
	r := Result{Odds: math.NaN(), High: math.Inf(1)}
	equal := m.at(0, x)
	r.Less, r.Greater, r.P = equal.upTo, equal.from, equal.asImprobable
	low, high := m.support()
	if low == high {
		return r, nil
	}
	tail := (1 - confidence) / 2
	switch x {
	case low:
		r.Odds = 0
	case high:
		r.Odds = math.Inf(1)
	default:
		r.Odds = math.Exp(m.solve(x, func(s sums) bool { return s.mean < x }))
	}
	if x > low {
		r.Low = math.Exp(m.solve(x, func(s sums) bool { return s.from < tail }))
	}
	if x < high {
		r.High = math.Exp(m.solve(x, func(s sums) bool { return s.upTo > tail }))
	}
	return r, nil
}

// margins are the sums of the first and the second row and of the first column.
type margins struct{ row, other, column float64 }

// support is the least and the greatest value of the first cell.
func (m margins) support() (low, high float64) {
	return max(0, m.column-m.other), min(m.row, m.column)
}

// ratio is P(x; 1)/P(x−1; 1); it falls as x grows.
func (m margins) ratio(x float64) float64 {
	return (m.row - x + 1) / x * (m.column - x + 1) / (m.other - m.column + x)
}

// sums are what is needed of a distribution at a value x.
type sums struct {
	upTo, from   float64 // P(X ≤ x), P(X ≥ x)
	asImprobable float64 // P of all values no more probable than x
	mean         float64
}

// at takes the sums at x for an odds ratio of e^logOdds. The probabilities are built
// up from that of the mode, each from its neighbour by their ratio, until they are too
// small for a float64: that is some 38 standard deviations whatever the counts, and of
// binomial coefficients, whose logarithms would lose a digit for every tenfold
// count, there are none.
func (m margins) at(logOdds, x float64) sums {
	low, high := m.support()
	odds := math.Exp(logOdds)
	// The mode is the greatest value more probable than the one below.
	mode, above := low, high+1
	for above-mode > 1 {
		middle := math.Floor((mode + above) / 2)
		if m.ratio(middle)*odds >= 1 {
			mode = middle
		} else {
			above = middle
		}
	}
	var s sums
	total, moment := 0.0, 0.0 // moment about the mode
	each := func(visit func(k, p float64)) {
		p := 1.0
		for k := mode; k <= high && p > 0; k++ {
			visit(k, p)
			p *= m.ratio(k+1) * odds
		}
		p = 1
		for k := mode; k > low; {
			p /= m.ratio(k) * odds
			if k--; p == 0 {
				break
			}
			visit(k, p)
		}
	}
	at := 0.0
	each(func(k, p float64) {
		total += p
		moment += (k - mode) * p
		switch {
		case k < x:
			s.upTo += p
		case k > x:
			s.from += p
		default:
			at = p
		}
	})
	if logOdds == 0 {
		each(func(_, p float64) {
			if p <= at*(1+1e-7) {
				s.asImprobable += p
			}
		})
	}
	s.upTo, s.from, s.asImprobable = (s.upTo+at)/total, (s.from+at)/total, s.asImprobable/total
	s.upTo, s.from, s.asImprobable = min(1, s.upTo), min(1, s.from), min(1, s.asImprobable)
	s.mean = mode + moment/total
	return s
}

// solve finds the logarithm of the odds ratio up to which `before` holds, from near the
// sample's own, in strides that double and then by bisection.
func (m margins) solve(x float64, before func(sums) bool) float64 {
	start := math.Log((x + 0.5) * (m.other - m.column + x + 0.5) / ((m.row - x + 0.5) * (m.column - x + 0.5)))
	low, high := start, start
	for stride := 1.0; !before(m.at(low, x)); stride *= 2 {
		high, low = low, low-stride
	}
	if low == high {
		for stride := 1.0; ; stride *= 2 {
			if high += stride; !before(m.at(high, x)) {
				break
			}
			low = high
		}
	}
	for {
		middle := low + (high-low)/2
		if middle <= low || middle >= high || high-low < 1e-15*max(1, math.Abs(middle)) {
			return middle
		}
		if before(m.at(middle, x)) {
			low = middle
		} else {
			high = middle
		}
	}
}
