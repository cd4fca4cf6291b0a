package turnbull

import (
	"math"
	"sort"

	"shelfspan/analysis/censored"
)

// kktTolerance is how far the gradient, which is 1 where there is a share, may be
// from its conditions.
const kktTolerance = 1e-9

const (
	newtonSteps = 2000 // at most
	halvings    = 60   // of one step
	rounding    = 1e-14

	// What falls below it is none: a share on its way to zero would else pass
	// through numbers too small for a step to reach zero from. The least weight
	// of an interval is above 1e-17, and a share that is wanted comes back.
	leastShare = 1e-100
)

// search is an estimate on its way. The units are weighed so that they add up to 1.
type search struct {
	cells       []cell
	from, to    []int     // by interval: it holds the cells from ≤ j < to
	weight      []float64 // by interval
	probability []float64 // by interval: the sum of its shares
	share       []float64 // by cell
	trial       []float64
	gradient    []float64 // of the log-likelihood by cell: Σ wᵢ/Pᵢ over the intervals that hold it
	sums        *sums
	iterations  int
}

func newSearch(data []censored.Interval, units float64) *search {
	s := &search{cells: innermost(data)}
	n := len(s.cells)
	s.share, s.trial, s.gradient, s.sums = make([]float64, n), make([]float64, n), make([]float64, n), newSums(n)
	for _, x := range data {
		from, to := ends(x)
		first := sort.Search(n, func(j int) bool {
			left, _ := ends(censored.Interval{After: s.cells[j].after, By: s.cells[j].by})
			return compareEnds(left, from) >= 0
		})
		beyond := sort.Search(n, func(j int) bool { return compareEnds(end{s.cells[j].by, right}, to) > 0 })
		s.from, s.to, s.weight = append(s.from, first), append(s.to, beyond), append(s.weight, x.Units/units)
	}
	s.probability = make([]float64, len(data))
	s.begin()
	return s
}

// begin gives every unit a share: the fewest cells that leave no interval without
// one, and each unit spread evenly over those in its interval.
func (s *search) begin() {
	first := make([]int, len(s.cells)+1) // by where intervals end: where the last of them to begin does, plus 1
	for i, to := range s.to {
		first[to] = max(first[to], s.from[i]+1)
	}
	before := make([]int, len(s.cells)+1) // how many are chosen before a cell
	last := -1
	for j := range s.cells {
		before[j+1] = before[j]
		if first[j+1]-1 > last {
			last = j
			before[j+1]++
		}
	}
	s.sums.clear()
	for i, w := range s.weight {
		s.sums.add(s.from[i], s.to[i], w/float64(before[s.to[i]]-before[s.from[i]]))
	}
	s.sums.spread(s.share)
	for j := range s.share {
		if before[j+1] == before[j] {
			s.share[j] = 0
		}
	}
}

// climb goes to the greatest likelihood.
func (s *search) climb() {
	s.look()
	for range newtonSteps {
		free, entered := s.free()
		atTop := entered == 0 && s.slack() <= kktTolerance/10
		// A last step brings what is near to rounding.
		if !s.step(free) || atTop {
			break
		}
	}
	total := 0.0
	for _, p := range s.share {
		total += p
	}
	for j := range s.share {
		s.share[j] /= total
	}
	s.look()
}

// free lists the cells with a share, and of those between two neighbours among
// them the one with the steepest gradient, if that is above 1; and tells how
// many so enter.
func (s *search) free() (free []int, entered int) {
	steepest := -1
	enter := func() {
		if steepest >= 0 {
			free = append(free, steepest)
			entered++
		}
		steepest = -1
	}
	for j, p := range s.share {
		switch {
		case p > 0:
			enter()
			free = append(free, j)
		case s.gradient[j] > 1+kktTolerance/10 && (steepest < 0 || s.gradient[j] > s.gradient[steepest]):
			steepest = j
		}
	}
	enter()
	return free, entered
}

