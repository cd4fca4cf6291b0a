package extrapolation

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis/observed"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// Case is the branch of the decision tree that was taken.
type Case string

// The branches.
const (
	NoRule                Case = "no rule"                // the study sets rules = "none"
	NoChangeSeen          Case = "no change seen"         // no significant change; grades and pass/fail that never differ from the initial
	NoSignificantChange   Case = "no significant change"  // at the accelerated condition
	IntermediateUnchanged Case = "intermediate unchanged" // significant change at the accelerated, none at the intermediate condition
	IntermediateChanged   Case = "intermediate changed"
	IntermediateMissing   Case = "intermediate missing" // significant change at the accelerated condition, no intermediate one that tells
	NoIntermediate        Case = "no intermediate"      // significant change; refrigerated storage or 30 °C long-term, where no intermediate condition exists
	AcceleratedMissing    Case = "accelerated missing"  // less than 6 months of accelerated data
	InFreezer             Case = "freezer"
)

// Reach is how far past X months of data a shelf life may go: at most Times·X
// and at most X + Plus. {1, 0} is X itself, an infinite Times no limit.
type Reach struct{ Times, Plus float64 }

// The reaches of the decision tree. The X + 3 of attributes not amenable to
// regression is also held to 1.5X: with less than 6 months of data it would
// otherwise allow more after a significant change than without one.
var (
	unlimited     = Reach{math.Inf(1), math.Inf(1)}
	doubleTo12    = Reach{2, 12}
	oneAndHalfTo6 = Reach{1.5, 6}
	plus3         = Reach{1.5, 3}
	toX           = Reach{1, 0}
)

// Months gives the cap for X months of data.
func (r Reach) Months(x float64) float64 {
	if r == unlimited {
		return math.Inf(1)
	}
	return min(r.Times*x, x+r.Plus)
}

// String gives the reach in words.
func (r Reach) String() string {
	switch r {
	case unlimited:
		return "no limit"
	case toX:
		return "no longer than the data, X"
	}
	return fmt.Sprintf("at most %gX and X + %g months", r.Times, r.Plus)
}

// Limit is how far the shelf life by one attribute in one pack and orientation
// may reach, with everything that led to it.
type Limit struct {
	Case     Case
	Rule     string  // "ICH Q1E 2.4.1.2"; "none" where the study sets no rules
	Text     string  // the rule in one sentence, with what it was applied to
	Observed float64 // X, months
	Reach    Reach
	Cap      float64 // months; +Inf where there is no limit

	Storage            study.Storage
	Accelerated        int     // the accelerated condition that covers the longest time; -1 where there is none
	AcceleratedMonths  float64 // up to which every batch has results there
	Intermediate       int     // as Accelerated; only where it was asked for
	IntermediateMonths float64
	Changes            []Change // the significant changes that counted, of any attribute in the pack and orientation
	Warnings           []finding.Warning
}

// Limit gives the limit for an attribute; batches are those whose results
// count, and regression tells whether their results could be fitted: an
// attribute is not amenable to regression with fewer than 3 distinct times in a
// batch, a censored value, grades or pass/fail.
func (a *Assessment) Limit(attribute int, batches []int, regression bool) Limit {
	storage := a.samples(attribute, a.study.StoreAt)
	l := Limit{Storage: a.Storage, Observed: Observed(storage, batches), Accelerated: -1, Intermediate: -1}
	a.decide(&l, attribute, batches, regression)
	l.Cap = l.Reach.Months(l.Observed)
	l.Text = a.sentence(&l, attribute, regression)
	a.warnOfIncomplete(&l, attribute, storage, batches)
	return l
}

// decide walks the decision tree of ICH Q1E Appendix A.
func (a *Assessment) decide(l *Limit, attribute int, batches []int, regression bool) {
	set := func(c Case, rule string, r Reach) { l.Case, l.Rule, l.Reach = c, rule, r }
	if a.study.Rules == study.NoRules {
		if regression {
			set(NoRule, "none", unlimited)
		} else {
			set(NoRule, "none", toX)
		}
		return
	}
	if a.Storage == study.Freezer {
		set(InFreezer, "ICH Q1E 2.5.2", toX)
		return
	}
	section := "ICH Q1E 2.4"
	if a.Storage == study.Refrigerated {
		section = "ICH Q1E 2.5.1"
	}
	l.AcceleratedMonths, l.Accelerated = a.longest(attribute, a.Accelerated, batches)
	l.Changes = a.counted(a.Accelerated)
	if l.AcceleratedMonths < study.SixMonths {
		set(AcceleratedMissing, section, toX)
		return
	}
	if len(l.Changes) == 0 {
		c, unchanged := NoSignificantChange, !regression && a.unchanged(attribute)
		if unchanged {
			c = NoChangeSeen
		}
		switch {
		case a.Storage == study.Refrigerated && (regression || unchanged):
			set(c, "ICH Q1E 2.5.1.1", oneAndHalfTo6)
		case a.Storage == study.Refrigerated:
			set(c, "ICH Q1E 2.5.1.1", plus3)
		case unchanged:
			set(c, "ICH Q1E 2.4.1.1", doubleTo12)
		case regression:
			set(c, "ICH Q1E 2.4.1.2", doubleTo12)
		default:
			set(c, "ICH Q1E 2.4.1.2", oneAndHalfTo6)
		}
		return
	}
	switch {
	case a.Storage == study.Refrigerated:
		set(NoIntermediate, "ICH Q1E 2.5.1.2", toX)
		return
	case !study.HasIntermediate(a.study.Conditions[a.study.StoreAt].Temperature):
		set(NoIntermediate, "ICH Q1E 2.4.2", toX)
		return
	}
	l.IntermediateMonths, l.Intermediate = a.longest(attribute, a.Intermediate, batches)
	if more := a.counted(a.Intermediate); len(more) > 0 {
		l.Changes = append(l.Changes, more...)
		set(IntermediateChanged, "ICH Q1E 2.4.2.2", toX)
		return
	}
	switch {
	case !a.intermediateTells(l, batches):
		set(IntermediateMissing, "ICH Q1E 2.4.2", toX)
	case regression:
		set(IntermediateUnchanged, "ICH Q1E 2.4.2.1", oneAndHalfTo6)
	default:
		set(IntermediateUnchanged, "ICH Q1E 2.4.2.1", plus3)
	}
}

