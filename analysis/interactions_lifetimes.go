package analysis

import (
	"fmt"
	"math"

	"shelfspan/analysis/censored"
	"shelfspan/analysis/lifetime"
	"shelfspan/study"
)

// The errors of lifetimes of units known between looks, by the likelihood ratio of one
// location of their logarithm against two.
const (
	ErrorLifetimes       ErrorOf = "lifetimes"                // batches together: how they vary is not in it
	ErrorLifetimesWithin ErrorOf = "lifetimes-within-batches" // each batch with a location of its own
)

// enoughFailed is how many units of two must have failed for their lifetimes to be
// compared, and enoughMore how many more for each batch beyond the first that has a
// location of its own. With fewer the likelihood ratio finds a difference where there is
// none in up to 8 of 100 studies at a nominal 5 (DEVELOPERS.md has what was found).
const (
	enoughFailed = 10
	enoughMore   = 4
)

// lives gives the lifetimes of the units of a combination, and whose they are.
func (f *field) lives(c combination) []unitLife {
	return f.v.unitLives(cell{f.attribute, f.condition, c.pack, c.orientation})
}

// intervals gives those of the units of a batch, or of all where it is below zero.
func intervals(units []unitLife, batch int) []censored.Interval {
	var out []censored.Interval
	for i := range units {
		if batch < 0 || units[i].batch == batch {
			out = append(out, units[i].interval)
		}
	}
	return censored.Merge(out)
}

// compareLives compares the lifetimes of two groups of units, within batches where two
// or more have units of both, and where they can be compared puts that in the place of
// the counts; Thin says why where not.
func (f *field) compareLives(c *Comparison, one, other []unitLife, confidence float64) {
	if f.v.s.Conditions[f.condition].Role == study.Cycling {
		c.Thin = "the condition cycles"
		return
	}
	batches := make([]lifetime.Stratum, len(f.v.s.Batches))
	for b := range batches {
		batches[b] = lifetime.Stratum{Other: intervals(one, b), Reference: intervals(other, b)}
	}
	in := lifetime.DifferenceInput{Strata: batches, Confidence: confidence}
	s := strata(len(batches), func(b int) (bool, bool) { return len(batches[b].Other) > 0, len(batches[b].Reference) > 0 }, func(b int) bool { return batches[b].Tells() })
	which := ErrorLifetimesWithin
	if !s.Within() {
		which = ErrorLifetimes
		in.Strata = []lifetime.Stratum{{Other: intervals(one, -1), Reference: intervals(other, -1)}}
	}
	best, reason := lifetimesDiffer(in)
	if best == nil {
		c.Thin = reason
		return
	}
	c.Lifetimes, c.Strata = best, s
	c.P, c.Error, c.Model = best.P, which, string(best.Distribution)
}

// lifetimesDiffer compares two groups by the distribution that fits better, or where two
// fit about as well by the one that shows less. The reason is not empty where they
// cannot be compared.
func lifetimesDiffer(in lifetime.DifferenceInput) (best *lifetime.Difference, reason string) {
	failed, telling := 0.0, 0
	for _, s := range in.Strata {
		if len(in.Strata) > 1 && !s.Tells() {
			continue
		}
		telling++
		for _, group := range [...][]censored.Interval{s.Other, s.Reference} {
			for _, x := range group {
				if !math.IsInf(x.By, 1) {
					failed += x.Units
				}
			}
		}
	}
	enough := enoughFailed + enoughMore*max(0, telling-1)
	if failed < float64(enough) {
		reason = fmt.Sprintf("%.0f units of the two failed, and at least %d are needed", failed, enough)
		if telling > 1 {
			reason += fmt.Sprintf(" for %d batches", telling)
		}
		return nil, reason
	}
	for _, in.Distribution = range [...]lifetime.Distribution{lifetime.Lognormal, lifetime.Weibull} {
		d := lifetime.FitDifference(in)
		if d.Status != lifetime.Fitted {
			reason = d.Reason
			continue
		}
		if best == nil {
			best = d
			continue
		}
		// Both have as many parameters, so that AICc differs as AIC does. Of equals the
		// first stands, whatever rounding says.
		behind := 2 * (best.LogLikelihood - d.LogLikelihood)
		if behind <= -alike || math.Abs(behind) < alike && d.P > best.P*(1+1e-6) {
			best = d
		}
	}
	if best != nil {
		reason = ""
	}
	return best, reason
}

// remarkOneBatch warns where all failures are of one batch: within batches it alone
// tells, and with batches together it stands for all.
func (f *field) remarkOneBatch(all map[combination]*watched) {
	total, of, seen := 0, map[int]bool{}, map[int]bool{}
	for _, w := range all {
		for i := range w.lives {
			seen[w.lives[i].batch] = true
			if w.lives[i].failedInStorage() {
				total++
				of[w.lives[i].batch] = true
			}
		}
	}
	const several = 3 // fewer may well come from one batch by chance
	if len(of) != 1 || total < several || len(seen) < 2 {
		return
	}
	for b := range of {
		f.warn("one-batch-fails", fmt.Sprintf("All %d failures in storage are of batch %s: what units show may be that batch's alone.", total, f.v.s.Batches[b].ID))
	}
}
