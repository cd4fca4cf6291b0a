package analysis

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"shelfspan/study"
)

// Residual is what a fit leaves over of one sample.
type Residual struct {
	Sample *Sample
	Value  float64 // the sample less the fitted mean of its batch at its time, in the attribute's unit and basis
	Normal float64 // the standard normal quantile that stands for its rank among all residuals
}

// Residuals gives what the fit of an analysis leaves over, in the order of its
// samples: of those that were fitted as numbers, one of each unit. It is nil where
// nothing was fitted, and where units were followed one by one: what their lines
// leave over belongs to the unit, not to the mean.
//
// The quantile of the i-th of n is that of (i − 3/8)/(n + 1/4) (Blom 1958); equal
// residuals have theirs in the order of the samples.
func (a *Analysis) Residuals(at *study.Attribute) []Residual {
	if at.Kind == study.Weighing || at.Sampling == study.Returned {
		return nil
	}
	baseline := at.Baseline.Months(0)
	var out []Residual
	for i := range a.Samples {
		x := &a.Samples[i]
		k := slices.IndexFunc(a.Fits, func(f Fit) bool { return f.Batch == x.Batch })
		if !x.Fitted || x.Censor != study.Exact || k < 0 || a.Fits[k].Curve == nil {
			continue
		}
		months, _ := x.trendTime(baseline)
		mean, _, _ := a.Fits[k].Curve(months)
		if v := a.OnBasis(at.Basis, x) - mean; !math.IsNaN(v) && !math.IsInf(v, 0) {
			out = append(out, Residual{Sample: x, Value: v})
		}
	}
	rank := make([]int, len(out))
	for i := range rank {
		rank[i] = i
	}
	slices.SortStableFunc(rank, func(i, j int) int { return cmp.Compare(out[i].Value, out[j].Value) })
	for r, i := range rank {
		out[i].Normal = distuv.UnitNormal.Quantile((float64(r+1) - 0.375) / (float64(len(out)) + 0.25))
	}
	return out
}

// QuantileLine is the line through the quartiles of residuals and of the normal
// distribution, along which normal residuals lie: residual = centre + spread ×
// quantile. Quartiles are of type 7 (Hyndman and Fan 1996), as R's qqline has them.
// Both are NaN for fewer than two residuals.
func QuantileLine(rs []Residual) (centre, spread float64) {
	if len(rs) < 2 {
		return math.NaN(), math.NaN()
	}
	values := make([]float64, len(rs))
	for i := range rs {
		values[i] = rs[i].Value
	}
	slices.Sort(values)
	quartile := func(share float64) float64 {
		at := share * float64(len(values)-1)
		i := int(at)
		if i+1 == len(values) {
			return values[i]
		}
		return values[i] + (at-float64(i))*(values[i+1]-values[i])
	}
	low, high := quartile(0.25), quartile(0.75)
	spread = (high - low) / (2 * distuv.UnitNormal.Quantile(0.75))
	return (low + high) / 2, spread
}
