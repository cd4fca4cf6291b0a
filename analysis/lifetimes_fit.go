package analysis

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"shelfspan/analysis/lifetime"
	"shelfspan/study/finding"
)

// place is a temperature that a bound is wanted at.
type place struct {
	celsius float64
	storage bool
}

// fitLives fits both distributions to the same units.
func (v *evaluator) fitLives(where string, units []lifetime.Observation, arrhenius bool, share float64, at []place) *LifetimeFit {
	f := &LifetimeFit{CommonP: math.NaN(), CommonChi: math.NaN(), Coldest: math.Inf(1), Hottest: math.Inf(-1)}
	for _, x := range units {
		f.Coldest, f.Hottest = min(f.Coldest, x.Celsius), max(f.Hottest, x.Celsius)
	}
	in := lifetime.Input{Where: where, Observations: units, Arrhenius: arrhenius, Confidence: v.confidence}
	for _, c := range lifetime.Compare(in, lifetime.Lognormal, lifetime.Weibull) {
		candidate := LifetimeCandidate{Result: c.Result, Behind: c.Behind}
		f.Units, f.Failed, f.Temperatures = max(f.Units, int(c.Units)), max(f.Failed, int(c.Failed)), max(f.Temperatures, c.Temperatures)
		if c.Status == lifetime.Fitted {
			for _, p := range at {
				if q, err := c.Quantile(share, p.celsius, v.confidence); err == nil {
					candidate.Bounds = append(candidate.Bounds, UnitBound{q, p.storage})
				}
			}
		}
		f.Candidates = append(f.Candidates, candidate)
	}
	return f
}

// fitJoint fits the units of all temperatures with an Arrhenius term, where
// there are several and a unit failed.
func (v *evaluator) fitJoint(l *Lifetime, k cell, units []lifetime.Observation, conditions []int) {
	temperatures := make(map[float64]bool)
	failed := false
	for _, x := range units {
		temperatures[x.Celsius] = true
		failed = failed || !math.IsInf(x.By, 1)
	}
	if len(temperatures) < 2 || !failed {
		return
	}
	targets, storage := v.targets()
	at := make([]place, len(targets))
	for i, t := range targets {
		at[i] = place{t.Celsius, storage && i == 0}
	}
	l.Joint = v.fitLives(v.place(k), units, true, l.Share, at)
	if !l.Joint.Fitted() {
		return
	}
	l.compareConditions(conditions)
	l.Warnings = append(l.Warnings, l.Joint.warnings()...)
	v.qualifyJoint(l, v.place(k), conditions)
}

// compareConditions tests the Arrhenius term and the one spread of the joint fit
// against a location and a spread for each condition, by twice the difference of
// the log-likelihoods against χ² on 2m − 3 degrees of freedom, m conditions
// (Meeker & Escobar, Statistical Methods for Reliability Data, 1998, chapter 19).
// It needs a fit of each condition by itself; where one has none, it is not made.
func (l *Lifetime) compareConditions(conditions []int) {
	governing := &l.Joint.Candidates[0]
	free, m := 0.0, 0
	for _, c := range conditions {
		u := l.At(c)
		if u.Units == 0 {
			continue
		}
		var own *LifetimeCandidate
		if u.Own != nil {
			own = u.Own.of(governing.Distribution)
		}
		if own == nil || own.Status != lifetime.Fitted {
			return
		}
		free += own.LogLikelihood
		m++
	}
	if m < 2 {
		return
	}
	f := l.Joint
	f.CommonDF = 2*m - 3
	f.CommonChi = 2 * max(0, free-governing.LogLikelihood)
	f.CommonP = distuv.ChiSquared{K: float64(f.CommonDF)}.Survival(f.CommonChi)
}

// of gives the candidate of a distribution.
func (f *LifetimeFit) of(d lifetime.Distribution) *LifetimeCandidate {
	for i := range f.Candidates {
		if f.Candidates[i].Distribution == d {
			return &f.Candidates[i]
		}
	}
	return nil
}

// warnings gives what qualifies the governing fit and its bound at storage, or
// its first one.
func (f *LifetimeFit) warnings() []finding.Warning {
	if !f.Fitted() {
		return nil
	}
	best := &f.Candidates[0]
	out := append([]finding.Warning(nil), best.Warnings...)
	if len(best.Bounds) > 0 {
		out = append(out, best.Bounds[0].Warnings...)
	}
	return out
}

