package randombatch

import "math"

// optimum is where a search ended.
type optimum struct {
	state
	rank      int
	drop      float64 // that the quadratic still promises of the deviance; NaN where it has no least point there
	evaluated int
}

// What ends a search, in units of the deviance.
const (
	promised  = 1e-14 // a step that promises less than this share of an observation's deviance each
	converged = 1e-8  // promised drop below which a point is taken for a least one
	steps     = 200
)

// descend goes from a start to a least point of the deviance among factors of the
// start's rank, by Newton's steps on the exact second derivatives, damped where
// these are not positive definite or the step does not keep what it promises
// (Levenberg; Nocedal & Wright, Numerical Optimization, 2006, 10.3).
func (l *likelihood) descend(start factor, rank int) optimum {
	o := optimum{state: l.at(start), rank: rank, evaluated: 1}
	if rank == 0 {
		return o
	}
	h := l.curvature(o.state, rank)
	enough := promised * float64(l.n)
	damping := 0.0
	for range steps {
		step, drop, ok := h.newton(damping)
		if !ok || !(math.Abs(step[0])+math.Abs(step[1])+math.Abs(step[2]) < math.MaxFloat64) {
			damping = max(4*damping, 1e-9*(1+h.largest())) // costs no evaluation
			continue
		}
		next := l.at(factor{o.a + step[0], o.b + step[1], o.c + step[2]})
		o.evaluated++
		gain := o.deviance - next.deviance
		switch {
		case drop <= enough && damping == 0:
			if gain >= -enough {
				o.state = next
			}
			return l.finish(o)
		case gain > 0 && gain >= 0.1*drop || drop <= enough && gain >= -enough:
			o.state = next
			h = l.curvature(o.state, rank)
			if damping /= 8; damping < 1e-7*(1+h.largest()) {
				damping = 0
			}
		default:
			damping = max(4*damping, 1e-5*(1+h.largest()))
			if damping > 1e20 {
				return l.finish(o)
			}
		}
	}
	return l.finish(o)
}

// finish tells how much lower the quadratic at the end still promises to be.
func (l *likelihood) finish(o optimum) optimum {
	o.state = l.at(o.factor)
	h := l.curvature(o.state, o.rank)
	var ok bool
	if _, o.drop, ok = h.newton(0); !ok {
		o.drop = math.NaN()
	}
	return o
}

// largest is the greatest diagonal element of the second derivative.
func (h *curvature) largest() (largest float64) {
	for i := range h.k {
		largest = max(largest, math.Abs(h.hessian[i][i]))
	}
	return largest
}

// search finds the least deviance over all covariances of the random effects.
//
// Descents of full rank start from the covariance of the batches' own lines less
// what their error explains, and from small, large and one-sided ones; those of
// rank 1 from the main direction of the best and from the way out of zero. A
// boundary is the answer where the deviance there is no higher than the best found
// but for rounding, and the derivative K leads nowhere lower inside (it is
// positive semidefinite); where it does lead lower, a descent of full rank goes
// there. The rank is the lowest that qualifies.
func (l *likelihood) search() optimum {
	best := optimum{state: state{deviance: math.Inf(1)}}
	evaluated := 0
	try := func(start factor, rank int) optimum {
		o := l.descend(start, rank)
		evaluated += o.evaluated
		if o.deviance < best.deviance {
			best = o
		}
		return o
	}
	none := try(factor{}, 0)
	for _, start := range [...]factor{l.guess, {0.3, 0, 0.3}, {2, 0, 0.2}, {0.2, 0, 2}, {3, 0, 3}} {
		try(start, 2)
	}
	single := none
	single.deviance = math.Inf(1)
	along := func(v vector, size float64) {
		if o := try(factor{size * v.a, size * v.b, 0}, 1); o.deviance < single.deviance {
			single = o
		}
	}
	_, large, v := best.covariance().eigen()
	along(v, math.Sqrt(max(large, 0.01)))
	if _, least, w := (sym{-none.k.a, -none.k.b, -none.k.c}).eigen(); least > 0 {
		along(w, 1)
	}
	if lowest, _, w := single.k.eigen(); lowest < -l.slack() {
		g := outer(vector{-w.b, w.a}).plus(1, single.covariance())
		try(factorOf(g), 2)
	}
	best.evaluated = evaluated
	for _, o := range [...]optimum{none, single} {
		if lowest, _, _ := o.k.eigen(); o.deviance <= best.deviance+l.slack() && lowest >= -math.Sqrt(l.slack()) {
			o.evaluated = evaluated
			return o
		}
	}
	return best
}

// slack is what rounding may do to the deviance.
func (l *likelihood) slack() float64 { return 1e-12 * float64(10+l.n) }

// moments is the covariance of the batches' own lines less the mean covariance of
// their errors, relative to the mean square within batches, kept off the boundary.
func (d *design) moments() factor {
	_, spread := d.sample()
	var errors sym
	for i := range d.batches {
		if b := &d.batches[i]; b.r22 > 0 {
			_, covariance := b.own()
			errors = errors.plus(1/float64(d.lines), covariance)
		}
	}
	g := sym{}.plus(float64(d.freedom)/d.rss, spread).plus(-1, errors)
	small, large, v := g.eigen()
	return factorAlong(v, max(large, 0.1), max(small, 0.1))
}
