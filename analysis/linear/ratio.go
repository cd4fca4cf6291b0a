package linear

import "math"

// RatioToInitial is the fitted mean at x over the fitted mean at 0, with its
// confidence limits at the quantile q by Fieller's theorem (J. R. Stat. Soc. B
// 16, 1954, 175). The lower one is where AgainstInitial comes down to zero.
// Where the initial mean cannot be told from zero at q, nothing bounds the
// ratio and the limits are −Inf and +Inf.
//
// Worked on the change alone: with a the initial mean and D = Slope·x, the
// limits δ of D/a solve (D − δ·a)² = q²·Var(D − δ·a), and the ratio is 1 + δ.
func (l Line) RatioToInitial(x, q float64) (ratio, lower, upper float64) {
	a, d, k := l.Mean(0), l.Slope*x, q*l.S
	slopeAndInitial := l.Cov - l.SlopeVar*l.Centre
	initialSE := k * l.unscaledSE(-l.Centre)
	changeSE := k * math.Sqrt(l.SlopeVar) * x
	ratio = 1 + d/a
	square := (a - initialSE) * (a + initialSE)
	if square <= 0 {
		return ratio, math.Inf(-1), math.Inf(1)
	}
	half := d*a - k*k*slopeAndInitial*x
	root := math.Sqrt(max(0, half*half-square*(d-changeSE)*(d+changeSE)))
	return ratio, 1 + (half-root)/square, 1 + (half+root)/square
}
