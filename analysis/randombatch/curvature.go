package randombatch

import "math"

// curvature is the second derivative of the deviance by the elements of the
// factor, two of its first column alone where the rank is 1, none where it is 0,
// and by the logarithm of the residual variance, the last; its first derivative;
// and those of the covariance of the fixed effects.
type curvature struct {
	k        int // elements of the factor: 0, 2 or 3
	gradient [3]float64
	hessian  [4][4]float64
	change   [4]sym // derivatives of the covariance of the fixed effects
}

// elements is the number of elements of a factor of that rank.
func elements(rank int) int { return [...]int{0, 2, 3}[rank] }

// curvature is worked out at the state last evaluated, s. Along dG = E
//
//	dM = −M·E·M,  dβ = −A⁻¹·ΣM·E·u,  du = −M·(E·u + dβ),
//
// from which dK follows by the rule for products; along two elements of the factor
// the second derivative is tr(dK·E) with what E itself bends.
func (l *likelihood) curvature(s state, rank int) curvature {
	h := curvature{k: elements(rank)}
	f := s.factor
	// E = dΛ·Λᵀ + Λ·dΛᵀ for the elements of Λ.
	along := [3]sym{{2 * f.a, f.b, 0}, {0, f.a, 2 * f.b}, {0, 0, 2 * f.c}}
	for j, e := range along[:h.k] {
		h.gradient[j] = s.k.inner(e)
		var da sym // −dA
		var moment vector
		for i, m := range l.m {
			da = da.plus(1, m.sandwich(e))
			moment = moment.add(m.times(e.times(l.u[i])))
		}
		inverse := s.inverse.sandwich(da) // dA⁻¹
		beta := s.inverse.times(vector{-moment.a, -moment.b})
		var dk sym
		for i, m := range l.m {
			dm := m.sandwich(e)
			dm = sym{-dm.a, -dm.b, -dm.c}
			eu := e.times(l.u[i]).add(beta)
			du := m.times(vector{-eu.a, -eu.b})
			dk = dk.plus(1, dm).plus(-1, product(dm, s.inverse, m)).plus(-1, m.sandwich(inverse)).
				plus(-1/s.variance, outerBoth(du, l.u[i]))
		}
		for i, other := range along[:h.k] {
			h.hessian[i][j] = dk.inner(other)
		}
		h.hessian[h.k][j] = s.spread.inner(e)
		h.hessian[j][h.k] = h.hessian[h.k][j]
		h.change[j] = sym{}.plus(s.variance, inverse)
	}
	if rank > 0 {
		h.hessian[0][0] += 2 * s.k.a
		h.hessian[0][1] += 2 * s.k.b
		h.hessian[1][0] += 2 * s.k.b
		h.hessian[1][1] += 2 * s.k.c
	}
	if rank == 2 {
		h.hessian[2][2] += 2 * s.k.c
	}
	h.hessian[h.k][h.k] = float64(l.n - 2)
	h.change[h.k] = sym{}.plus(s.variance, s.inverse)
	return h
}

// product is d·n·m + m·n·d.
func product(d, n, m sym) sym {
	p, q := d.times(vector{n.a, n.b}), d.times(vector{n.b, n.c}) // the columns of d·n
	a := vector{p.a*m.a + q.a*m.b, p.a*m.b + q.a*m.c}            // the rows of d·n·m
	b := vector{p.b*m.a + q.b*m.b, p.b*m.b + q.b*m.c}
	return sym{2 * a.a, a.b + b.a, 2 * b.b}
}

// profiled is the second derivative by the factor with the residual variance at
// its best.
func (h *curvature) profiled() (p [3][3]float64) {
	for i := range h.k {
		for j := range h.k {
			p[i][j] = h.hessian[i][j] - h.hessian[i][h.k]*h.hessian[h.k][j]/h.hessian[h.k][h.k]
		}
	}
	return p
}

// newton is −(H + damping·I)⁻¹·gradient, and the drop of the deviance that the
// quadratic promises; ok is false where the matrix is not positive definite.
func (h *curvature) newton(damping float64) (step [3]float64, drop float64, ok bool) {
	p := h.profiled()
	k := h.k
	var l [3][3]float64
	for j := range k {
		for i := j; i < k; i++ {
			s := p[i][j]
			if i == j {
				s += damping
			}
			for q := range j {
				s -= l[i][q] * l[j][q]
			}
			if i > j {
				l[i][j] = s / l[j][j]
				continue
			}
			if !(s > definite*(math.Abs(p[j][j])+damping)) {
				return step, 0, false
			}
			l[j][j] = math.Sqrt(s)
		}
	}
	for i := range k {
		s := -h.gradient[i]
		for q := range i {
			s -= l[i][q] * step[q]
		}
		step[i] = s / l[i][i]
		drop += step[i] * step[i] / 2
	}
	for i := k - 1; i >= 0; i-- {
		for q := i + 1; q < k; q++ {
			step[i] -= l[q][i] * step[q]
		}
		step[i] /= l[i][i]
	}
	return step, drop, true
}

// definite is the part of a diagonal element that has to be left of it in the
// decomposition.
const definite = 1e-10
