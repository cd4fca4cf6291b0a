// Package nonlinear fits models that are not linear in their parameters by
// least squares.
package nonlinear

import (
	"fmt"
	"math"
)

// Problem is a sum of squares to be made least: M residuals of N parameters,
// M ≥ N ≥ 1. Residuals are model less observation, or the reverse, as long as
// the Jacobian agrees.
type Problem struct {
	M, N int
	// Residuals writes the M residuals at the parameters p into dst. Where it
	// writes a value that is no finite number, the step that led there is taken
	// back and a shorter one tried.
	Residuals func(dst, p []float64)
	// Jacobian writes the derivatives of the residuals into dst, row by row:
	// dst[i*N+j] is that of residual i by parameter j. Where it is nil,
	// central differences are used.
	Jacobian func(dst, p []float64)
}

// Settings governs a fit; a zero field takes its default.
type Settings struct {
	FTol       float64 // relative reduction of the sum of squares that ends the fit; default 1e-14
	XTol       float64 // length of a step against that of the parameters, both scaled; default 1e-12
	GTol       float64 // part of the residuals' length that lies in the tangent plane; default 1e-11
	Factor     float64 // first trust radius against the length of the scaled start, 0.1 to 100; default 10
	Iterations int     // Jacobians evaluated at most; default 500
}

// Status says how a fit ended.
type Status int

// How a fit ended. The first three are converged.
const (
	ConvergedReduction Status = iota // no step can reduce the sum of squares by more than FTol of itself
	ConvergedStep                    // the steps are shorter than XTol
	ConvergedGradient                // the residuals are orthogonal to the model's tangent plane within GTol
	IterationLimit                   // not converged after the iterations allowed
	Singular                         // converged, but the data cannot tell the parameters apart there: they have no errors
	NotFinite                        // the residuals, the Jacobian or the step they ask for are no finite numbers
	TooFewData                       // fewer residuals than parameters, or no parameters
)

var statusText = [...]string{
	"converged: the sum of squares falls no further",
	"converged: the parameters move no further",
	"converged: the residuals are orthogonal to the model's tangent plane",
	"not converged within the iterations allowed",
	"the data cannot tell the parameters apart",
	"the model gives no finite number",
	"fewer data than parameters",
}

// String says it in words.
func (s Status) String() string {
	if s < 0 || int(s) >= len(statusText) {
		return fmt.Sprintf("status %d", int(s))
	}
	return statusText[s]
}

// Converged reports whether the parameters are a solution with errors.
func (s Status) Converged() bool { return s <= ConvergedGradient }

// Result is what a fit came to. Parameters, RSS and the measures are those of
// the best point reached, whatever the status.
type Result struct {
	Status     Status
	Parameters []float64
	RSS        float64 // residual sum of squares
	DF         int     // M − N
	// Unscaled is (JᵀJ)⁻¹ at the parameters, row-major N×N, from the QR
	// decomposition of the Jacobian; times the residual mean square it is the
	// asymptotic covariance. Nil unless Status is converged.
	Unscaled []float64

	Iterations  int // Jacobians evaluated
	Evaluations int // of the residuals, those for differences left out

	// What the three convergence tests measured at the end.
	Reduction float64 // the larger of the actual and the predicted relative reduction by the last step
	Step      float64 // last trust radius against the length of the scaled parameters
	Gradient  float64 // part of the residuals' length that lies in the tangent plane, the relative offset
}

const epsilon = 0x1p-52

func (s Settings) withDefaults() Settings {
	pick := func(v *float64, otherwise float64) {
		if !(*v > 0) {
			*v = otherwise
		}
	}
	pick(&s.FTol, 1e-14)
	pick(&s.XTol, 1e-12)
	pick(&s.GTol, 1e-11)
	pick(&s.Factor, 10)
	if s.Iterations <= 0 {
		s.Iterations = 500
	}
	return s
}

