package lifetime

import (
	"cmp"
	"math"
	"slices"
)

// Candidate is a distribution's place in a comparison.
type Candidate struct {
	*Result
	Behind float64 // AICc less that of the best; AIC where an AICc is not finite; +Inf where not fitted
}

// Compare fits each distribution to the same units and gives them in the order
// of AICc, or of AIC where there are too few units for AICc, the best first and
// those that could not be fitted last. With as many parameters each, the order is that of
// the likelihoods. A difference of less than about 2 says little (Burnham &
// Anderson, Model Selection and Multimodel Inference, 2002, section 2.6), and
// neither says what the tail is like below the shares that were seen.
func Compare(in Input, distributions ...Distribution) []Candidate {
	out := make([]Candidate, len(distributions))
	criterion := func(r *Result) float64 {
		switch {
		case r.Status != Fitted:
			return math.Inf(1)
		case math.IsInf(r.AICc, 1):
			return r.AIC
		}
		return r.AICc
	}
	best := math.Inf(1)
	for i, d := range distributions {
		in.Distribution = d
		out[i].Result = Fit(in)
		best = min(best, criterion(out[i].Result))
	}
	for i := range out {
		out[i].Behind = math.Inf(1)
		if c := criterion(out[i].Result); isFinite(c) {
			out[i].Behind = c - best
		}
	}
	slices.SortStableFunc(out, func(a, b Candidate) int { return cmp.Compare(a.Behind, b.Behind) })
	return out
}
