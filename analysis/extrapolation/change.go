package extrapolation

import (
	"cmp"
	"math"
	"slices"

	"shelfspan/analysis/observed"
	"shelfspan/analysis/rounding"
	"shelfspan/study"
)

// Sign is what made a change significant.
type Sign string

// The signs of significant change.
const (
	CriterionMissed   Sign = "criterion"           // a batch's mean, rounded, misses the acceptance criterion
	UnitFailed        Sign = "unit"                // grades and pass/fail: a unit misses it
	ChangeFromInitial Sign = "change-from-initial" // a batch's mean moved by the attribute's significant_change or more
	WaterLoss         Sign = "water-loss"          // semi-permeable packs: 5 % of the water in 3 months at 40 °C and 25 % RH
)

// Change is a significant change (ICH Q1A(R2) 2.2.7): the first one of a batch
// in an attribute at a condition.
type Change struct {
	Attribute, Condition, Batch int // indices into the study
	Unit                        string
	Months                      float64 // planned
	Sign                        Sign
	Value                       float64 // the batch's mean, or the unit's value
	Percent                     float64 // change from the initial value, or water lost; NaN for the other signs
	Counted                     bool    // false: told only
	Note                        string  // why it is told only, or how it was worked out; may be empty
}

// pull is the samples of a batch at one planned time.
type pull struct {
	batch    int
	months   float64
	mean     float64
	samples  []observed.Sample
	censored bool
}

// pulls groups samples into pulls, in order of batch and time.
func pulls(samples []observed.Sample) []pull {
	sorted := slices.Clone(samples)
	slices.SortFunc(sorted, func(a, b observed.Sample) int {
		return cmp.Or(cmp.Compare(a.Batch, b.Batch), cmp.Compare(a.PlannedMonths, b.PlannedMonths), cmp.Compare(a.Value, b.Value))
	})
	var out []pull
	for i := 0; i < len(sorted); {
		j := i + 1
		for j < len(sorted) && sorted[j].Batch == sorted[i].Batch && observed.SamePull(sorted[j].PlannedMonths, sorted[i].PlannedMonths) {
			j++
		}
		p := pull{batch: sorted[i].Batch, months: sorted[i].PlannedMonths, samples: sorted[i:j]}
		for _, x := range p.samples {
			p.mean += x.Value
			p.censored = p.censored || x.Censor != study.Exact
		}
		p.mean /= float64(len(p.samples))
		out = append(out, p)
		i = j
	}
	return out
}

// changes gives the significant changes of one series up to a planned time, the
// first of each batch; unjudged counts pulls whose change from the initial value
// could not be worked out, for want of one above zero.
func changes(a *study.Attribute, s Series, upTo float64) (found []Change, unjudged int) {
	criterion := observed.NewCriterion(a, s.Samples)
	var initial map[int]float64
	if !math.IsNaN(a.SignificantChange) {
		initial = observed.Initial(a, s.Samples)
	}
	changed := -1 // batch
	for _, p := range pulls(s.Samples) {
		if p.batch == changed || p.months > upTo ||
			observed.Before(p.months, a.Baseline.Months(0)) || observed.SamePull(p.months, 0) {
			continue
		}
		c := Change{Attribute: s.Attribute, Condition: s.Condition, Batch: p.batch, Months: p.months,
			Value: p.mean, Percent: math.NaN(), Counted: true}
		switch {
		case missed(a, criterion, &p, &c):
		case math.IsNaN(a.SignificantChange) || a.Kind == study.Grade || a.Kind == study.PassFail:
			continue
		default:
			percent, ok := percentChange(a, &p, initial)
			if !ok {
				unjudged++
				continue
			}
			if !rounding.Reaches(math.Abs(percent), a.SignificantChange) {
				continue
			}
			c.Sign, c.Percent = ChangeFromInitial, percent
		}
		found = append(found, c)
		changed = p.batch
	}
	return found, unjudged
}

// missed reports whether a pull misses the acceptance criterion, and notes it
// in c: by the mean, or by any one unit where no mean can be taken.
func missed(a *study.Attribute, criterion *observed.Criterion, p *pull, c *Change) bool {
	byUnit := a.Kind == study.Grade || a.Kind == study.PassFail
	if !byUnit && !p.censored {
		c.Sign = CriterionMissed
		return criterion.JudgeMean(p.batch, p.mean) == observed.Missed
	}
	for i := range p.samples {
		if criterion.Judge(&p.samples[i]) == observed.Missed {
			c.Sign, c.Unit, c.Value = UnitFailed, p.samples[i].Unit, p.samples[i].Value
			return true
		}
	}
	return false
}

// percentChange is 100·(mean/initial − 1); a weighing is its own change, in
// percent lost since the unit's start.
func percentChange(a *study.Attribute, p *pull, initial map[int]float64) (percent float64, ok bool) {
	if p.censored {
		return 0, false
	}
	if a.Kind == study.Weighing {
		return p.mean, true
	}
	y0, ok := initial[p.batch]
	if !ok || y0 == 0 {
		return 0, false
	}
	return 100 * (p.mean - y0) / math.Abs(y0), true
}
