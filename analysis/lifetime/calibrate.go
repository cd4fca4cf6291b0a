package lifetime

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// calibratedCut is how far below its top the profile may be at the calibrated
// bound, as depth measures it. See Quantile, which has formula and reason.
func calibratedCut(told float64, parameters int, confidence float64) float64 {
	nu := max(1, told-float64(parameters))
	return studentCut(max(told, nu), nu, confidence)
}

// studentCut is √(m·ln(1 + t²/ν)), t being the one-sided quantile of Student's
// distribution on ν degrees of freedom: of a normal sample of m, of whose
// spread ν degrees of freedom tell, it is how deep the profile of the mean lies at
// Student's bound. With m = ν it is no less than z (Wallace, Ann. Math. Stat. 30, 1959,
// 1121–1130), and as m and ν grow together it comes down to z.
func studentCut(m, nu, confidence float64) float64 {
	z := mathext.NormalQuantile(confidence)
	if confidence <= 0.5 {
		return 0
	}
	// From here on the series, by Fisher's expansion of t in 1/ν, is exact to eight
	// digits and more, and the quantile loses them.
	const many = 1000
	square := z * z * (1 + (0.5+(1./8-z*z/24)/nu)/nu)
	if nu < many {
		t := distuv.StudentsT{Sigma: 1, Nu: nu}.Quantile(confidence)
		square = nu * math.Log1p(t*t/nu)
	}
	return math.Sqrt(max(square*m/nu, z*z))
}
