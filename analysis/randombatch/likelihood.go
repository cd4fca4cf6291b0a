package randombatch

import "math"

// state is the restricted likelihood at a factor of the random effects, the fixed
// effects and the residual variance at their best for it.
//
// With W = I + R·G·Rᵀ, G = Λ·Λᵀ the covariance of the random effects relative to
// the residual variance σ², M = RᵀW⁻¹R and u = RᵀW⁻¹(c − Rβ) of each batch,
//
//	−2·log L = (N − 2)·ln(2πσ²) + Σ ln|W| + ln|A| + S/σ²,  A = ΣM,
//
// where β makes Σu zero and S is the sum of squares that is left (Pinheiro &
// Bates, Mixed-Effects Models in S and S-PLUS, 2000, 2.2; the triangular reduction
// [RΛ R c; I 0 0] of each batch is theirs). A change dG changes it by tr(K·dG),
//
//	K = Σ (M − M·A⁻¹·M − u·uᵀ/σ²),
//
// which is zero in the interior, and at a boundary of the covariances positive
// semidefinite with K·G = 0.
type state struct {
	factor
	deviance float64 // −2·log L in the design's coordinates, without (N − 2)·ln 2π
	beta     vector
	variance float64 // σ²
	inverse  sym     // A⁻¹
	k        sym
	spread   sym // Σu·uᵀ/σ²
}

// likelihood is the restricted likelihood of a design, with room for what each
// batch adds at the factor last evaluated.
//
// It has a basis of its own, a factor of I + G₀ with G₀ a first guess of the
// covariance of the random effects: coefficients are basis times those worked
// with, and so are random effects. Variation between batches ten thousand times
// as large as their error in one direction and none across it are then of one
// size, and a covariance near the guess is near the identity or within it.
type likelihood struct {
	*design
	basis     factor
	guess     factor    // of G₀, in the basis
	batches   []reduced // in the basis
	projected []projection
	m         []sym
	u         []vector
}

func newLikelihood(d *design) *likelihood {
	n := len(d.batches)
	l := &likelihood{design: d, batches: make([]reduced, n), projected: make([]projection, n), m: make([]sym, n), u: make([]vector, n)}
	guess := d.moments()
	l.basis.a = math.Hypot(guess.a, 1)
	l.basis.b = guess.a / l.basis.a * guess.b
	l.basis.c = math.Hypot(math.Hypot(guess.c, 1), guess.b/l.basis.a)
	l.guess.a, l.guess.c = guess.a/l.basis.a, guess.c/l.basis.c
	l.guess.b = (guess.b - l.basis.b*l.guess.a) / l.basis.c
	for i := range d.batches {
		l.batches[i] = d.batches[i].in(l.basis)
	}
	return l
}

// in turns R into the triangle of R·basis, and c with it.
func (b reduced) in(basis factor) reduced {
	p, q := b.r11*basis.a+b.r12*basis.b, b.r22*basis.b // its first column
	h := math.Hypot(p, q)
	cos, sin := p/h, q/h
	return reduced{
		r11: h,
		r12: (cos*b.r12 + sin*b.r22) * basis.c,
		r22: b.r11 * basis.a * b.r22 * basis.c / h, // the determinant is what it was
		c1:  cos*b.c1 + sin*b.c2,
		c2:  cos*b.c2 - sin*b.c1,
		rss: b.rss,
	}
}

// natural takes coefficients out of the basis.
func (l *likelihood) natural(v vector) vector {
	return vector{l.basis.a * v.a, l.basis.b*v.a + l.basis.c*v.b}
}

// naturalCovariance takes a covariance of coefficients or random effects out of it.
func (l *likelihood) naturalCovariance(m sym) sym {
	a, b, c := l.basis.a, l.basis.b, l.basis.c
	return sym{a * a * m.a, a * (b*m.a + c*m.b), b*b*m.a + 2*b*c*m.b + c*c*m.c}
}