// Fit makes the sum of squares of the problem least, from a start that is left
// as it is.
//
// It is the trust region form of the Levenberg–Marquardt method of Moré (1978,
// "The Levenberg–Marquardt algorithm: implementation and theory", Lecture
// Notes in Mathematics 630, 105–116), as in MINPACK's lmder: each step
// minimizes the linearized sum of squares within a radius in scaled
// parameters; a parameter's scale is the greatest length its column of the
// Jacobian has had, which makes the steps independent of the parameters'
// units; the linear problems are solved by QR with column pivoting. The
// gradient is tested as ‖Q₁ᵀf‖/‖f‖, the relative offset of Bates & Watts (1981,
// Technometrics 23, 179–183) but for its degrees of freedom: unlike the cosines
// with single columns it bounds the error of the parameters in standard errors
// also where they are all but collinear.
func Fit(problem Problem, start []float64, settings Settings) *Result {
	set := settings.withDefaults()
	m, n := problem.M, problem.N
	res := &Result{Parameters: append([]float64(nil), start...), DF: m - n}
	if n < 1 || m < n || len(start) != n {
		res.Status = TooFewData
		return res
	}
	x := res.Parameters
	w := newWorkspace(m, n)
	jacobian := problem.Jacobian
	if jacobian == nil {
		jacobian = func(dst, p []float64) { w.differences(problem.Residuals, dst, p) }
	}

	problem.Residuals(w.f, x)
	res.Evaluations++
	fnorm := norm(w.f)
	if !finite(fnorm) {
		res.Status = NotFinite
		return res
	}

	par, radius, xnorm := 0.0, 0.0, 0.0
	for {
		if res.Iterations == set.Iterations {
			res.Status = IterationLimit
			res.RSS = fnorm * fnorm
			return res
		}
		jacobian(w.jac, x)
		res.Iterations++
		if !allFinite(w.jac) {
			res.Status = NotFinite
			res.RSS = fnorm * fnorm
			return res
		}
		w.qr.load(w.jac)
		copy(w.qtf, w.f)
		w.qr.factor(w.qtf)

		if res.Iterations == 1 {
			for j := range n {
				w.scale[j] = w.qr.length[j]
				if w.scale[j] == 0 {
					w.scale[j] = 1
				}
			}
			xnorm = w.scaledNorm(x)
			radius = set.Factor * xnorm
			if radius == 0 {
				radius = set.Factor
			}
		}

		res.Gradient = w.offset(fnorm)
		if res.Gradient <= set.GTol {
			res.Status = ConvergedGradient
			break
		}
		for j := range n {
			w.scale[j] = max(w.scale[j], w.qr.length[j])
		}

		accepted := false
		for !accepted {
			par = w.step(radius, par)
			for j := range n {
				w.trial[j] = x[j] - w.p[j]
			}
			pnorm := w.scaledNorm(w.p)
			if !finite(pnorm) {
				res.Status = NotFinite
				res.RSS = fnorm * fnorm
				return res
			}
			if res.Iterations == 1 {
				radius = min(radius, pnorm)
			}
			problem.Residuals(w.ftrial, w.trial)
			res.Evaluations++
			fnorm1 := norm(w.ftrial)

			// Relative reductions, actual and predicted, and the slope along the step.
			actual := -1.0
			if finite(fnorm1) && fnorm1 < 10*fnorm {
				actual = 1 - (fnorm1/fnorm)*(fnorm1/fnorm)
			}
			linear := w.qr.lengthOfProduct(w.p, w.wa) / fnorm
			damping := math.Sqrt(par) * pnorm / fnorm
			predicted := linear*linear + 2*damping*damping
			slope := -(linear*linear + damping*damping)
			ratio := 0.0
			if predicted != 0 {
				ratio = actual / predicted
			}

			if ratio <= 0.25 {
				shrink := 0.5
				if actual < 0 {
					shrink = 0.5 * slope / (slope + 0.5*actual)
				}
				if !finite(fnorm1) || fnorm1 >= 10*fnorm || shrink < 0.1 {
					shrink = 0.1
				}
				radius = shrink * min(radius, 10*pnorm)
				par /= shrink
			} else if par == 0 || ratio >= 0.75 {
				radius = 2 * pnorm
				par /= 2
			}

			if ratio >= 1e-4 {
				accepted = true
				copy(x, w.trial)
				copy(w.f, w.ftrial)
				xnorm = w.scaledNorm(x)
				fnorm = fnorm1
			}

			res.Reduction = max(math.Abs(actual), predicted)
			res.Step = math.Inf(1)
			if xnorm > 0 {
				res.Step = radius / xnorm
			} else if radius == 0 {
				res.Step = 0
			}
			switch {
			case fnorm == 0:
				res.Gradient = 0
				res.Status = ConvergedGradient
			case res.Reduction <= set.FTol && ratio <= 2:
				res.Status = ConvergedReduction
			case res.Step <= set.XTol && !finite(fnorm1):
				// However short the step, it leaves the model's domain.
				res.Status = NotFinite
				res.RSS = fnorm * fnorm
				return res
			case res.Step <= set.XTol:
				res.Status = ConvergedStep
			default:
				continue
			}
			return w.finish(res, &problem, jacobian, fnorm)
		}
	}
	return w.finish(res, &problem, jacobian, fnorm)
}

