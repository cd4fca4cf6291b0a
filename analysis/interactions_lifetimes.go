package analysis

import (
	"fmt"
	"math"

	"shelfspan/analysis/censored"
	"shelfspan/analysis/lifetime"
	"shelfspan/study"
)

// ErrorLifetimes is that of lifetimes of units known between looks, batches together:
// the likelihood ratio of one location of their logarithm against two.
const ErrorLifetimes ErrorOf = "lifetimes"

// enoughFailed is how many units of two must have failed for their lifetimes to be
// compared. With fewer the likelihood ratio finds a difference where there is none in
// up to 7 of 100 studies at a nominal 5.
const enoughFailed = 10

// lives gives the lifetimes of the units of a combination, and whose they are.
func (f *field) lives(c combination) []unitLife {
	return f.v.unitLives(cell{f.attribute, f.condition, c.pack, c.orientation})
}

func intervals(units []unitLife) []censored.Interval {
	out := make([]censored.Interval, len(units))
	for i := range units {
		out[i] = units[i].interval
	}
	return censored.Merge(out)
}

// compareLives compares the lifetimes of two groups of units by the distribution that
// fits better, or where two fit about as well by the one that shows less. The reason
// is not empty where they cannot be compared.
func (f *field) compareLives(one, other []unitLife, confidence float64) (best *lifetime.Difference, reason string) {
	if f.v.s.Conditions[f.condition].Role == study.Cycling {
		return nil, "the condition cycles"
	}
	in := lifetime.DifferenceInput{Other: intervals(one), Reference: intervals(other), Confidence: confidence}
	failed := 0.0
	for _, group := range [...][]censored.Interval{in.Other, in.Reference} {
		for _, x := range group {
			if !math.IsInf(x.By, 1) {
				failed += x.Units
			}
		}
	}
	if failed < enoughFailed {
		return nil, fmt.Sprintf("%.0f units of the two failed, and at least %d are needed", failed, enoughFailed)
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
		// Both have three parameters, so that AICc differs as AIC does. Of equals the
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

// remarkOneBatch warns where all failures are of one batch: units of a batch hang
// together, and neither test allows for that.
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
		f.warn("one-batch-fails", fmt.Sprintf("All %d failures in storage are of batch %s: units are compared with all batches together, and what they show may be that batch's alone.", total, f.v.s.Batches[b].ID))
	}
}