// unchanged reports whether grades or pass/fail never differ from the initial,
// neither at the storage nor at the accelerated conditions.
func (a *Assessment) unchanged(attribute int) bool {
	if k := a.study.Attributes[attribute].Kind; k != study.Grade && k != study.PassFail {
		return false
	}
	for _, c := range append([]int{a.study.StoreAt}, a.Accelerated...) {
		if !observed.Unchanged(&a.study.Attributes[attribute], a.samples(attribute, c)) {
			return false
		}
	}
	return true
}

// intermediateTells reports whether the intermediate condition was tested for
// at least 6 months in every batch, both in the attribute itself and in every
// one that changed significantly at the accelerated condition: an attribute
// that was not looked at there cannot have been shown to keep.
func (a *Assessment) intermediateTells(l *Limit, batches []int) bool {
	if l.IntermediateMonths < study.SixMonths {
		return false
	}
	for _, c := range l.Changes {
		if months, _ := a.longest(c.Attribute, a.Intermediate, batches); months < study.SixMonths {
			return false
		}
	}
	return true
}

// sentence tells the rule and what it was applied to.
func (a *Assessment) sentence(l *Limit, attribute int, regression bool) string {
	id := func(condition int) string { return a.study.Conditions[condition].ID }
	amenable := "regression done"
	if !regression {
		amenable = "not amenable to regression"
	}
	changed := "significant change at the accelerated condition (" + a.changed(l.Changes, a.Accelerated) + ")"
	var why string
	switch l.Case {
	case NoRule:
		if regression {
			return "The study sets no rule for extrapolation, and none was applied."
		}
		why = "the study sets no rule for extrapolation, " + amenable
	case InFreezer:
		why = "only real-time data count"
	case AcceleratedMissing:
		why = "no accelerated data"
		if l.Accelerated >= 0 {
			why = fmt.Sprintf("less than 6 months of accelerated data of every batch (%s: %.3g months)", id(l.Accelerated), l.AcceleratedMonths)
		}
	case NoChangeSeen:
		why = fmt.Sprintf("no significant change in 6 months at %s, and no change in %s", id(l.Accelerated), a.study.Attributes[attribute].ID)
	case NoSignificantChange:
		why = fmt.Sprintf("no significant change in 6 months at %s, %s", id(l.Accelerated), amenable)
	case IntermediateUnchanged:
		why = fmt.Sprintf("%s, none in %.3g months at %s, %s", changed, l.IntermediateMonths, id(l.Intermediate), amenable)
	case IntermediateChanged:
		why = changed + " and at the intermediate one (" + a.changed(l.Changes, a.Intermediate) + ")"
	case IntermediateMissing:
		why = changed + ", and less than 6 months of intermediate data of every batch in this attribute and in those that changed"
	case NoIntermediate:
		why = changed + ", with no intermediate condition to appeal to for this storage"
	}
	return fmt.Sprintf("%s storage, %s: %s; X = %.4g months of long-term data give %.4g months.",
		strings.ToUpper(string(l.Storage[:1]))+string(l.Storage[1:]), why, l.Reach, l.Observed, l.Reach.Months(l.Observed))
}

// changed names the attributes that changed at some conditions, each with its
// first time.
func (a *Assessment) changed(list []Change, conditions []int) string {
	first := make(map[[2]int]Change)
	var order [][2]int
	for _, c := range list {
		if !slices.Contains(conditions, c.Condition) {
			continue
		}
		k := [2]int{c.Attribute, c.Condition}
		f, ok := first[k]
		if !ok {
			order = append(order, k)
		}
		if !ok || c.Months < f.Months {
			first[k] = c
		}
	}
	parts := make([]string, len(order))
	for i, k := range order {
		parts[i] = fmt.Sprintf("%s at %s, %.3g months", a.study.Attributes[k[0]].ID, a.study.Conditions[k[1]].ID, first[k].Months)
	}
	return strings.Join(parts, "; ")
}

// warnOfIncomplete tells of a pull later than X that some batch lacks or that
// was made outside its window.
func (a *Assessment) warnOfIncomplete(l *Limit, attribute int, samples []observed.Sample, batches []int) {
	later := math.Inf(1)
	for i := range samples {
		if m := samples[i].PlannedMonths; m < later && observed.Before(l.Observed, m) {
			later = m
		}
	}
	if math.IsInf(later, 1) {
		return
	}
	var lacking []string
	for _, b := range batches {
		if complete(samples, []int{b}, later) {
			continue
		}
		what := "has no result"
		if slices.ContainsFunc(samples, func(s observed.Sample) bool {
			return s.Batch == b && observed.SamePull(s.PlannedMonths, later)
		}) {
			what = "was pulled outside its window"
		}
		lacking = append(lacking, a.study.Batches[b].ID+" "+what)
	}
	l.Warnings = append(l.Warnings, a.warning("incomplete-pull", attribute, a.study.StoreAt,
		"results later than %.4g months do not count as long-term data of every batch: at %.4g months %s.",
		l.Observed, later, strings.Join(lacking, "; ")))
}
