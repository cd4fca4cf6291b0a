package analysis

import (
	"cmp"
	"math"
	"slices"

	"shelfspan/analysis/binomial"
	"shelfspan/analysis/censored"
	"shelfspan/analysis/lifetime"
	"shelfspan/analysis/observed"
	"shelfspan/analysis/turnbull"
	"shelfspan/study"
)

// unitLife is one unit's looks and the interval they leave its lifetime.
type unitLife struct {
	batch    int
	looks    []unitLook
	interval censored.Interval
	note     censored.Note
}

// unitLook is one look that told whether the unit meets its criterion.
type unitLook struct {
	sample *Sample
	failed bool
}

func (u *unitLife) failedInStorage() bool {
	return u.interval.Kind() != censored.AtStart && !math.IsInf(u.interval.By, 1)
}

// unitLives gives the units at a condition, in the order of their batches and
// labels where they are put back, else each sample as a unit of its own.
func (v *evaluator) unitLives(k cell) []unitLife {
	at := &v.s.Attributes[k.attribute]
	samples := v.samples(k)
	seen := observedSamples(samples)
	criterion := observed.NewCriterion(at, seen)
	returned := at.Sampling == study.Returned
	if returned {
		order := make([]int, len(samples))
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(i, j int) int {
			return cmp.Or(cmp.Compare(samples[i].Batch, samples[j].Batch), cmp.Compare(samples[i].Unit, samples[j].Unit))
		})
		sorted, own := make([]Sample, len(samples)), make([]observed.Sample, len(samples))
		for to, from := range order {
			sorted[to], own[to] = samples[from], seen[from]
		}
		samples, seen = sorted, own
	}
	var units []unitLife
	for i := 0; i < len(samples); {
		u := unitLife{batch: samples[i].Batch}
		first := &samples[i]
		for ; i < len(samples); i++ {
			x := &samples[i]
			if x != first && !(returned && x.Batch == first.Batch && x.Unit == first.Unit) {
				break
			}
			switch criterion.Judge(&seen[i]) {
			case observed.Met:
				u.looks = append(u.looks, unitLook{x, false})
			case observed.Missed:
				u.looks = append(u.looks, unitLook{x, true})
			}
		}
		if u.settle() {
			units = append(units, u)
		}
	}
	return units
}

// settle makes the interval of the looks, and reports whether they say anything.
func (u *unitLife) settle() bool {
	looks := make([]censored.Look, len(u.looks))
	for i, l := range u.looks {
		looks[i] = censored.Look{Time: max(0, l.sample.Months), Failed: l.failed}
	}
	var err error
	u.interval, u.note, err = censored.FromLooks(looks)
	return err == nil && u.interval.Kind() != censored.Unknown
}

// count counts the units and gives what they say at a temperature, those alike
// joined.
func (c *UnitsAt) count(units []unitLife, celsius float64) []lifetime.Observation {
	intervals := make([]censored.Interval, len(units))
	for i := range units {
		u := &units[i]
		intervals[i] = u.interval
		c.Units++
		if !math.IsInf(u.interval.By, 1) {
			c.Failed++
		}
		if u.interval.Kind() == censored.AtStart {
			c.AtStart++
		}
		if u.note == censored.Recovered {
			c.Recovered++
		}
	}
	merged := censored.Merge(intervals)
	out := make([]lifetime.Observation, len(merged))
	for i, x := range merged {
		out[i] = lifetime.Observation{Interval: x, Celsius: celsius}
	}
	return out
}

// estimate makes the nonparametric estimate. Where units failed before storage
// it has none to make: how many others were sound then did not enter.
func (c *UnitsAt) estimate(own []lifetime.Observation, share float64) {
	if c.AtStart > 0 {
		return
	}
	intervals := make([]censored.Interval, len(own))
	for i := range own {
		intervals[i] = own[i].Interval
	}
	steps, err := turnbull.Estimate(intervals)
	if err != nil {
		return // of no unit anything is known
	}
	c.Steps = steps
	c.After, c.By = steps.Failed(share)
}

// pullsSeen counts, pull by pull after time zero, the units looked at and those
// of them that had failed. Of units put back, one that failed before counts as
// failed, whether it was looked at again or not.
func pullsSeen(units []unitLife, returned bool, confidence float64) []PullSeen {
	type seen struct {
		PullSeen
		planned float64
	}
	var pulls []seen
	find := func(x *Sample) *seen {
		for i := range pulls {
			if observed.SamePull(pulls[i].planned, x.PlannedMonths) {
				return &pulls[i]
			}
		}
		pulls = append(pulls, seen{PullSeen{Planned: x.Planned, Months: math.Inf(1)}, x.PlannedMonths})
		return &pulls[len(pulls)-1]
	}
	for i := range units {
		for _, l := range units[i].looks {
			if !l.sample.Planned.IsZero() {
				p := find(l.sample)
				p.Months = min(p.Months, supports(l.sample))
			}
		}
	}
	slices.SortFunc(pulls, func(a, b seen) int { return cmp.Compare(a.planned, b.planned) })
	var out []PullSeen
	for _, p := range pulls {
		for i := range units {
			looked, failed := false, false
			for _, l := range units[i].looks {
				here := !l.sample.Planned.IsZero() && observed.SamePull(l.sample.PlannedMonths, p.planned)
				before := returned && observed.Before(l.sample.PlannedMonths, p.planned)
				looked = looked || here
				failed = failed || l.failed && (here || before)
			}
			if looked || failed {
				p.Units++
			}
			if failed {
				p.Failed++
			}
		}
		most, err := binomial.Upper(p.Failed, p.Units, confidence)
		if err != nil {
			most = math.NaN()
		}
		p.AtMost = most
		out = append(out, p.PullSeen)
	}
	return out
}

// supports is the time that a sample speaks for, as for what is judged by
// observation.
func supports(x *Sample) float64 {
	return (&observed.Sample{PlannedMonths: x.PlannedMonths, Months: x.Months, InWindow: x.InWindow}).Supports()
}