// qualify adds the warnings of the storage condition's own fit, or of each
// condition's where there is no joint one, and of what was seen.
func (v *evaluator) qualify(l *Lifetime, k cell, failures map[int]int) {
	where := v.place(k)
	for i := range l.Conditions {
		u := &l.Conditions[i]
		if !l.Joint.Fitted() || u.Condition == v.s.StoreAt {
			l.Warnings = append(l.Warnings, u.Own.warnings()...)
		}
		if u.Recovered > 0 {
			k.condition = u.Condition
			l.warn("recovered", v.place(k), fmt.Sprintf("%d of %d units passed after a failure at an earlier look: the first failure counts.", u.Recovered, u.Units))
		}
	}
	total, batch := 0, -1
	for b, n := range failures {
		total += n
		batch = b
	}
	const several = 3 // failures that may well come from one batch by chance are fewer
	if len(failures) == 1 && total >= several && len(v.s.Batches) > 1 {
		l.warn("one-batch-fails", where, fmt.Sprintf("All %d failures in storage are of batch %s: the lifetimes take all batches together, and units of that batch may fail sooner than they say.",
			total, v.s.Batches[batch].ID))
	}
}

// qualifyJoint adds what speaks against one line through all temperatures.
func (v *evaluator) qualifyJoint(l *Lifetime, where string, conditions []int) {
	if l.Joint.Uncommon() {
		l.warn("lifetimes-differ", where, "One activation energy and one spread of the lifetimes do not fit all conditions: no prediction from them together is to be relied on.")
	}
	at := &v.s.Attributes[l.Attribute]
	if at.ExpectedAtAccelerated != "" {
		l.warn("expected-change-fitted", where, "The study expects a change of this attribute when hot ("+at.ExpectedAtAccelerated+"): failures there may be of another kind than those in storage, and the lifetimes over temperatures count them as the same.")
	}
	first, differ := math.NaN(), false
	for _, c := range conditions {
		switch h := v.s.Conditions[c].Humidity; {
		case l.At(c).Units == 0:
		case math.IsNaN(h):
		case math.IsNaN(first):
			first = h
		default:
			differ = differ || h != first
		}
	}
	if differ {
		l.warn("humidity-in-activation-energy", where, "The conditions differ in humidity, of which the lifetimes take no account: the activation energy takes in what humidity does.")
	}
}

// compareLifetimes warns where units fail sooner, by what was seen at the
// storage condition, than the rule for what was observed supports.
func (v *evaluator) compareLifetimes(e *Evaluation) {
	if e.Supported == nil {
		return
	}
	for _, l := range e.Lifetimes {
		w, c := e.Sooner(l)
		if w == nil {
			continue
		}
		bound := &c.Bounds[0]
		t := fmt.Sprintf("is %.3g months", math.Floor(bound.Calibrated*10+1e-9)/10)
		if bound.Open {
			t = "is not above zero"
		}
		place := cell{l.Attribute, v.s.StoreAt, l.Pack, l.Orientation}
		l.warn("units-fail-sooner", v.place(place), fmt.Sprintf("%.4g %% of the units may miss the criterion before the %d months that the rule supports: by the units at the storage condition, the %.4g %% lower bound of the time by which so many have failed %s.",
			100*l.Share, w.Months, 100*l.Confidence, t))
	}
}

// Sooner gives the verdict of an attribute, pack and orientation whose months
// are beyond the lower bound of the lifetimes of the units at the storage
// condition, and the distribution that bound is of: the shorter one, where both
// fit about as well. Both are nil where it is not so, or not known.
func (e *Evaluation) Sooner(l *Lifetime) (*Verdict, *LifetimeCandidate) {
	if e.Supported == nil {
		return nil, nil
	}
	u := l.At(e.Dataset.Study.StoreAt)
	if u == nil {
		return nil, nil
	}
	c, ok := u.Own.Cautious(0)
	if !ok {
		return nil, nil
	}
	for i := range e.Supported.Verdicts {
		w := &e.Supported.Verdicts[i]
		if w.Attribute == l.Attribute && w.Pack == l.Pack && w.Orientation == l.Orientation && c.Bounds[0].Calibrated < float64(w.Months) {
			return w, c
		}
	}
	return nil, nil
}