// polish takes Gauss–Newton steps, halved where need be, as long as each brings
// the residuals nearer to a right angle with the tangent plane. Close to the
// solution that angle still tells better from worse where the sum of squares,
// flat there, is lost in rounding; a sum that rises by more than rounding is not
// taken.
func (w *workspace) polish(res *Result, problem *Problem, jacobian func(dst, p []float64), fnorm float64) float64 {
	const (
		rounding = 1e-10
		steps    = 50
		shortest = 0.1
	)
	// offset decomposes the Jacobian at a point whose residuals are in w.ftrial.
	offset := func(x []float64, length float64) float64 {
		jacobian(w.jac, x)
		if !allFinite(w.jac) {
			return math.Inf(1)
		}
		w.qr.load(w.jac)
		copy(w.qtf, w.ftrial)
		w.qr.factor(w.qtf)
		return w.offset(length)
	}
	copy(w.ftrial, w.f)
	now := offset(res.Parameters, fnorm)
	if math.IsInf(now, 1) {
		return fnorm
	}
	res.Gradient = now
	w.step(math.Inf(1), 0)
	copy(w.newton, w.p)
	share := 1.0
	for k := 0; k < steps && share > shortest && now > 0; k++ {
		for j, x := range res.Parameters {
			w.trial[j] = x - share*w.newton[j]
		}
		problem.Residuals(w.ftrial, w.trial)
		res.Evaluations++
		length := norm(w.ftrial)
		next := math.Inf(1)
		if length <= fnorm*(1+rounding) {
			next = offset(w.trial, length)
		}
		if !(next < now) {
			share /= 2
			continue
		}
		now, fnorm = next, length
		res.Gradient = now
		copy(res.Parameters, w.trial)
		copy(w.f, w.ftrial)
		w.step(math.Inf(1), 0)
		copy(w.newton, w.p)
	}
	return fnorm
}

// finish takes the covariance from the Jacobian at the solution. Columns are
// brought to one length first, so that the verdict on their rank does not
// depend on the parameters' units.
func (w *workspace) finish(res *Result, problem *Problem, jacobian func(dst, p []float64), fnorm float64) *Result {
	fnorm = w.polish(res, problem, jacobian, fnorm)
	res.RSS = fnorm * fnorm
	jacobian(w.jac, res.Parameters)
	if !allFinite(w.jac) {
		res.Status = NotFinite
		return res
	}
	n := w.qr.n
	length := make([]float64, n)
	for j := range n {
		length[j] = columnNorm(w.jac, j, n)
		if length[j] == 0 {
			res.Status = Singular
			return res
		}
		for i := j; i < len(w.jac); i += n {
			w.jac[i] /= length[j]
		}
	}
	w.qr.load(w.jac)
	w.qr.factor(w.qtf)
	tolerance := rankTolerance
	if problem.Jacobian == nil {
		tolerance = rankToleranceDifferences
	}
	inverse := w.qr.inverseNormal(tolerance)
	if inverse == nil {
		res.Status = Singular
		return res
	}
	for i := range n {
		for j := range n {
			inverse[i*n+j] /= length[i] * length[j]
		}
	}
	res.Unscaled = inverse
	return res
}

