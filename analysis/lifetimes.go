package analysis

import (
	"math"
	"slices"

	"shelfspan/analysis/lifetime"
	"shelfspan/analysis/turnbull"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// Lifetime is what the looks at the units of a grade or pass/fail attribute in
// one pack and orientation say of the time at which a unit misses its criterion.
// It never lengthens a shelf life, and a Verdict does not look at it.
//
// A unit that is opened has one look, at the elapsed time of its sample; one
// that is put back has several, known by its label. Of the readings of one sample
// the worst counts. Pulls out of their window, and at times the study does not
// plan, count at the time that had really passed, since a lifetime knows no plan.
// What the criterion is not judged on, before a baseline, is no look. A time-zero
// unit that passed and was opened says nothing of storage; one that failed was
// defective before it, and no distribution of lifetimes is then fitted. All
// batches are taken together.
type Lifetime struct {
	Attribute, Pack, Orientation int
	Share                        float64 // of units: 1 − the coverage asked for
	Confidence                   float64 // of the one-sided bounds, and of Ea's two-sided interval
	Conditions                   []UnitsAt
	// Joint is the fit with an Arrhenius term to the units of all temperatures;
	// nil where units of one temperature only say something. Its bounds are at the
	// storage condition's temperature first, where there is one, and then at
	// Options.At.
	Joint    *LifetimeFit
	LeftOut  []int // conditions left out of Joint
	Warnings []finding.Warning
}

// UnitsAt is the units at one condition; cycling ones are left out.
type UnitsAt struct {
	Condition int
	Units     int              // of which something is known
	Failed    int              // of them
	AtStart   int              // of Failed, before storage
	Recovered int              // units that passed after they had failed: the first failure counts
	Pulls     []PullSeen       // after time zero, by time
	Steps     *turnbull.Result // the nonparametric estimate; nil where nothing is known or a unit failed before storage
	// After and By bracket the time by which the share of units has failed, by that
	// estimate: By is +Inf where it is beyond the last looks; NaN where there is no estimate.
	After, By float64
	// Own is the fit to the units of this condition alone; nil where none or all
	// of them failed. Its one bound is at the condition.
	Own *LifetimeFit
}

// PullSeen is what was seen at one pull, and the exact binomial bound it sets.
type PullSeen struct {
	Planned study.Duration
	Months  float64 // that it speaks for: planned, or less where a unit was pulled too early
	Units   int     // looked at then; of those put back, also those that had failed before
	Failed  int     // by then
	AtMost  float64 // one-sided upper bound of the share that has failed by then
}

// LifetimeFit is one or both distributions fitted to the same units.
type LifetimeFit struct {
	// Candidates are lognormal and Weibull, the better by AICc first: that one governs.
	Candidates       []LifetimeCandidate
	Units, Failed    int
	Temperatures     int
	Coldest, Hottest float64 // °C, of the units something is known of
	CommonP          float64 // of the likelihood-ratio test of the Arrhenius term and one spread against a fit of each condition; NaN where not tested
	CommonChi        float64
	CommonDF         int
}

// Fitted reports whether a distribution was fitted.
func (f *LifetimeFit) Fitted() bool {
	return f != nil && f.Candidates[0].Status == lifetime.Fitted
}

// LifetimeCandidate is one distribution fitted to the units.
type LifetimeCandidate struct {
	*lifetime.Result             // its Warnings are of it alone
	Behind           float64     // AICc less the better one's; +Inf where not fitted
	Bounds           []UnitBound // empty where not fitted
}

// UnitBound is the time in months by which the share of units fails at a
// temperature, and its lower bounds. The calibrated one governs.
type UnitBound struct {
	lifetime.Quantile
	Storage bool // the storage condition's own temperature
}

// level is the difference in AICc within which neither distribution is to be
// preferred (Burnham & Anderson 2002, section 2.6), and the significance level of
// the test of a common spread and activation energy, as for the linearity of rates.
const (
	alike       = 2.0
	commonLevel = 0.05
)

// Cautious gives the shortest lower bound at a target among the distributions
// that fit about as well as the better one, and whether there is one.
func (f *LifetimeFit) Cautious(target int) (*LifetimeCandidate, bool) {
	if !f.Fitted() || target >= len(f.Candidates[0].Bounds) {
		return nil, false
	}
	best := &f.Candidates[0]
	for i := range f.Candidates[1:] {
		c := &f.Candidates[1+i]
		if c.Status == lifetime.Fitted && c.Behind < alike && c.Bounds[target].Calibrated < best.Bounds[target].Calibrated {
			best = c
		}
	}
	return best, true
}

// Uncommon reports whether one spread and one activation energy do not fit all
// conditions, so that no prediction is to be relied on.
func (f *LifetimeFit) Uncommon() bool { return f.CommonP < commonLevel }

// At gives the units at a condition; nil where there are none.
func (l *Lifetime) At(condition int) *UnitsAt {
	for i := range l.Conditions {
		if l.Conditions[i].Condition == condition {
			return &l.Conditions[i]
		}
	}
	return nil
}

// lifetimes takes the units of every grade and pass/fail attribute that has a
// criterion, in every pack and orientation.
func (v *evaluator) lifetimes() []*Lifetime {
	var cells []cell
	for i := range v.s.Attributes {
		a := &v.s.Attributes[i]
		if a.Kind != study.Grade && a.Kind != study.PassFail || !a.HasLimit() || !wanted(v.o.Attributes, i) {
			continue
		}
		for _, k := range v.arms(i) {
			if len(v.steadyConditions(k)) > 0 {
				cells = append(cells, k)
			}
		}
	}
	all := make([]*Lifetime, len(cells))
	each(len(cells), func(i int) { all[i] = v.lifetime(cells[i]) })
	return slices.DeleteFunc(all, func(l *Lifetime) bool { return len(l.Conditions) == 0 })
}

// steadyConditions lists the conditions of an arm with results, but for cycling ones.
func (v *evaluator) steadyConditions(k cell) []int {
	var out []int
	for c := range v.s.Conditions {
		k.condition = c
		if v.s.Conditions[c].Role != study.Cycling && len(v.cells[k]) > 0 {
			out = append(out, c)
		}
	}
	return out
}

func (v *evaluator) lifetime(k cell) *Lifetime {
	l := &Lifetime{Attribute: k.attribute, Pack: k.pack, Orientation: k.orientation,
		Share: v.o.failing(), Confidence: v.confidence, LeftOut: v.o.LeaveOut}
	var joint []lifetime.Observation
	batches := make(map[int]int) // failures after time zero
	var entered []int            // conditions, into the joint fit
	for _, c := range v.steadyConditions(k) {
		k.condition = c
		units := v.unitLives(k)
		u := UnitsAt{Condition: c, After: math.NaN(), By: math.NaN()}
		own := u.count(units, v.s.Conditions[c].Temperature)
		for i := range units {
			if units[i].failedInStorage() {
				batches[units[i].batch]++
			}
		}
		u.Pulls = pullsSeen(units, v.s.Attributes[k.attribute].Sampling == study.Returned, v.confidence)
		u.estimate(own, l.Share)
		if u.Failed > 0 && u.Failed < u.Units {
			u.Own = v.fitLives(v.place(k), own, false, l.Share, []place{{v.s.Conditions[c].Temperature, c == v.s.StoreAt}})
		}
		l.Conditions = append(l.Conditions, u)
		if !slices.Contains(v.o.LeaveOut, c) {
			joint, entered = append(joint, own...), append(entered, c)
		}
	}
	k.condition = -1
	v.fitJoint(l, k, joint, entered)
	l.Conditions = slices.DeleteFunc(l.Conditions, func(u UnitsAt) bool { return u.Units == 0 || !wanted(v.o.Conditions, u.Condition) })
	v.qualify(l, k, batches)
	return l
}

func (l *Lifetime) warn(code, where, text string) {
	l.Warnings = append(l.Warnings, finding.Warning{Code: code, Where: where, Text: text})
}

// judgeUnits adds what the looks at single units say: the lifetimes, how they
// stand to the supported shelf life, and the agreement of those who graded. An
// answer about a history of temperatures is not about them.
func (v *evaluator) judgeUnits(e *Evaluation) {
	if len(v.o.Histories) > 0 || !v.o.Trends && !v.o.Supported && !v.o.Arrhenius {
		return
	}
	e.Lifetimes, e.Agreements = v.lifetimes(), v.agreements()
	v.compareLifetimes(e)
	for _, l := range e.Lifetimes {
		e.Warnings = append(e.Warnings, l.Warnings...)
	}
	for _, g := range e.Agreements {
		e.Warnings = append(e.Warnings, g.Warnings...)
	}
}
