package weightloss

import (
	"math"

	"shelfspan/analysis/pooling"
	"shelfspan/analysis/tolerance"
	"shelfspan/analysis/units"
)

// Criterion is how much may be lost, in %: the limits that can be breached, ±Inf
// where there is none. A gain counts as a loss below zero.
type Criterion struct{ Lower, Upper float64 }

// Population is what the rates of weighed units say of all units of their batches.
type Population struct {
	Units    int
	Decision pooling.Decision // pooled: one mean for all batches; separate: one each
	SD       float64          // standard deviation between units, % a month
	DF       int
	Batches  []Batch // one for each batch with units, in the study's order, also where pooled
	Limiting int     // index into Batches: the first to reach the criterion; where none does, the one that loses most
}

// Batch is what is said of one batch's units; where pooled, all say the same.
type Batch struct {
	Batch int // index into the study
	N     int // its units
	Mean  float64
	Grams float64 // mean of the units' rates in g a month

	// Lower and Upper are the tolerance limits of the units' rates in % a month,
	// each by itself: the stated share of units loses no more than Upper.
	Lower, Upper float64
	Factor       float64 // k: Upper is Mean + k·SD

	Within    float64 // months by which the stated share of units still meets the criterion; +Inf where it always does, NaN without one
	LimitedBy string  // "upper", "lower", or "" where none is reached
}

// Limit is the population's batch that limits.
func (p *Population) Limit() *Batch { return &p.Batches[p.Limiting] }

// Populate works out what units say of the population. Batches are pooled or not
// as units.PoolRates decides at the significance level alpha, which is how the
// bound of the mean is reckoned. A unit's rate r being normal about its mean r̄
// with the standard deviation s on f degrees of freedom, the share Coverage of
// units stays below
//
//	r̄ + k·s,  k = t′(Confidence; f, z·√n)/√n
//
// with that confidence (see tolerance.Level.Factor): n is the number of all units
// and f = n − 1 where pooled; else n is the batch's own number and f that of all
// units less the batches. As every unit's loss is r·t, that share is within a
// limit L until L/(r̄ + k·s).
//
// With two limits each is judged by itself at half of what may go wrong, as
// tolerance.Evaluate does; Lower and Upper are at the level itself. A level that is
// not Valid leaves limits and times NaN. A batch nobody weighed is not spoken of.
//
// Without two units in a batch it is an error.
func Populate(us []Unit, alpha float64, level tolerance.Level, c Criterion) (*Population, error) {
	batches, rates := make([]int, len(us)), make([]float64, len(us))
	counts, grams := map[int]int{}, map[int]float64{}
	all := 0.0
	for i := range us {
		u := &us[i]
		batches[i], rates[i] = u.Batch, u.Rate
		counts[u.Batch]++
		grams[u.Batch] += u.Grams()
		all += u.Grams()
	}
	fit, err := units.PoolRates(batches, rates, alpha)
	if err != nil {
		return nil, err
	}
	p := &Population{Units: len(us), Decision: fit.Decision, SD: fit.S, DF: fit.DF}
	perSide := level
	if !math.IsInf(c.Lower, -1) && !math.IsInf(c.Upper, 1) {
		perSide = tolerance.Level{Coverage: (1 + level.Coverage) / 2, Confidence: (1 + level.Confidence) / 2}
	}
	type factors struct{ own, perSide float64 }
	known := map[float64]factors{}
	for _, b := range inOrder(counts) {
		line := fit.Lines[len(p.Batches)]
		k, ok := known[line.SlopeVar]
		if !ok {
			k = factors{math.NaN(), math.NaN()}
			if perSide.Valid() && level.Valid() {
				k.own = level.Factor(line.SlopeVar, fit.DF)
				if k.perSide = k.own; perSide != level {
					k.perSide = perSide.Factor(line.SlopeVar, fit.DF)
				}
			}
			known[line.SlopeVar] = k
		}
		x := Batch{Batch: b, N: counts[b], Mean: line.Slope, Grams: grams[b] / float64(counts[b]), Factor: k.own,
			Lower: line.Slope - k.own*fit.S, Upper: line.Slope + k.own*fit.S}
		if fit.Decision == pooling.Pooled {
			x.Grams = all / float64(len(us))
		}
		x.Within, x.LimitedBy = c.within(line.Slope-k.perSide*fit.S, line.Slope+k.perSide*fit.S)
		p.Batches = append(p.Batches, x)
		if i := len(p.Batches) - 1; i > 0 && worse(&x, p.Limit()) {
			p.Limiting = i
		}
	}
	return p, nil
}

// inOrder gives the batches with units, ascending.
func inOrder(counts map[int]int) []int {
	var out []int
	for b := 0; len(out) < len(counts); b++ {
		if counts[b] > 0 {
			out = append(out, b)
		}
	}
	return out
}

// within gives when units that lose between two rates leave the criterion. A limit
// that does not allow even the start is met there.
func (c Criterion) within(lowest, highest float64) (months float64, by string) {
	switch {
	case math.IsInf(c.Lower, -1) && math.IsInf(c.Upper, 1), math.IsNaN(highest):
		return math.NaN(), ""
	case c.Upper <= 0:
		return 0, "upper"
	case c.Lower >= 0:
		return 0, "lower"
	}
	months = math.Inf(1)
	if highest > 0 && !math.IsInf(c.Upper, 1) {
		months, by = c.Upper/highest, "upper"
	}
	if lowest < 0 && !math.IsInf(c.Lower, -1) && c.Lower/lowest < months {
		months, by = c.Lower/lowest, "lower"
	}
	return months, by
}

// worse reports whether a batch reaches the criterion before another, or, where
// neither does, loses more.
func worse(a, b *Batch) bool {
	if a.Within == b.Within || math.IsNaN(a.Within) {
		return a.Upper > b.Upper || math.IsNaN(a.Upper) && a.Mean > b.Mean
	}
	return a.Within < b.Within
}