// step makes a step of Newton's method with the cells that are free. It reports
// whether it led uphill.
//
// It climbs Σ wᵢ ln Pᵢ − Σ pⱼ without the condition that the shares add up to 1:
// at the top they do, the gradient times the shares always adding up to 1. Of the
// quadratic function with its slope and curvature at the shares it finds the top
// among shares not below zero: it goes to the top of those that are free, but no
// farther than to where the first is zero, which then leaves, until there is none.
func (s *search) step(free []int) bool {
	s.iterations++
	curvature := make([]float64, len(s.weight))
	for i, w := range s.weight {
		curvature[i] = w / (s.probability[i] * s.probability[i])
	}
	copy(s.trial, s.share)
	slope := make([]float64, len(s.share))
	for j, g := range s.gradient {
		slope[j] = g - 1
	}
	for {
		step := s.solve(free, curvature, slope)
		if step == nil {
			return false
		}
		far := 1.0
		for a, j := range free {
			if step[a] < 0 {
				far = min(far, -s.trial[j]/step[a])
			}
		}
		stay := free[:0]
		for a, j := range free {
			if step[a] < 0 && -s.trial[j]/step[a] <= far || s.trial[j]+far*step[a] < leastShare && step[a] < 0 {
				s.trial[j] = 0
				continue
			}
			s.trial[j] += far * step[a]
			stay = append(stay, j)
		}
		if len(stay) == len(free) || len(stay) == 0 {
			break
		}
		free = stay
		// The slope there: 2g − 1 less the curvature times the shares, which at the
		// shares of the search are g.
		s.sums.set(s.trial)
		for i := range s.probability {
			s.probability[i] = s.sums.over(s.from[i], s.to[i])
		}
		s.sums.clear()
		for i, p := range s.probability {
			s.sums.add(s.from[i], s.to[i], curvature[i]*p)
		}
		s.sums.spread(slope)
		for j, g := range s.gradient {
			slope[j] = 2*g - 1 - slope[j]
		}
	}
	return s.take()
}

// solve finds the step of the free cells at which the slope is zero; nil where
// none is found.
//
// It is solved for the sums of the step up to the end of each free cell: there an
// interval ties only the two ends of it, and the matrix has few elements that are
// not zero, near the diagonal where intervals are short.
func (s *search) solve(free []int, curvature, slope []float64) []float64 {
	k := len(free)
	place := make([]int, len(s.share)+1) // how many are free before a cell
	for a, j := range free {
		place[j+1] = a + 1
	}
	for j := range s.share {
		place[j+1] = max(place[j+1], place[j])
	}
	first := make([]int, k)
	for b := range first {
		first[b] = b
	}
	for i, to := range s.to {
		if a, b := place[s.from[i]], place[to]; 0 < a && a < b {
			first[b-1] = min(first[b-1], a-1)
		}
	}
	m := newEnvelope(first)
	for i, v := range curvature {
		a, b := place[s.from[i]], place[s.to[i]]
		if a == b {
			continue
		}
		*m.at(b-1, b-1) += v
		if a > 0 {
			*m.at(a-1, a-1) += v
			*m.at(b-1, a-1) -= v
		}
	}
	// Shares that the data do not tell apart make it singular.
	for ridge := 1e-13; !m.factorize(ridge); ridge *= 10 {
		if ridge > 1 {
			return nil
		}
	}
	step := make([]float64, k)
	for a, j := range free {
		step[a] = slope[j]
		if a+1 < k {
			step[a] -= slope[free[a+1]]
		}
	}
	m.solve(step)
	for a := k - 1; a > 0; a-- {
		step[a] -= step[a-1]
	}
	for _, d := range step {
		if math.IsNaN(d) || math.IsInf(d, 0) {
			return nil
		}
	}
	return step
}

// take goes to the trial shares, or as far on the way there as it leads uphill.
func (s *search) take() bool {
	now := s.height(s.share)
	allowed := rounding * (1 + math.Abs(now))
	for range halvings {
		if s.height(s.trial) >= now-allowed {
			copy(s.share, s.trial)
			s.look()
			return true
		}
		for j, p := range s.share {
			s.trial[j] = p + (s.trial[j]-p)/2
		}
	}
	s.look()
	return false
}

// height is what is climbed.
func (s *search) height(share []float64) float64 {
	s.sums.set(share)
	total, l := 0.0, 0.0
	for _, p := range share {
		total += p
	}
	for i, w := range s.weight {
		l += w * math.Log(s.sums.over(s.from[i], s.to[i]))
	}
	return l - total
}

func (s *search) logLikelihood() float64 {
	l := 0.0
	for i, w := range s.weight {
		l += w * math.Log(s.probability[i])
	}
	return l
}

// look sets probabilities and gradient at the shares.
func (s *search) look() {
	s.sums.set(s.share)
	for i := range s.probability {
		s.probability[i] = s.sums.over(s.from[i], s.to[i])
	}
	s.sums.clear()
	for i, w := range s.weight {
		s.sums.add(s.from[i], s.to[i], w/s.probability[i])
	}
	s.sums.spread(s.gradient)
}

// slack is how far the gradient is from 1 where there is a share.
func (s *search) slack() float64 {
	far := 0.0
	for j, p := range s.share {
		if p > 0 {
			far = max(far, math.Abs(s.gradient[j]-1))
		}
	}
	return far
}

// steepest is the greatest gradient of a cell.
func (s *search) steepest() float64 {
	steepest := 0.0
	for _, g := range s.gradient {
		steepest = max(steepest, g)
	}
	return steepest
}
