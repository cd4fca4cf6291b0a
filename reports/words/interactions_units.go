package words

import (
	"fmt"
	"math"

	"shelfspan/analysis"
)

// What explains how units are compared.
const (
	countsMark          = "(c): units that failed by the last pull that both have, by Fisher's exact test, where lifetimes cannot be compared; batches, where there are several, together: how they vary is not in p"
	countsWithinMark    = "(cb): units that failed by the last pull that both have, within batches, by the exact test of one ratio of odds, where lifetimes cannot be compared; a batch in which none failed, or all did, adds nothing to it"
	lifetimesMark       = "(l): the factor by which the time to a failure differs, of units known between looks, by lifetimes of one spread and the likelihood ratio; batches, where there are several, together: how they vary is not in p; p by Holm, intervals by Bonferroni"
	lifetimesWithinMark = "(lb): the factor by which the time to a failure differs, of units known between looks, within batches, by lifetimes of one spread with a location for each batch, and the likelihood ratio; p by Holm, intervals by Bonferroni"
	// withinBatches goes with either that is made within batches.
	withinBatches = "Within batches: that the difference itself may vary from batch to batch is not in p, so that it is said of these batches"
)

// byBatches says whether a comparison of units is made within batches; "" where there
// is one batch alone.
func byBatches(c *analysis.Comparison) string {
	s := c.Strata
	switch {
	case s == nil || s.Batches < 2:
		return ""
	case !s.Within():
		return ", batches together"
	case s.Telling == 0:
		return fmt.Sprintf(", within %d batches, of which none tells", s.Both)
	case s.Telling == 1:
		return fmt.Sprintf(", within %d batches, of which one tells", s.Both)
	case s.Telling < s.Both:
		return fmt.Sprintf(", within %d batches, of which %d tell", s.Both, s.Telling)
	}
	return fmt.Sprintf(", within %d batches", s.Both)
}

// TimeFactor writes the factor by which the time to a failure differs, with its
// interval, rounded outwards: "0.62 (0.45–0.85)"; "" where lifetimes were not
// compared.
func TimeFactor(c *analysis.Comparison) string {
	d := c.Lifetimes
	if d == nil {
		return ""
	}
	low, high := "0", "no end"
	if !math.IsInf(d.Low, -1) {
		low = outward(math.Exp(d.Low), math.Floor)
	}
	if !math.IsInf(d.High, 1) {
		high = outward(math.Exp(d.High), math.Ceil)
	}
	return fmt.Sprintf("%s (%s–%s)", Number(math.Exp(d.LnRatio), 2), low, high)
}

// outward writes a number above zero to two digits, rounded as given.
func outward(x float64, round func(float64) float64) string {
	unit := math.Pow(10, math.Floor(math.Log10(x))-1)
	return Number(round(x/unit)*unit, 2)
}

// unitsCompared says what two groups of units came to.
func unitsCompared(c *analysis.Comparison) string {
	t := fmt.Sprintf("by %s months %s units failed, against %s", Planned(c.LastMonths), Failed(c.Failed), Failed(c.AgainstFailed))
	p, by := Probability(c.PAdjusted), byBatches(c)
	if c.Lifetimes == nil {
		if c.Outcome == analysis.Differs {
			return fmt.Sprintf("%s (%s%s): the shares differ.", t, p, by)
		}
		return fmt.Sprintf("%s (%s%s): no difference is shown, and so few units can hide a large one.", t, p, by)
	}
	t += fmt.Sprintf("; the time to a failure is %s times as long (%s by %s lifetimes%s)", TimeFactor(c), p, DistributionName(c.Lifetimes.Distribution), by)
	switch {
	case c.Outcome != analysis.Differs:
		return t + ": no difference is shown, and one within that interval may be hidden."
	case c.Lifetimes.LnRatio < 0:
		return t + ": units fail sooner."
	}
	return t + ": units fail later."
}
