// Package fisher compares two shares, such as of units that leak in one pack and in
// another, by Fisher's exact test, which holds however few the units are; in one table
// or, where units are of several batches, within each of them.
package fisher

import (
	"errors"
	"fmt"
	"math"
)

// Result is what 2×2 tables say of the two shares behind their rows.
type Result struct {
	// P is the two-sided p-value of equal shares: the probability of all tables with the
	// margins of these whose first cells add to a sum no more probable than theirs.
	// Greater is that of a sum as large or larger, Less of one as small or smaller. A
	// probability below 1e-290 may be given as 0.
	P, Less, Greater float64

	// Odds is the conditional maximum likelihood estimate of the odds ratio, the odds
	// of the first column in the first row over those in the second, common to all
	// tables; of one it is not quite ad/bc. 0 and +Inf where the first cells are as
	// small, or as large, as the margins allow; NaN where every table has a margin of
	// zero, and any ratio fits as well.
	Odds float64
	// Low and High are its exact two-sided interval: 0 to +Inf where every table has a
	// margin of zero. It may hold 1 though P is small and the other way round, since
	// the interval counts each tail by itself.
	Low, High float64
	// Telling is how many tables have no margin of zero; the rest add nothing.
	Telling int
}

// MostUnits is the greatest sum of one table that is dealt with, MostStratified that
// of several.
const (
	MostUnits      = 2_000_000
	MostStratified = 50_000
)

// ErrConfidence is that of a confidence that is not between 0 and 1.
var ErrConfidence = errors.New("a confidence lies between 0 and 1")

// Test tests one table of counts {{a, b}, {c, d}}, none below zero: Fisher's exact
// test.
func Test(table [2][2]int, confidence float64) (Result, error) {
	return Stratified([][2][2]int{table}, confidence)
}