// at evaluates the likelihood. The fixed effects come of sums over batches of
// what is left of each design when the random effects are projected out, so that
// nothing cancels however large they are.
func (l *likelihood) at(f factor) state {
	var a sym
	var moment vector
	logs := 0.0
	for i := range l.batches {
		t := &l.projected[i]
		*t = l.batches[i].project(f)
		logs += t.logDet
		l.m[i] = sym{t.x11*t.x11 + t.x21*t.x21, t.x11*t.x12 + t.x21*t.x22, t.x12*t.x12 + t.x22*t.x22}
		a = a.plus(1, l.m[i])
		moment = moment.add(vector{t.x11*t.y1 + t.x21*t.y2, t.x12*t.y1 + t.x22*t.y2})
	}
	s := state{factor: f}
	var determinant float64
	s.inverse, determinant = a.inverse()
	s.beta = s.inverse.times(moment)
	rss := l.rss
	for i := range l.projected {
		t := &l.projected[i]
		e1 := t.y1 - t.x11*s.beta.a - t.x12*s.beta.b
		e2 := t.y2 - t.x21*s.beta.a - t.x22*s.beta.b
		rss += e1*e1 + e2*e2
		l.u[i] = vector{t.x11*e1 + t.x21*e2, t.x12*e1 + t.x22*e2}
	}
	df := float64(l.n - 2)
	s.variance = rss / df
	s.deviance = df*(math.Log(s.variance)+1) + logs + math.Log(determinant) - 2*math.Log(l.basis.a*l.basis.c)
	if !(determinant > 0 && s.variance > 0) || math.IsNaN(s.deviance) {
		s.deviance = math.Inf(1) // lost in rounding, so far is the factor from any that fits
	}
	for i, m := range l.m {
		s.spread = s.spread.plus(1/s.variance, outer(l.u[i]))
		s.k = s.k.plus(1, m).plus(-1, m.sandwich(s.inverse))
	}
	s.k = s.k.plus(-1, s.spread)
	return s
}

// projection is what is left of a batch, [x11 x12 | y1; x21 x22 | y2], when its
// random effects are projected out, and ln|W|.
type projection struct {
	x11, x12, x21, x22, y1, y2 float64
	logDet                     float64
}

// project triangularizes [RΛ R c; I 0 0] by two Householder reflections and keeps
// the last two rows of the last three columns.
func (b *reduced) project(f factor) projection {
	p1, p2 := b.r11*f.a+b.r12*f.b, b.r22*f.b // RΛ, first column
	q1, q2 := b.r12*f.c, b.r22*f.c           // second

	norm := math.Sqrt(p1*p1 + p2*p2 + 1)
	v := p1 + math.Copysign(norm, p1) // the reflection's vector is v, p2, 1, 0
	tau := 1 / (norm * math.Abs(v))
	k := tau * (v*q1 + p2*q2)
	q2, q3, q4 := q2-k*p2, -k, 1.0
	k = tau * v * b.r11
	x2, x3 := -k*p2, -k
	k = tau * (v*b.r12 + p2*b.r22)
	z2, z3 := b.r22-k*p2, -k
	k = tau * (v*b.c1 + p2*b.c2)
	y2, y3 := b.c2-k*p2, -k

	second := math.Sqrt(q2*q2 + q3*q3 + q4*q4)
	w := q2 + math.Copysign(second, q2) // w, q3, q4
	tau = 1 / (second * math.Abs(w))
	x := projection{logDet: 2 * (math.Log(norm) + math.Log(second))}
	k = tau * (w*x2 + q3*x3)
	x.x11, x.x21 = x3-k*q3, -k*q4
	k = tau * (w*z2 + q3*z3)
	x.x12, x.x22 = z3-k*q3, -k*q4
	k = tau * (w*y2 + q3*y3)
	x.y1, x.y2 = y3-k*q3, -k*q4
	return x
}
