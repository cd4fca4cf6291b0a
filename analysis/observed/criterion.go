package observed

import (
	"math"

	"shelfspan/analysis/rounding"
	"shelfspan/study"
)

// Outcome is how a sample stands to the acceptance criterion.
type Outcome int8

// The outcomes.
const (
	Met       Outcome = iota // within the criterion
	Missed                   // certainly outside
	Undecided                // censored, and the criterion lies among the possible values; or no initial value to compare with
	Exempt                   // before the attribute's baseline, or there is no criterion: not judged
)

// Criterion is an acceptance criterion with the initial values it may refer to.
type Criterion struct {
	attribute *study.Attribute
	baseline  float64         // months
	initial   map[int]float64 // mean of the initial samples by batch; only for limits that refer to it
}

// NewCriterion prepares an attribute's criterion for samples of one pack and
// orientation at one condition, time zero among them. On the bases
// percent-of-initial and change-from-initial a sample is judged against the
// measured mean of its batch's initial samples (see Initial).
func NewCriterion(a *study.Attribute, samples []Sample) *Criterion {
	c := &Criterion{attribute: a, baseline: a.Baseline.Months(0)}
	if a.Basis == study.BasisPercent || a.Basis == study.BasisChange {
		c.initial = Initial(a, samples)
	}
	return c
}

// Initial gives the mean of each batch's initial samples: those of time zero,
// or, where the attribute has a baseline, those of its first pull from then on.
// A batch is missing where it has none, or where one of them is censored.
func Initial(a *study.Attribute, samples []Sample) map[int]float64 {
	baseline := a.Baseline.Months(0)
	type sum struct {
		at, total float64
		n         int
		censored  bool
	}
	sums := make(map[int]sum)
	for i := range samples {
		x := &samples[i]
		if Before(x.PlannedMonths, baseline) || baseline == 0 && !SamePull(x.PlannedMonths, 0) {
			continue
		}
		s, ok := sums[x.Batch]
		if !ok || Before(x.PlannedMonths, s.at) {
			s = sum{at: x.PlannedMonths}
		}
		if !SamePull(x.PlannedMonths, s.at) {
			continue
		}
		s.total += x.Value
		s.n++
		s.censored = s.censored || x.Censor != study.Exact
		sums[x.Batch] = s
	}
	means := make(map[int]float64, len(sums))
	for b, s := range sums {
		if !s.censored {
			means[b] = s.total / float64(s.n)
		}
	}
	return means
}

// Judge tells how a sample stands to the criterion: its value on the basis of
// the limits, rounded half up to the attribute's decimals (USP General Notices
// 7.20), against the limits as they are written.
func (c *Criterion) Judge(x *Sample) Outcome {
	if !c.attribute.HasLimit() || Before(x.PlannedMonths, c.baseline) {
		return Exempt
	}
	v, ok := c.onBasis(x.Batch, x.Value)
	if !ok {
		return Undecided
	}
	switch x.Censor {
	case study.BelowThat:
		return c.judgeRange(math.Inf(-1), v)
	case study.AboveThat:
		return c.judgeRange(v, math.Inf(1))
	}
	if rounding.Meets(v, c.attribute.Lower, c.attribute.Upper, c.attribute.Decimals) {
		return Met
	}
	return Missed
}

// JudgeMean tells whether the mean of a batch meets the criterion.
func (c *Criterion) JudgeMean(batch int, mean float64) Outcome {
	return c.Judge(&Sample{Batch: batch, Value: mean, PlannedMonths: c.baseline})
}

// onBasis puts a value on the basis of the limits.
func (c *Criterion) onBasis(batch int, value float64) (v float64, ok bool) {
	switch c.attribute.Basis {
	case study.BasisPercent:
		initial, ok := c.initial[batch]
		return 100 * value / initial, ok && initial > 0
	case study.BasisChange:
		initial, ok := c.initial[batch]
		return value - initial, ok
	}
	return value, true
}

// judgeRange judges a value known only to lie between low and high, neither of
// them reached.
func (c *Criterion) judgeRange(low, high float64) Outcome {
	lower, upper := c.attribute.Lower, c.attribute.Upper
	switch {
	case high <= lower || low >= upper:
		return Missed
	case low >= lower && high <= upper:
		return Met
	}
	return Undecided
}
