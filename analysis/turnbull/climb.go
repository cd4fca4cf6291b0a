package turnbull

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"

	"shelfspan/analysis/censored"
)

// kktTolerance is how far the gradient, which is 1 where there is a share, may be
// from its conditions.
const kktTolerance = 1e-9

const (
	emSteps     = 50   // before Newton's method
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
	cells      []cell
	from, to   []int     // by interval: it holds the cells from ≤ j < to
	weight     []float64 // by interval
	share      []float64 // by cell
	trial      []float64
	gradient   []float64 // of the log-likelihood by cell: Σ wᵢ/Pᵢ over the intervals that hold it
	iterations int
}

func newSearch(data []censored.Interval, units float64) *search {
	s := &search{cells: innermost(data)}
	n := len(s.cells)
	s.share, s.trial, s.gradient = make([]float64, n), make([]float64, n), make([]float64, n)
	for _, x := range data {
		from, to := ends(x)
		first := sort.Search(n, func(j int) bool {
			left, _ := ends(censored.Interval{After: s.cells[j].after, By: s.cells[j].by})
			return compareEnds(left, from) >= 0
		})
		beyond := sort.Search(n, func(j int) bool { return compareEnds(end{s.cells[j].by, right}, to) > 0 })
		s.from, s.to, s.weight = append(s.from, first), append(s.to, beyond), append(s.weight, x.Units/units)
	}
	// Each unit starts as spread evenly over the cells of its interval.
	for i, w := range s.weight {
		for j := s.from[i]; j < s.to[i]; j++ {
			s.share[j] += w / float64(s.to[i]-s.from[i])
		}
	}
	return s
}

// climb goes to the greatest likelihood.
func (s *search) climb() {
	s.look()
	for range emSteps {
		if s.slack() <= rounding {
			break
		}
		for j, g := range s.gradient {
			if s.share[j] *= g; s.share[j] < leastShare {
				s.share[j] = 0
			}
		}
		s.iterations++
		s.look()
	}
	for range newtonSteps {
		if s.slack() <= kktTolerance/10 {
			j, g := s.steepest()
			if g-1 <= kktTolerance/10 {
				// A last step brings what is near to rounding.
				s.newton(-1)
				break
			}
			if !s.newton(j) {
				break
			}
			continue
		}
		if !s.newton(-1) {
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

// newton makes a step with the shares above zero and that of the cell that
// enters, −1 for none. It reports whether it led uphill.
//
// It climbs Σ wᵢ ln Pᵢ − Σ pⱼ without the condition that the shares add up to 1:
// at the top they do, the gradient times the shares always adding up to 1.
func (s *search) newton(enters int) bool {
	s.iterations++
	var free []int
	place := make([]int, len(s.share)+1) // of the first free cell from here on
	for j, p := range s.share {
		place[j] = len(free)
		if p > 0 || j == enters {
			free = append(free, j)
		}
	}
	k := len(free)
	place[len(s.share)] = k

	// Each interval adds w/P² to a square block: its corners are marked, and
	// summed up along the rows and down the columns.
	h := make([]float64, (k+1)*(k+1))
	for i, w := range s.weight {
		p := probability(s.share, s.from[i], s.to[i])
		a, b := place[s.from[i]], place[s.to[i]]
		v := w / (p * p)
		h[a*(k+1)+a] += v
		h[b*(k+1)+b] += v
		h[a*(k+1)+b] -= v
		h[b*(k+1)+a] -= v
	}
	for a := range k + 1 {
		for b := 1; b <= k; b++ {
			h[a*(k+1)+b] += h[a*(k+1)+b-1]
		}
		if a > 0 {
			for b := range k + 1 {
				h[a*(k+1)+b] += h[(a-1)*(k+1)+b]
			}
		}
	}
	scale := make([]float64, k)
	for a := range k {
		scale[a] = 1 / math.Sqrt(h[a*(k+1)+a])
	}
	m := mat.NewSymDense(k, nil)
	g := mat.NewVecDense(k, nil)
	for a := range k {
		for b := a; b < k; b++ {
			m.SetSym(a, b, h[a*(k+1)+b]*scale[a]*scale[b])
		}
		g.SetVec(a, (s.gradient[free[a]]-1)*scale[a])
	}
	// Shares that the data do not tell apart make it singular.
	var c mat.Cholesky
	for ridge := 1e-13; ; ridge *= 10 {
		if ridge > 1 {
			return false
		}
		for a := range k {
			m.SetSym(a, a, 1+ridge)
		}
		if c.Factorize(m) {
			break
		}
	}
	step := mat.NewVecDense(k, nil)
	if c.SolveVecTo(step, g) != nil {
		// A bad condition is told as an error; the step then still leads uphill.
		for a := range k {
			if v := step.AtVec(a); math.IsNaN(v) || math.IsInf(v, 0) {
				return false
			}
		}
	}
	for a := range k {
		step.SetVec(a, step.AtVec(a)*scale[a])
	}
	return s.take(free, step)
}

// take goes along a step as far as it leads uphill: all of it, what falls below
// zero cut there; else no further than to where the first share is zero.
func (s *search) take(free []int, step *mat.VecDense) bool {
	now := s.height(s.share)
	allowed := rounding * (1 + math.Abs(now))
	far := 1.0
	for a, j := range free {
		if d := step.AtVec(a); d < 0 {
			far = min(far, -s.share[j]/d)
		}
	}
	try := func(t float64) bool {
		copy(s.trial, s.share)
		for a, j := range free {
			if s.trial[j] = s.share[j] + t*step.AtVec(a); s.trial[j] < leastShare {
				s.trial[j] = 0
			}
		}
		return s.height(s.trial) >= now-allowed
	}
	t := 1.0
	for k := 0; !try(t); k++ {
		if k == halvings || t == 0 {
			return false
		}
		if t == 1 && far < 1 {
			// A hair further, so that it is zero and not a rest of rounding.
			t = far * (1 + 0x1p-50)
		} else {
			t /= 2
		}
	}
	copy(s.share, s.trial)
	s.look()
	return true
}

// height is what is climbed.
func (s *search) height(share []float64) float64 {
	total, l := 0.0, 0.0
	for _, p := range share {
		total += p
	}
	for i, w := range s.weight {
		l += w * math.Log(probability(share, s.from[i], s.to[i]))
	}
	return l - total
}

func (s *search) logLikelihood() float64 {
	l := 0.0
	for i, w := range s.weight {
		l += w * math.Log(probability(s.share, s.from[i], s.to[i]))
	}
	return l
}

// probability is the sum of the shares from one cell to before another. They are
// added, and not taken as a difference of sums, so that a small one keeps its
// digits.
func probability(share []float64, from, to int) float64 {
	sum := 0.0
	for _, p := range share[from:to] {
		sum += p
	}
	return sum
}

// look sets the gradient at the shares.
func (s *search) look() {
	clear(s.gradient)
	for i, w := range s.weight {
		g := w / probability(s.share, s.from[i], s.to[i])
		for j := s.from[i]; j < s.to[i]; j++ {
			s.gradient[j] += g
		}
	}
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

// steepest is the cell with the greatest gradient.
func (s *search) steepest() (cell int, gradient float64) {
	for j, g := range s.gradient {
		if g > gradient {
			cell, gradient = j, g
		}
	}
	return cell, gradient
}
