package analysis

import (
	"math"
	"testing"

	"shelfspan/study"
)

// On percent of initial a value counts as 100 times y over the fitted initial one,
// on change from initial as what it differs by.
func TestOnBasis(t *testing.T) {
	for _, c := range []struct {
		basis     study.Basis
		model     string
		intercept float64
		want      float64
	}{
		{study.BasisValue, "zero-order", 50, 49},
		{study.BasisPercent, "zero-order", 50, 98},
		{study.BasisPercent, "first-order", math.Log(50), 98},
		{study.BasisPercent, "second-order", 1.0 / 50, 98},
		{study.BasisChange, "zero-order", 50, -1},
	} {
		a := &Analysis{Model: c.model, Fits: []Fit{{Batch: 1, Intercept: 1}, {Batch: 0, Intercept: c.intercept}}}
		if got := a.OnBasis(c.basis, &Sample{Value: 49}); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("49, %s by %s: %g, want %g", c.basis, c.model, got, c.want)
		}
	}
	if got := (&Analysis{}).OnBasis(study.BasisPercent, &Sample{Value: 49}); got != 49 {
		t.Errorf("without a fit 49 is %g", got)
	}
}
