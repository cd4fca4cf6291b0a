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
	Factor     float64 // first trust radius against the length of the scaled start, 0.1 to 100; default 10
	Iterations int     // Jacobians evaluated at most; default 500
}

// What ends a fit.
const (
	reductionTolerance = 1e-14 // of the sum of squares, against itself
	stepTolerance      = 1e-12 // of a step's length against that of the parameters, both scaled
	offsetTolerance    = 1e-11 // of the part of the residuals' length that lies in the tangent plane
)

// Status says how a fit ended.
type Status int

// How a fit ended. The first three are converged.
const (
	ConvergedReduction Status = iota // no step can reduce the sum of squares, but for rounding
	ConvergedStep                    // the steps are as short as rounding
	ConvergedGradient                // the residuals are orthogonal to the model's tangent plane
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

// Result is what a fit came to. Parameters and RSS are those of the best point
// reached, whatever the status.
type Result struct {
	Status     Status
	Parameters []float64
	RSS        float64 // residual sum of squares; no finite number where the residuals at the start are none
	DF         int     // M − N
	// Unscaled is (JᵀJ)⁻¹ at the parameters, row-major N×N, from the QR
	// decomposition of the Jacobian; times the residual mean square it is the
	// asymptotic covariance. Nil unless Status is converged.
	Unscaled []float64

	Iterations int // Jacobians evaluated
}

const epsilon = 0x1p-52

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
	m, n := problem.M, problem.N
	res := &Result{Parameters: append([]float64(nil), start...), DF: m - n}
	if n < 1 || m < n || len(start) != n {
		res.Status = TooFewData
		return res
	}
	if !(settings.Factor > 0) {
		settings.Factor = 10
	}
	if settings.Iterations <= 0 {
		settings.Iterations = 500
	}
	s := &search{workspace: newWorkspace(m, n), Problem: problem, Settings: settings, x: res.Parameters}
	if s.Jacobian == nil {
		s.Jacobian = func(dst, p []float64) { s.differences(s.Residuals, dst, p) }
	}
	res.Status = s.run()
	if res.Status.Converged() {
		s.polish()
		res.Unscaled, res.Status = s.covariance(res.Status, problem.Jacobian == nil)
	}
	res.RSS, res.Iterations = s.fnorm*s.fnorm, s.jacobians
	return res
}

// search is a fit on its way.
type search struct {
	*workspace
	Problem
	Settings
	x            []float64 // the best parameters reached; their residuals are in the workspace's f
	fnorm, xnorm float64   // lengths of the residuals and of the scaled parameters
	radius, par  float64   // of the trust region, and the damping that keeps to it
	jacobians    int       // evaluated
}

// run steps downhill until a test of convergence is met or nothing helps.
func (s *search) run() Status {
	s.Residuals(s.f, s.x)
	s.fnorm = norm(s.f)
	if !finite(s.fnorm) {
		return NotFinite
	}
	for s.jacobians < s.Iterations {
		s.jacobians++
		s.Jacobian(s.jac, s.x)
		if !allFinite(s.jac) {
			return NotFinite
		}
		s.qr.load(s.jac)
		copy(s.qtf, s.f)
		s.qr.factor(s.qtf)
		s.rescale()
		if s.offset(s.fnorm) <= offsetTolerance {
			return ConvergedGradient
		}
		for accepted := false; !accepted; {
			var status Status
			var ended bool
			if accepted, status, ended = s.try(); ended {
				return status
			}
		}
	}
	return IterationLimit
}

// rescale lets the parameters' scales grow with the columns of the Jacobian, and
// sets them, and the trust region, at first.
func (s *search) rescale() {
	for j, length := range s.qr.length {
		s.scale[j] = max(s.scale[j], length)
		if s.scale[j] == 0 {
			s.scale[j] = 1
		}
	}
	if s.jacobians == 1 {
		s.xnorm = s.scaledNorm(s.x)
		s.radius = s.Factor * s.xnorm
		if s.radius == 0 {
			s.radius = s.Factor
		}
	}
}