// rankTolerance is the part of a column of the Jacobian, all brought to length
// 1, that has to be left when its projection on the others is taken away; differences know a column to ε^(2/3) only.
const (
	rankTolerance            = 1e-11
	rankToleranceDifferences = 1e-8
)

type workspace struct {
	qr                              pivotedQR
	jac                             []float64
	f, ftrial, qtf                  []float64
	fup, fdown, at                  []float64 // of the differences
	scale, trial, p, wa, wa2, sdiag []float64
	newton                          []float64
	s                               []float64 // n×n triangle of the damped problem
}

func newWorkspace(m, n int) *workspace {
	buffer := make([]float64, 2*m*n+5*m+10*n+n*n)
	take := func(k int) []float64 {
		s := buffer[:k:k]
		buffer = buffer[k:]
		return s
	}
	return &workspace{
		qr:  pivotedQR{m: m, n: n, a: take(m * n), length: take(n), rdiag: take(n), perm: make([]int, n)},
		jac: take(m * n),
		f:   take(m), ftrial: take(m), qtf: take(m),
		fup: take(m), fdown: take(m), at: take(n),
		scale: take(n), trial: take(n), p: take(n), wa: take(n), wa2: take(n), sdiag: take(n), newton: take(n),
		s: take(n * n),
	}
}

func (w *workspace) scaledNorm(v []float64) float64 {
	for j, s := range w.scale {
		w.wa[j] = s * v[j]
	}
	return norm(w.wa)
}

// offset is the part of the residuals' length that lies in the space the
// columns of the Jacobian span.
func (w *workspace) offset(fnorm float64) float64 {
	if fnorm == 0 {
		return 0
	}
	return norm(w.qtf[:w.qr.n]) / fnorm
}

// differences fills the Jacobian by central differences with a step of the
// cube root of the machine's precision, which balances truncation (h²) and
// rounding (ε/h).
func (w *workspace) differences(residuals func(dst, p []float64), dst, p []float64) {
	n := len(p)
	copy(w.at, p)
	for j := range n {
		h := math.Cbrt(epsilon) * math.Abs(p[j])
		if h == 0 {
			h = math.Cbrt(epsilon)
		}
		up, down := p[j]+h, p[j]-h
		w.at[j] = up
		residuals(w.fup, w.at)
		w.at[j] = down
		residuals(w.fdown, w.at)
		w.at[j] = p[j]
		for i := range w.fup {
			dst[i*n+j] = (w.fup[i] - w.fdown[i]) / (up - down)
		}
	}
}

// norm is the Euclidean length; values are divided by the largest first only
// where their squares would overflow or vanish.
func norm(v []float64) float64 { return columnNorm(v, 0, 1) }

// columnNorm is the length of column j of a matrix of n columns, row by row.
func columnNorm(a []float64, j, n int) float64 {
	s := 0.0
	for i := j; i < len(a); i += n {
		s += a[i] * a[i]
	}
	if s > 1e-280 && s < 1e280 || math.IsNaN(s) {
		return math.Sqrt(s)
	}
	largest := 0.0
	for i := j; i < len(a); i += n {
		largest = max(largest, math.Abs(a[i]))
	}
	if largest == 0 || math.IsInf(largest, 1) {
		return largest
	}
	s = 0
	for i := j; i < len(a); i += n {
		s += (a[i] / largest) * (a[i] / largest)
	}
	return largest * math.Sqrt(s)
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func allFinite(v []float64) bool {
	for _, x := range v {
		if !finite(x) {
			return false
		}
	}
	return true
}
