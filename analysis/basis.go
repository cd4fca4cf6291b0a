package analysis

import (
	"math"

	"shelfspan/study"
)

// OnBasis gives a sample's value on the basis of its attribute's limits: where
// those count from the initial value, against the fitted one of its batch, as the
// limits are judged. Where nothing was fitted it is the value itself.
func (a *Analysis) OnBasis(basis study.Basis, x *Sample) float64 {
	if basis != study.BasisPercent && basis != study.BasisChange {
		return x.Value
	}
	for i := range a.Fits {
		f := &a.Fits[i]
		if f.Batch != x.Batch {
			continue
		}
		initial := f.Intercept
		switch study.Model(a.Model) {
		case study.FirstOrder:
			initial = math.Exp(f.Intercept)
		case study.SecondOrder:
			initial = 1 / f.Intercept
		}
		if basis == study.BasisChange {
			return x.Value - initial
		}
		return 100 * x.Value / initial
	}
	return x.Value
}
