package nonlinear

import "math"

// step finds the Levenberg–Marquardt parameter and writes the step into w.p:
// the Gauss–Newton step where it is within a tenth more than the radius, else
// the damped step p solving min ‖J·p − f‖² + par·‖D·p‖² whose scaled length
// ‖D·p‖ is within a tenth of the radius. The parameter is found by the
// safeguarded Newton iteration of Moré (1978, section 5) on
// φ(par) = ‖D·p(par)‖ − radius.
func (w *workspace) step(radius, par float64) float64 {
	q := &w.qr
	n := q.n

	// Gauss–Newton; where R has a zero on its diagonal the parameters from
	// there on stay put.
	rank := n
	for j := range n {
		w.wa[j] = w.qtf[j]
		if q.rdiag[j] == 0 && rank == n {
			rank = j
		}
		if rank < n {
			w.wa[j] = 0
		}
	}
	for j := rank - 1; j >= 0; j-- {
		w.wa[j] /= q.rdiag[j]
		for i := range j {
			w.wa[i] -= q.r(i, j) * w.wa[j]
		}
	}
	for j := range n {
		w.p[q.perm[j]] = w.wa[j]
	}
	for j := range n {
		w.wa2[j] = w.scale[j] * w.p[j]
	}
	dxnorm := norm(w.wa2)
	phi := dxnorm - radius
	if phi <= 0.1*radius {
		return 0
	}

	// Bounds of the parameter: below from the derivative at 0, where J has
	// full rank; above from the gradient.
	lower := 0.0
	if rank == n {
		for j := range n {
			l := q.perm[j]
			w.wa[j] = w.scale[l] * (w.wa2[l] / dxnorm)
		}
		for j := range n {
			s := 0.0
			for i := range j {
				s += q.r(i, j) * w.wa[i]
			}
			w.wa[j] = (w.wa[j] - s) / q.rdiag[j]
		}
		t := norm(w.wa)
		lower = ((phi / radius) / t) / t
	}
	for j := range n {
		s := 0.0
		for i := 0; i <= j; i++ {
			s += q.r(i, j) * w.qtf[i]
		}
		w.wa[j] = s / w.scale[q.perm[j]]
	}
	gnorm := norm(w.wa)
	upper := gnorm / radius
	if upper == 0 {
		upper = math.SmallestNonzeroFloat64 / min(radius, 0.1)
	}
	par = min(max(par, lower), upper)
	if par == 0 {
		par = gnorm / dxnorm
	}

	for iteration := 1; ; iteration++ {
		if par == 0 {
			par = max(0x1p-1022, 0.001*upper)
		}
		root := math.Sqrt(par)
		for j := range n {
			w.wa[j] = root * w.scale[j]
		}
		w.damped()
		for j := range n {
			w.wa2[j] = w.scale[j] * w.p[j]
		}
		dxnorm = norm(w.wa2)
		previous := phi
		phi = dxnorm - radius
		if math.Abs(phi) <= 0.1*radius || lower == 0 && phi <= previous && previous < 0 || iteration == 10 {
			return par
		}
		// Newton correction.
		for j := range n {
			l := q.perm[j]
			w.wa[j] = w.scale[l] * (w.wa2[l] / dxnorm)
		}
		for j := range n {
			w.wa[j] /= w.sdiag[j]
			for i := j + 1; i < n; i++ {
				w.wa[i] -= w.s[j*n+i] * w.wa[j]
			}
		}
		t := norm(w.wa)
		correction := ((phi / radius) / t) / t
		if phi > 0 {
			lower = max(lower, par)
		} else if phi < 0 {
			upper = min(upper, par)
		}
		par = max(lower, par+correction)
	}
}

// damped solves min ‖J·p − f‖² + ‖diag(w.wa)·p‖² into w.p. It rotates the
// diagonal into R by Givens rotations, which leaves the triangle S in w.s and
// w.sdiag, with the rotated right side in the step's place.
func (w *workspace) damped() {
	q := &w.qr
	n := q.n
	b := w.wa2 // rotated Qᵀf; free until the step is known
	for i := range n {
		for j := i; j < n; j++ {
			w.s[i*n+j] = q.r(i, j)
		}
		b[i] = w.qtf[i]
	}
	row := w.sdiag // one row of the diagonal matrix, filled up as it is rotated
	for j := range n {
		d := w.wa[q.perm[j]]
		if d == 0 {
			continue
		}
		for k := j; k < n; k++ {
			row[k] = 0
		}
		row[j] = d
		rhs := 0.0
		for k := j; k < n; k++ {
			if row[k] == 0 {
				continue
			}
			r := math.Hypot(w.s[k*n+k], row[k])
			c, s := w.s[k*n+k]/r, row[k]/r
			w.s[k*n+k] = r
			b[k], rhs = c*b[k]+s*rhs, -s*b[k]+c*rhs
			for i := k + 1; i < n; i++ {
				w.s[k*n+i], row[i] = c*w.s[k*n+i]+s*row[i], -s*w.s[k*n+i]+c*row[i]
			}
		}
	}
	rank := n
	for j := range n {
		w.sdiag[j] = w.s[j*n+j]
		if w.sdiag[j] == 0 && rank == n {
			rank = j
		}
		if rank < n {
			b[j] = 0
		}
	}
	for j := rank - 1; j >= 0; j-- {
		s := 0.0
		for i := j + 1; i < rank; i++ {
			s += w.s[j*n+i] * b[i]
		}
		b[j] = (b[j] - s) / w.sdiag[j]
	}
	for j := range n {
		w.p[q.perm[j]] = b[j]
	}
}