// Stratified tests tables of counts {{a, b}, {c, d}}, none below zero, one of each
// stratum, say of each batch, for one odds ratio ψ common to all: whether it is 1, that
// is, whether within strata the shares are equal, however they differ between strata.
// With its margins given the first cell of a table is x with the probability (Fisher's
// noncentral hypergeometric)
//
//	P(x; ψ) ∝ C(a+b, x)·C(c+d, a+c−x)·ψˣ,
//
// and the sum over tables, which is all that they say of ψ, has the convolution of these
// distributions. Odds is the ψ at which the mean of the sum is that of the a; at Low the
// probability of a sum as large or larger, at High of one as small or smaller, is (1 −
// confidence)/2.
//
// The one-sided tests never reject equal shares more often than at their level, and
// mostly less often. Two-sided, that a sum counts that is as improbable, is common
// practice, as fisher.test and mantelhaen.test(exact = TRUE) of R have it, with their
// tolerance of 1e-7 for ties. That the ratio is one in all tables is not tested.
//
// Source: Fisher, Journal of the Royal Statistical Society 98, 1935, 39–82; of the
// interval, Cornfield, Proceedings of the Third Berkeley Symposium 4, 1956, 135–148; of
// several tables, Gart, Biometrika 57, 1970, 471–475; all from memory.
func Stratified(tables [][2][2]int, confidence float64) (Result, error) {
	if !(confidence > 0 && confidence < 1) {
		return Result{}, ErrConfidence
	}
	s := strata{}
	whole := 0
	for _, table := range tables {
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
		if low, high := m.support(); low < high {
			s.tables = append(s.tables, m)
			s.x += float64(table[0][0]) - low
			s.most += high - low
			s.start(table)
			if whole += sum; len(s.tables) > 1 && whole > MostStratified {
				return Result{}, fmt.Errorf("the counts of several tables add to more than %d", MostStratified)
			}
		}
	}
	r := Result{P: 1, Less: 1, Greater: 1, Odds: math.NaN(), High: math.Inf(1), Telling: len(s.tables)}
	if len(s.tables) == 0 {
		return r, nil
	}
	equal := s.at(0)
	r.Less, r.Greater, r.P = equal.upTo, equal.from, s.asImprobable()
	tail := (1 - confidence) / 2
	switch s.x {
	case 0:
		r.Odds = 0
	case s.most:
		r.Odds = math.Inf(1)
	default:
		r.Odds = math.Exp(s.solve(func(logOdds float64) float64 { return s.mean(logOdds) - s.x }))
	}
	if s.x > 0 {
		r.Low = math.Exp(s.solve(func(logOdds float64) float64 { return math.Log(s.at(logOdds).from / tail) }))
	}
	if s.x < s.most {
		r.High = math.Exp(s.solve(func(logOdds float64) float64 { return math.Log(tail / s.at(logOdds).upTo) }))
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

// least is where a probability, that of the mode being 1, no longer counts.
const least = 1e-300

// weights are the probabilities from a value on, not normed, of those that count.
type weights struct {
	from float64
	p    []float64
}

// at adds to p the probabilities of a table for an odds ratio of e^logOdds, values
// counted from the least. They are built up from that of the mode, each from its
// neighbour by their ratio, until they no longer count: that is some 38 standard
// deviations whatever the counts, and of binomial coefficients, whose logarithms would
// lose a digit for every tenfold count, there are none.
func (m margins) at(logOdds float64, p []float64) weights {
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
	from, first := mode, 1.0
	for from > low {
		next := first / (m.ratio(from) * odds)
		if next < least {
			break
		}
		from, first = from-1, next
	}
	// Downwards again, so that each is from its neighbour nearer to the mode.
	p = append(p, make([]float64, int(mode-from)+1)...)
	for k, v := mode, 1.0; ; k-- {
		p[int(k-from)] = v
		if k == from {
			break
		}
		v /= m.ratio(k) * odds
	}
	for k, v := mode+1, 1.0; k <= high; k++ {
		if v *= m.ratio(k) * odds; v < least {
			break
		}
		p = append(p, v)
	}
	return weights{from - low, p}
}

// strata are tables with one odds ratio, and x the sum of their first cells, counted
// from the least it can be; most is the most.
type strata struct {
	tables  []margins
	x, most float64
	// What an odds ratio is sought from: the sums of Mantel and Haenszel's.
	concordant, discordant float64

	sum             weights // of the sum, as `at` left them
	one, two, spare []float64
}

func (s *strata) start(table [2][2]int) {
	var t [2][2]float64
	n := 2.0
	for i, row := range table {
		for j, c := range row {
			t[i][j] = float64(c) + 0.5
			n += float64(c)
		}
	}
	s.concordant += t[0][0] * t[1][1] / n
	s.discordant += t[0][1] * t[1][0] / n
}

// sums are P(X ≤ x) and P(X ≥ x).
type sums struct{ upTo, from float64 }

// at takes the distribution of the sum for an odds ratio of e^logOdds.
func (s *strata) at(logOdds float64) sums {
	s.sum = s.tables[0].at(logOdds, s.one[:0])
	s.one = s.sum.p
	for _, m := range s.tables[1:] {
		next := m.at(logOdds, s.two[:0])
		s.two = next.p
		s.convolve(next)
	}
	var r sums
	at, total := 0.0, 0.0
	for i, p := range s.sum.p {
		total += p
		switch k := s.sum.from + float64(i); {
		case k < s.x:
			r.upTo += p
		case k > s.x:
			r.from += p
		default:
			at = p
		}
	}
	r.upTo, r.from = min(1, (r.upTo+at)/total), min(1, (r.from+at)/total)
	return r
}

// convolve makes the sum that of one table more, the greatest 1 again and what no longer
// counts off.
func (s *strata) convolve(next weights) {
	out := append(s.spare[:0], make([]float64, len(s.sum.p)+len(next.p)-1)...)
	for i, a := range s.sum.p {
		into := out[i:]
		for j, b := range next.p {
			into[j] += a * b
		}
	}
	top := 0.0
	for _, p := range out {
		top = max(top, p)
	}
	first, last := 0, len(out)
	for out[first] < least*top {
		first++
	}
	for out[last-1] < least*top {
		last--
	}
	s.spare = s.one
	s.one = out
	out = out[first:last]
	for i := range out {
		out[i] /= top
	}
	s.sum = weights{s.sum.from + next.from + float64(first), out}
}

// asImprobable is the probability, as `at` left it, of all sums no more probable than x.
func (s *strata) asImprobable() float64 {
	at, total, r := 0.0, 0.0, 0.0
	if i := int(s.x - s.sum.from); i >= 0 && i < len(s.sum.p) {
		at = s.sum.p[i]
	}
	for _, p := range s.sum.p {
		if total += p; p <= at*(1+1e-7) {
			r += p
		}
	}
	return min(1, r/total)
}

// mean is that of the sum.
func (s *strata) mean(logOdds float64) float64 {
	mean := 0.0
	for _, m := range s.tables {
		w := m.at(logOdds, s.two[:0])
		s.two = w.p
		total, moment := 0.0, 0.0
		for i, p := range w.p {
			total += p
			moment += float64(i) * p
		}
		mean += w.from + moment/total
	}
	return mean
}

// solve finds the logarithm of the odds ratio at which a value that grows with it is
// zero, from near the tables' own, in strides that double and then on the secant through
// both ends (Illinois), halved where that is slow.
func (s *strata) solve(value func(logOdds float64) float64) float64 {
	low := math.Log(s.concordant / s.discordant)
	high, below := low, value(low)
	above := below
	for stride := 1.0; below > 0; stride *= 2 {
		high, above = low, below
		low -= stride
		below = value(low)
	}
	for stride := 1.0; above <= 0; stride *= 2 {
		low, below = high, above
		high += stride
		above = value(high)
	}
	for k, side := 0, 0; ; k++ {
		x := (low*above - high*below) / (above - below)
		if k%4 == 3 || !(low < x && x < high) {
			x = low + (high-low)/2
		}
		if x <= low || x >= high || high-low < 1e-15*max(1, math.Abs(x)) {
			return x
		}
		switch v := value(x); {
		case v == 0:
			return x
		case v < 0:
			low, below = x, v
			if side < 0 {
				above /= 2
			}
			side = -1
		default:
			high, above = x, v
			if side > 0 {
				below /= 2
			}
			side = 1
		}
	}
}
