package plateau

import (
	"math"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
)

// Pooling is the outcome of the tests of what batches share.
type Pooling struct {
	// ChangesF compares curves that share their change with separate ones, on
	// ChangesDF and DF2 degrees of freedom; StartsF one curve with those, on
	// StartsDF. NaN where not tested.
	ChangesF, ChangesP       float64
	StartsF, StartsP         float64
	ChangesDF, StartsDF, DF2 int
	Fit                      *Fit // of the decision
}

// Pool fits the batches and decides what they share at the significance level
// alpha, as pooling.Fit does for lines: first whether they have one change over
// time, then whether one start, by the extra sum of squares against the mean
// square of separate curves (ICH Q1E, 2003, appendix B, for lines; of curves the
// distribution is approximate). The errors are those of FitCurves.
func Pool(batches []pooling.Batch, model Model, alpha float64) (*Pooling, error) {
	nan := math.NaN()
	r := &Pooling{ChangesF: nan, ChangesP: nan, StartsF: nan, StartsP: nan}
	separate, err := FitCurves(batches, model, pooling.Separate)
	if err != nil {
		return nil, err
	}
	r.Fit, r.DF2 = separate, separate.DF
	b := len(batches)
	if b == 1 {
		return r, nil
	}
	r.ChangesDF, r.StartsDF = 2*(b-1), b-1
	common, err := FitCurves(batches, model, pooling.CommonSlope)
	if err != nil {
		return nil, err
	}
	r.ChangesF, r.ChangesP = linear.ExtraSumOfSquares(common.RSS-separate.RSS, r.ChangesDF, separate.RSS, r.DF2)
	if r.ChangesP < alpha {
		return r, nil
	}
	r.Fit = common
	pooled, err := FitCurves(batches, model, pooling.Pooled)
	if err != nil {
		return nil, err
	}
	r.StartsF, r.StartsP = linear.ExtraSumOfSquares(pooled.RSS-common.RSS, r.StartsDF, separate.RSS, r.DF2)
	if r.StartsP >= alpha {
		r.Fit = pooled
	}
	return r, nil
}
