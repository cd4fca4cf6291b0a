package observed

import (
	"fmt"
	"math"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// Failure is the first sample outside its acceptance criterion, by the time it
// speaks for.
type Failure struct {
	Sample      int     // index into the samples judged
	LastPassing float64 // months up to which nothing failed: the Life of the judgement
}

// Judgement is what was observed of one attribute at one condition in one pack
// and orientation.
type Judgement struct {
	Outcomes []Outcome // one a sample
	Failure  *Failure  // nil where no sample missed the criterion
	// Life is the time in months up to which every sample met the criterion:
	// +Inf where none missed it, which sets no limit of its own; else the last
	// pull of a batch, before its own first failure, at which every sample met
	// the criterion, the shortest of the batches that failed; 0 where a batch has
	// no such pull.
	Life     float64
	Warnings []finding.Warning
}

// Judge judges every sample of an attribute; any unit that misses the criterion
// is a failure. The order of the samples does not matter but for exact ties.
func Judge(a *study.Attribute, samples []Sample) Judgement {
	j := Judgement{Outcomes: make([]Outcome, len(samples)), Life: math.Inf(1)}
	c := NewCriterion(a, samples)
	first := make(map[int]int) // by batch
	undecided, noInitial := 0, false
	for i := range samples {
		x := &samples[i]
		j.Outcomes[i] = c.Judge(x)
		switch j.Outcomes[i] {
		case Undecided:
			undecided++
			noInitial = noInitial || x.Censor == study.Exact
		case Missed:
			f, ok := first[x.Batch]
			if !ok || less(x, &samples[f]) {
				first[x.Batch] = i
			}
		}
	}
	if undecided > 0 {
		why := "a censored value leaves open whether the criterion is met"
		if noInitial {
			why = "there is no initial value above zero to compare with"
		}
		j.Warnings = append(j.Warnings, finding.Warning{Code: "undecided",
			Text: fmt.Sprintf("%d of %d results could not be judged against the acceptance criterion: %s", undecided, len(samples), why)})
	}
	for batch, i := range first {
		j.Life = min(j.Life, lastPassing(samples, j.Outcomes, batch, samples[i].Supports()))
		if j.Failure == nil || less(&samples[i], &samples[j.Failure.Sample]) {
			j.Failure = &Failure{Sample: i}
		}
	}
	if j.Failure != nil {
		j.Failure.LastPassing = j.Life
	}
	return j
}

// lastPassing gives the time that the last pull of a batch speaks for (see
// Supports) before another, of those at which every sample met the criterion.
func lastPassing(samples []Sample, outcomes []Outcome, batch int, before float64) float64 {
	last := 0.0
	for i := range samples {
		x := &samples[i]
		if x.Batch != batch || !Before(x.Supports(), before) || outcomes[i] != Met || x.Supports() <= last {
			continue
		}
		all := true
		for k := range samples {
			if samples[k].Batch == batch && SamePull(samples[k].PlannedMonths, x.PlannedMonths) && outcomes[k] != Met {
				all = false
				break
			}
		}
		if all {
			last = x.Supports()
		}
	}
	return last
}

// less orders samples by the time they speak for, so that a failure seen on a
// pull made too early counts from when it was seen; then by what tells them
// apart, so that the order they came in does not show.
func less(x, y *Sample) bool {
	switch {
	case !SamePull(x.Supports(), y.Supports()):
		return x.Supports() < y.Supports()
	case x.Months != y.Months:
		return x.Months < y.Months
	case x.Batch != y.Batch:
		return x.Batch < y.Batch
	case x.Unit != y.Unit:
		return x.Unit < y.Unit
	}
	return x.Value < y.Value
}

// Unchanged reports whether every sample from the baseline on equals the initial
// value of its batch, as ICH Q1E 2.4.1.1 asks of grades and pass/fail that show
// no change: no censored value, and every batch with an initial value.
func Unchanged(a *study.Attribute, samples []Sample) bool {
	initial := Initial(a, samples)
	baseline := a.Baseline.Months(0)
	for i := range samples {
		x := &samples[i]
		if Before(x.PlannedMonths, baseline) {
			continue
		}
		if v, ok := initial[x.Batch]; !ok || x.Censor != study.Exact || x.Value != v {
			return false
		}
	}
	return true
}