// try makes one step within the trust region, takes it where it leads downhill,
// and fits the region to how well the step was foretold.
func (s *search) try() (accepted bool, status Status, ended bool) {
	s.par = s.step(s.radius, s.par)
	for j, p := range s.p {
		s.trial[j] = s.x[j] - p
	}
	pnorm := s.scaledNorm(s.p)
	if !finite(pnorm) {
		return false, NotFinite, true
	}
	if s.jacobians == 1 {
		s.radius = min(s.radius, pnorm)
	}
	s.Residuals(s.ftrial, s.trial)
	length := norm(s.ftrial)

	// Relative reductions, actual and predicted, and the slope along the step.
	sane := finite(length) && length < 10*s.fnorm
	actual := -1.0
	if sane {
		actual = 1 - (length/s.fnorm)*(length/s.fnorm)
	}
	linear := s.qr.lengthOfProduct(s.p, s.wa) / s.fnorm
	damping := math.Sqrt(s.par) * pnorm / s.fnorm
	predicted := linear*linear + 2*damping*damping
	slope := -(linear*linear + damping*damping)
	ratio := 0.0
	if predicted != 0 {
		ratio = actual / predicted
	}
	switch {
	case ratio <= 0.25:
		shrink := 0.5
		if actual < 0 {
			shrink = 0.5 * slope / (slope + 0.5*actual)
		}
		if !sane || shrink < 0.1 {
			shrink = 0.1
		}
		s.radius = shrink * min(s.radius, 10*pnorm)
		s.par /= shrink
	case s.par == 0 || ratio >= 0.75:
		s.radius = 2 * pnorm
		s.par /= 2
	}
	if accepted = ratio >= 1e-4; accepted {
		copy(s.x, s.trial)
		copy(s.f, s.ftrial)
		s.xnorm = s.scaledNorm(s.x)
		s.fnorm = length
	}
	standing := s.radius <= stepTolerance*s.xnorm
	switch {
	case s.fnorm == 0:
		return accepted, ConvergedGradient, true
	case max(math.Abs(actual), predicted) <= reductionTolerance && ratio <= 2:
		return accepted, ConvergedReduction, true
	case standing && !finite(length):
		// However short the step, it leaves the model's domain.
		return accepted, NotFinite, true
	case standing:
		return accepted, ConvergedStep, true
	}
	return accepted, status, false
}

// polish takes Gauss–Newton steps, halved where need be, as long as each brings
// the residuals nearer to a right angle with the tangent plane. Close to the
// solution that angle still tells better from worse where the sum of squares,
// flat there, is lost in rounding; a sum that rises by more than rounding is not
// taken.
func (s *search) polish() {
	const (
		rounding = 1e-10
		steps    = 50
		shortest = 0.1
	)
	// offset decomposes the Jacobian at a point whose residuals are in ftrial.
	offset := func(x []float64, length float64) float64 {
		s.Jacobian(s.jac, x)
		if !allFinite(s.jac) {
			return math.Inf(1)
		}
		s.qr.load(s.jac)
		copy(s.qtf, s.ftrial)
		s.qr.factor(s.qtf)
		return s.offset(length)
	}
	copy(s.ftrial, s.f)
	now := offset(s.x, s.fnorm)
	if math.IsInf(now, 1) {
		return
	}
	s.step(math.Inf(1), 0)
	copy(s.newton, s.p)
	share := 1.0
	for k := 0; k < steps && share > shortest && now > 0; k++ {
		for j, x := range s.x {
			s.trial[j] = x - share*s.newton[j]
		}
		s.Residuals(s.ftrial, s.trial)
		length := norm(s.ftrial)
		next := math.Inf(1)
		if length <= s.fnorm*(1+rounding) {
			next = offset(s.trial, length)
		}
		if !(next < now) {
			share /= 2
			continue
		}
		now, s.fnorm = next, length
		copy(s.x, s.trial)
		copy(s.f, s.ftrial)
		s.step(math.Inf(1), 0)
		copy(s.newton, s.p)
	}
}

// covariance is (JᵀJ)⁻¹ at the solution, where the data tell the parameters
// apart. Columns are brought to one length first, so that the verdict on their
// rank does not depend on the parameters' units.
func (s *search) covariance(status Status, differences bool) ([]float64, Status) {
	s.Jacobian(s.jac, s.x)
	if !allFinite(s.jac) {
		return nil, NotFinite
	}
	n := s.qr.n
	length := make([]float64, n)
	for j := range n {
		length[j] = columnNorm(s.jac, j, n)
		if length[j] == 0 {
			return nil, Singular
		}
		for i := j; i < len(s.jac); i += n {
			s.jac[i] /= length[j]
		}
	}
	s.qr.load(s.jac)
	s.qr.factor(s.qtf)
	tolerance := rankTolerance
	if differences {
		tolerance = rankToleranceDifferences
	}
	inverse := s.qr.inverseNormal(tolerance)
	if inverse == nil {
		return nil, Singular
	}
	for i := range n {
		for j := range n {
			inverse[i*n+j] /= length[i] * length[j]
		}
	}
	return inverse, status
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
