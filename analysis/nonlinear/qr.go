package nonlinear

import "math"

// pivotedQR is the Householder QR decomposition A·P = Q·R of an m×n matrix,
// m ≥ n, with the column of greatest remaining length taken next (Golub & Van
// Loan, Matrix Computations, 5.4). R stands in the upper triangle of a, row by
// row, with its diagonal in rdiag; Q is applied on the way and not kept.
type pivotedQR struct {
	m, n   int
	a      []float64
	length []float64 // of A's columns, by parameter
	rdiag  []float64
	perm   []int // column j of A·P is column perm[j] of A
}

// load takes a matrix given row by row.
func (q *pivotedQR) load(a []float64) {
	copy(q.a, a)
	for j := range q.n {
		q.length[j] = columnNorm(q.a, j, q.n)
		q.perm[j] = j
	}
}

// r gives R(i, j), i ≤ j.
func (q *pivotedQR) r(i, j int) float64 {
	if i == j {
		return q.rdiag[i]
	}
	return q.a[i*q.n+j]
}

// factor decomposes the matrix loaded and turns b into Qᵀb.
func (q *pivotedQR) factor(b []float64) {
	m, n, a := q.m, q.n, q.a
	for j := range n {
		// The lengths that remain are taken afresh: with the few parameters of
		// a model that costs little, and updating them loses digits.
		best, pivot := -1.0, j
		for k := j; k < n; k++ {
			if l := columnNorm(a[j*n:], k, n); l > best {
				best, pivot = l, k
			}
		}
		if pivot != j {
			for i := range m {
				a[i*n+j], a[i*n+pivot] = a[i*n+pivot], a[i*n+j]
			}
			q.perm[j], q.perm[pivot] = q.perm[pivot], q.perm[j]
		}
		if best == 0 {
			q.rdiag[j] = 0
			continue
		}
		// v = a/‖a‖ with v₀ + sign(v₀): the reflection I − v·vᵀ/v₀.
		if a[j*n+j] < 0 {
			best = -best
		}
		for i := j; i < m; i++ {
			a[i*n+j] /= best
		}
		a[j*n+j]++
		head := a[j*n+j]
		for k := j + 1; k < n; k++ {
			s := 0.0
			for i := j; i < m; i++ {
				s += a[i*n+j] * a[i*n+k]
			}
			s /= head
			for i := j; i < m; i++ {
				a[i*n+k] -= s * a[i*n+j]
			}
		}
		s := 0.0
		for i := j; i < m; i++ {
			s += a[i*n+j] * b[i]
		}
		s /= head
		for i := j; i < m; i++ {
			b[i] -= s * a[i*n+j]
		}
		q.rdiag[j] = -best
	}
}

// lengthOfProduct is ‖A·p‖ = ‖R·Pᵀp‖; work has n places.
func (q *pivotedQR) lengthOfProduct(p, work []float64) float64 {
	for i := range q.n {
		s := 0.0
		for j := i; j < q.n; j++ {
			s += q.r(i, j) * p[q.perm[j]]
		}
		work[i] = s
	}
	return norm(work)
}

// inverseNormal gives (AᵀA)⁻¹ = P·R⁻¹·R⁻ᵀ·Pᵀ, row by row, or nil where a
// diagonal element of R is no more than tolerance times the first.
func (q *pivotedQR) inverseNormal(tolerance float64) []float64 {
	n := q.n
	for j := range n {
		if !(math.Abs(q.rdiag[j]) > tolerance*math.Abs(q.rdiag[0])) {
			return nil
		}
	}
	inv := make([]float64, n*n)
	for j := range n {
		inv[j*n+j] = 1 / q.rdiag[j]
		for i := j - 1; i >= 0; i-- {
			s := 0.0
			for k := i + 1; k <= j; k++ {
				s -= q.r(i, k) * inv[k*n+j]
			}
			inv[i*n+j] = s / q.rdiag[i]
		}
	}
	out := make([]float64, n*n)
	for i := range n {
		for j := i; j < n; j++ {
			s := 0.0
			for k := j; k < n; k++ {
				s += inv[i*n+k] * inv[j*n+k]
			}
			a, b := q.perm[i], q.perm[j]
			out[a*n+b], out[b*n+a] = s, s
		}
	}
	return out
}
