package arrhenius

import (
	"math"
	"slices"

	"shelfspan/analysis/linear"
	"shelfspan/study"
)

// Parallel says whether groups of batches, those in one pack say, share an
// activation energy: whether their Arrhenius lines are parallel.
type Parallel struct {
	Status Status
	Reason string  // why it was not tested
	Common *Result // one activation energy, a rate of its own for each group
	Own    []Own   // each group by itself, in the order of their numbers

	F, P     float64 // of the common energy against own ones; NaN where not tested
	DF1, DF2 int
}

// Own is one group by itself.
type Own struct {
	Group int
	*Result
}

// FitParallel fits the groups of in.Groups with one activation energy in common
// and each with its own, and tests the one against the other by extra sum of
// squares,
//
//	F = ((SSE − Σ SSE_g)/(G − 1)) / (Σ SSE_g / Σ ν_g)
//
// the fits being those of Fit and the test approximate as that of any nonlinear
// model. Where p is small the packs do not only change how fast a product goes,
// but how that depends on temperature, and what is seen hot of one says little of
// the other where it is cold.
func FitParallel(in Input) *Parallel {
	nan := math.NaN()
	r := &Parallel{Status: NotFitted, F: nan, P: nan, Common: Fit(in)}
	if r.Common.Status != Fitted {
		r.Status, r.Reason = r.Common.Status, r.Common.Reason
		return r
	}
	var groups []int
	for _, p := range in.Points {
		if g := in.Groups[p.Batch]; !slices.Contains(groups, g) {
			groups = append(groups, g)
		}
	}
	slices.Sort(groups)
	sse := 0.0
	for _, g := range groups {
		own := in
		own.Groups = nil
		own.Points = nil
		for _, p := range in.Points {
			if in.Groups[p.Batch] == g {
				own.Points = append(own.Points, p)
			}
		}
		own.Model = study.Model(r.Common.Model)
		x := Fit(own)
		r.Own = append(r.Own, Own{g, x})
		if x.Status != Fitted {
			r.Reason = x.Reason
			return r
		}
		sse += x.SSE
		r.DF2 += x.DF
	}
	if len(groups) < 2 {
		r.Reason = "there is one group"
		return r
	}
	r.Status, r.DF1 = Fitted, len(groups)-1
	r.F, r.P = linear.ExtraSumOfSquares(r.Common.SSE-sse, r.DF1, sse, r.DF2)
	return r
}
