package words

import (
	"fmt"
	"math"

	"shelfspan/analysis"
)

// lifetimesMark explains how lifetimes of units are compared.
const lifetimesMark = "(l): the factor by which the time to a failure differs, of units known between looks, batches together, by lifetimes of one spread and the likelihood ratio; p by Holm, intervals by Bonferroni"

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
	p := Probability(c.PAdjusted)
	if c.Lifetimes == nil {
		if c.Outcome == analysis.Differs {
			return fmt.Sprintf("%s (%s): the shares differ.", t, p)
		}
		return fmt.Sprintf("%s (%s): no difference is shown, and so few units can hide a large one.", t, p)
	}
	t += fmt.Sprintf("; the time to a failure is %s times as long (%s by %s lifetimes)", TimeFactor(c), p, DistributionName(c.Lifetimes.Distribution))
	switch {
	case c.Outcome != analysis.Differs:
		return t + ": no difference is shown, and one within that interval may be hidden."
	case c.Lifetimes.LnRatio < 0:
		return t + ": units fail sooner."
	}
	return t + ": units fail later."
}
