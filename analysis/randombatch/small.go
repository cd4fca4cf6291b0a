package randombatch

import "math"

// vector is a pair: coefficients of a line, or what takes them to a number.
type vector struct{ a, b float64 }

func (v vector) dot(w vector) float64 { return v.a*w.a + v.b*w.b }

func (v vector) add(w vector) vector { return vector{v.a + w.a, v.b + w.b} }

// sym is a symmetric 2×2 matrix: [a b; b c].
type sym struct{ a, b, c float64 }

func (m sym) plus(k float64, n sym) sym { return sym{m.a + k*n.a, m.b + k*n.b, m.c + k*n.c} }

func (m sym) times(v vector) vector { return vector{m.a*v.a + m.b*v.b, m.b*v.a + m.c*v.b} }

// form is vᵀ·m·v.
func (m sym) form(v vector) float64 { return v.a*v.a*m.a + 2*v.a*v.b*m.b + v.b*v.b*m.c }

// sandwich is m·n·m.
func (m sym) sandwich(n sym) sym {
	p, q := m.times(vector{n.a, n.b}), m.times(vector{n.b, n.c}) // the columns of m·n
	r, s := m.times(vector{p.a, q.a}), m.times(vector{p.b, q.b}) // those of m·(m·n)ᵀ
	return sym{r.a, (r.b + s.a) / 2, s.b}
}

// inner is the trace of m·n.
func (m sym) inner(n sym) float64 { return m.a*n.a + 2*m.b*n.b + m.c*n.c }

func outer(v vector) sym { return sym{v.a * v.a, v.a * v.b, v.b * v.b} }

// outerBoth is v·wᵀ + w·vᵀ.
func outerBoth(v, w vector) sym { return sym{2 * v.a * w.a, v.a*w.b + v.b*w.a, 2 * v.b * w.b} }

// inverse of a positive definite m, by its triangle.
func (m sym) inverse() (inverse sym, determinant float64) {
	l := m.b / m.a
	rest := m.c - l*m.b
	return sym{1/m.a + l*l/rest, -l / rest, 1 / rest}, m.a * rest
}

// eigen gives the eigenvalues, the smaller first, and the unit eigenvector of
// the larger one.
func (m sym) eigen() (small, large float64, direction vector) {
	mean, half := (m.a+m.c)/2, (m.a-m.c)/2
	r := math.Hypot(half, m.b)
	if r == 0 {
		return mean, mean, vector{1, 0}
	}
	angle := math.Atan2(m.b, half) / 2
	return mean - r, mean + r, vector{math.Cos(angle), math.Sin(angle)}
}

// factor is a 2×2 matrix of random effects relative to the residual standard
// deviation, lower triangular: [a 0; b c]. Times its transpose it is their
// covariance, so that any factor stands for one.
type factor struct{ a, b, c float64 }

func (f factor) covariance() sym { return sym{f.a * f.a, f.a * f.b, f.b*f.b + f.c*f.c} }

// factorOf takes a positive semidefinite covariance apart.
func factorOf(m sym) factor {
	if m.a <= 0 {
		return factor{0, 0, math.Sqrt(max(0, m.c))}
	}
	a := math.Sqrt(m.a)
	b := m.b / a
	return factor{a, b, math.Sqrt(max(0, m.c-b*b))}
}

// factorAlong is the factor of the covariance with these eigenvalues, the larger
// in the direction v, of length 1.
func factorAlong(v vector, large, small float64) factor {
	a := math.Hypot(math.Sqrt(large)*v.a, math.Sqrt(small)*v.b)
	return factor{a, (large - small) * v.a * v.b / a, math.Sqrt(large) * math.Sqrt(small) / a}
}
