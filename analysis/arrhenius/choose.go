package arrhenius

import (
	"math"

	"shelfspan/analysis/kinetics"
	"shelfspan/study"
)

// advantage is by how much AICc has to be better before another model replaces
// zero-order, as it is within one condition.
const advantage = 2

// ChooseModel compares the degradation models on the free-rate fit, one
// variance for all conditions, and names the one for all of them:
//
//	AICc = N·ln(2π·SSE/N) + N − 2·Σ ln|g′(y)| + 2k + 2k(k+1)/(N−k−1),
//
// k = batches + conditions + 1 (Hurvich & Tsai, Biometrika 76, 1989, 297). The
// lowest replaces zero-order only where it is lower by more than 2. Candidates
// that cannot be compared carry the reason.
func ChooseModel(in Input) (kinetics.Model, []kinetics.Candidate) {
	l, status, _ := arrange(&in, -1)
	if status != Fitted {
		return kinetics.ZeroOrder, nil
	}
	m, candidates, _ := choose(&in, l)
	return m, candidates
}

// choose gives the model with its free-rate fit, which is nil where zero-order
// itself cannot be fitted.
func choose(in *Input, l *layout) (kinetics.Model, []kinetics.Candidate, *freeRates) {
	candidates := make([]kinetics.Candidate, len(kinetics.Models))
	fits := make([]*freeRates, len(kinetics.Models))
	best := 0
	for i, m := range kinetics.Models {
		c := kinetics.Candidate{Model: m, AICc: math.NaN(), Note: reasonAgainst(m, in, l)}
		if c.Note == "" {
			var err error
			if fits[i], err = fitFreeRates(l, m); err != nil {
				c.Note = err.Error()
			}
		}
		n, k := float64(len(l.points)), float64(len(l.batches)+len(l.conditions)+1)
		switch {
		case c.Note != "":
		case n-k-1 <= 0:
			c.Note = kinetics.TooFewToTell
		default:
			jacobian := 0.0
			for _, p := range l.points {
				jacobian += m.LogDerivative(p.Value)
			}
			c.AICc = n*math.Log(2*math.Pi*fits[i].rss/n) + n - 2*jacobian + 2*k + 2*k*(k+1)/(n-k-1)
		}
		candidates[i] = c
		if c.AICc < candidates[best].AICc { // never true of NaN
			best = i
		}
	}
	if !(candidates[best].AICc < candidates[0].AICc-advantage) {
		best = 0
	}
	return kinetics.Models[best], candidates, fits[best]
}

// reasonAgainst says why a model does not stand for these data, empty where it
// does.
func reasonAgainst(m kinetics.Model, in *Input, l *layout) string {
	if in.Basis == study.BasisChange && (m == kinetics.FirstOrder || m == kinetics.SecondOrder) {
		return kinetics.WrongBasis
	}
	for _, p := range l.points {
		if !m.InDomain(p.Value) {
			return kinetics.NotPositive
		}
	}
	return ""
}
