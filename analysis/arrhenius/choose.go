package arrhenius

import (
	"math"

	"shelfspan/analysis/kinetics"
)

// choose compares the degradation models on the free-rate fit, with one variance
// for all conditions and k = batches + cells + 1 parameters (see
// kinetics.Choose), and gives the one for all of them with its fit, which is nil
// where zero-order itself cannot be fitted. Candidates that cannot be compared
// carry the reason.
func choose(in *Input, l *layout) (kinetics.Model, []kinetics.Candidate, *freeRates) {
	candidates := make([]kinetics.Candidate, len(kinetics.Models))
	fits := make([]*freeRates, len(kinetics.Models))
	n, k := len(l.points), len(l.batches)+len(l.cells)+1
	for i, m := range kinetics.Models {
		c := kinetics.Candidate{Model: m, AICc: math.NaN(), Note: reasonAgainst(m, in, l)}
		if c.Note == "" {
			var err error
			if fits[i], err = fitFreeRates(in, l, m); err != nil {
				c.Note = err.Error()
			}
		}
		switch {
		case c.Note != "":
		case n-k-1 <= 0:
			c.Note = kinetics.TooFewToTell
		default:
			logDerivatives := 0.0
			for _, p := range l.points {
				logDerivatives += m.LogDerivative(p.Value)
			}
			c.AICc = kinetics.AICc(n, k, fits[i].rss, logDerivatives)
		}
		candidates[i] = c
	}
	best := kinetics.Preferred(candidates)
	return kinetics.Models[best], candidates, fits[best]
}

// reasonAgainst says why a model does not stand for these data, empty where it
// does.
func reasonAgainst(m kinetics.Model, in *Input, l *layout) string {
	if !m.Judges(in.Basis) {
		return kinetics.WrongBasis
	}
	for _, p := range l.points {
		if !m.InDomain(p.Value) {
			return kinetics.NotPositive
		}
	}
	return ""
}
