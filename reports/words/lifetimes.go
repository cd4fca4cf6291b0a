package words

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"shelfspan/analysis"
	"shelfspan/analysis/agreement"
	"shelfspan/analysis/binomial"
	"shelfspan/analysis/lifetime"
	"shelfspan/study"
)

// What stands beside the distributions of lifetimes.
const (
	JointNote      = "Bold: the distribution with the lower AICc, which governs."
	LifetimeCurves = "Curves: the fit over all temperatures, or, where there is none, that of the condition alone. The bound is that of the distribution that governs."
)

// LifetimeNote says once what stands in a table of lifetimes; with fits also
// what stands in those columns, and with others than storage which are listed.
func LifetimeNote(l *analysis.Lifetime, fits, other bool) string {
	t := fmt.Sprintf("At most: the share of units that has failed by the last pull, with %s confidence (exact binomial). Seen: between which looks %s of the units had failed, without a model.",
		Percent(l.Confidence), Percent(l.Share))
	if other {
		t += " A condition other than storage at which no unit failed is not listed."
	}
	if fits {
		t += fmt.Sprintf(" Fit, bound: the time by which %s have failed by the distribution named, for the condition by itself, and its one-sided %s lower bound.",
			Percent(l.Share), Percent(l.Confidence)) + " " + LifetimesHangOn
	}
	return t
}

// Tells reports whether the units at a condition are worth a row of a table: one
// failed, or it is the storage condition.
func Tells(e *analysis.Evaluation, u *analysis.UnitsAt) bool {
	at := e.Dataset.Study.StoreAt
	return u.Failed > 0 || u.Condition == at || at < 0
}

// AtMost writes an upper bound of a share, never rounded down.
func AtMost(share float64) string {
	if math.IsNaN(share) {
		return "–"
	}
	p := 100 * share
	if p < 10 {
		return strconv.FormatFloat(math.Ceil(p*10-1e-9)/10, 'f', 1, 64) + " %"
	}
	return strconv.FormatFloat(math.Ceil(p-1e-9), 'f', 0, 64) + " %"
}

// Bracket writes the looks between which a share of the units had failed.
func Bracket(after, by float64) string {
	switch {
	case math.IsNaN(after):
		return "–"
	case by == 0:
		return "at the start"
	case math.IsInf(by, 1):
		return "after " + short(after)
	case after == 0:
		return "by " + short(by)
	}
	return short(after) + " to " + short(by)
}

// short writes elapsed months to one decimal, a whole number without.
func short(months float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(months, 'f', 1, 64), ".0")
}

// LifeFit writes estimate, bound and distribution of the governing fit at a
// target; dashes where there is none.
func LifeFit(f *analysis.LifetimeFit, target int) (estimate, bound, distribution string) {
	if !f.Fitted() || target >= len(f.Candidates[0].Bounds) {
		return "–", "–", ""
	}
	c := &f.Candidates[0]
	b := &c.Bounds[target]
	return Estimate(b.Estimate), LifeBound(b), DistributionName(c.Distribution)
}

// LifeBound writes the governing bound of a lifetime.
func LifeBound(b *analysis.UnitBound) string {
	if b.Open {
		return "open"
	}
	return Bound(b.Calibrated)
}

// DistributionName writes a distribution as the field does.
func DistributionName(d lifetime.Distribution) string {
	if d == lifetime.Weibull {
		return "Weibull"
	}
	return string(d)
}

// Lifetime says what the units of one attribute, pack and orientation say
// together and at each of the conditions shown.
func Lifetime(e *analysis.Evaluation, l *analysis.Lifetime, shown func(condition int) bool) []string {
	s := e.Dataset.Study
	out := LifetimeOverTemperatures(e, l)
	for i := range l.Conditions {
		u := &l.Conditions[i]
		if !shown(u.Condition) {
			continue
		}
		if l.Joint.Fitted() && u.Condition != s.StoreAt {
			continue // the fit over the temperatures speaks for it
		}
		if t := ownLifetime(s, l, u); t != "" {
			out = append(out, t)
		}
		if t := allFailed(s, u); t != "" {
			out = append(out, t)
		}
	}
	return out
}

// LifetimeOverTemperatures says what the units of all temperatures say together,
// or why they do not; nothing where there is one temperature, or no failure.
func LifetimeOverTemperatures(e *analysis.Evaluation, l *analysis.Lifetime) []string {
	f := l.Joint
	if f == nil {
		return nil
	}
	if !f.Fitted() {
		return []string{"The temperatures together give no distribution of lifetimes: " + noFit(f) + "."}
	}
	c := &f.Candidates[0]
	from := Count(f.Temperatures, "temperature")
	if len(l.LeftOut) > 0 {
		var ids []string
		for _, i := range l.LeftOut {
			ids = append(ids, e.Dataset.Study.Conditions[i].ID)
		}
		from += ", without " + strings.Join(ids, " and ")
	}
	first := fmt.Sprintf("Lifetimes over %s (%d of %s failed), %s: activation energy %s kJ/mol (%s interval %s to %s).",
		from, f.Failed, Count(f.Units, "unit"), chosen(f), Fixed(c.EaKJ, 1), Percent(l.Confidence), openEnd(c.EaLow), openEnd(c.EaHigh))
	var out []string
	if f.Uncommon() { // before any number that rests on it
		out = append(out, first+" "+common(f))
		first = ""
	}
	for i := range c.Bounds {
		b := &c.Bounds[i]
		t := fmt.Sprintf("At %s °C, %s", Number(b.Celsius, 4), failBy(l, f, i))
		if u := l.At(e.Dataset.Study.StoreAt); b.Storage && u != nil && u.Failed == 0 {
			t += " No unit has failed there yet: this is carried over from the other temperatures."
		}
		if b.Extrapolated {
			t += " That is outside the temperatures studied, and rests on one activation energy up to there."
		}
		out = append(out, strings.TrimSpace(first+" "+t))
		first = ""
	}
	if !f.Uncommon() {
		out = append(out, strings.TrimSpace(first+" "+common(f)))
	}
	return out
}

// noFit says why no distribution was fitted.
func noFit(f *analysis.LifetimeFit) string {
	c := &f.Candidates[0]
	if c.Status == lifetime.Separated {
		t := "all failures may have come at one moment"
		if f.Temperatures > 1 {
			t += " at each condition"
		}
		return t + ", so that their spread is not told from zero"
	}
	return c.Reason
}

// chosen names the governing distribution beside the other.
func chosen(f *analysis.LifetimeFit) string {
	best, other := &f.Candidates[0], &f.Candidates[1]
	t := DistributionName(best.Distribution)
	switch {
	case other.Status != lifetime.Fitted:
		return t + " (" + DistributionName(other.Distribution) + " could not be fitted)"
	case math.IsInf(best.AICc, 0) || math.IsInf(other.AICc, 0):
		return fmt.Sprintf("%s (AIC %s; %s %s)", t, Fixed(best.AIC, 1), DistributionName(other.Distribution), Fixed(other.AIC, 1))
	}
	return fmt.Sprintf("%s (AICc %s; %s %s)", t, Fixed(best.AICc, 1), DistributionName(other.Distribution), Fixed(other.AICc, 1))
}

// failBy says by when the share of units fails at a target, by the governing
// distribution and by the other one.
func failBy(l *analysis.Lifetime, f *analysis.LifetimeFit, target int) string {
	b := &f.Candidates[0].Bounds[target]
	t := fmt.Sprintf("%s of the units are estimated to have failed by %s months; ", Percent(l.Share), Estimate(b.Estimate))
	switch {
	case !b.Open:
		t += fmt.Sprintf("allowing for how few failed, the one-sided %s lower bound is %s; without that it is %s by the profile likelihood and %s by Wald", Percent(l.Confidence), Bound(b.Calibrated), Bound(b.Profile), Bound(b.Wald))
	case b.Profile > 0:
		t += fmt.Sprintf("allowing for how few failed, there is no one-sided %s lower bound above zero; without that it is %s by the profile likelihood and %s by Wald", Percent(l.Confidence), Bound(b.Profile), Bound(b.Wald))
	default:
		t += fmt.Sprintf("the data set no one-sided %s lower bound above zero", Percent(l.Confidence))
	}
	if o := &f.Candidates[1]; o.Status == lifetime.Fitted && target < len(o.Bounds) {
		t += fmt.Sprintf(" (%s: %s, bound %s)", DistributionName(o.Distribution), Estimate(o.Bounds[target].Estimate), LifeBound(&o.Bounds[target]))
	}
	return t + "."
}

// common says whether one spread and one activation energy hold for all conditions.
func common(f *analysis.LifetimeFit) string {
	switch {
	case math.IsNaN(f.CommonP):
		return "Whether one activation energy and one spread hold for all conditions could not be tested."
	case f.Uncommon():
		return fmt.Sprintf("One activation energy and one spread do not fit all conditions (%s): a prediction from them together is not to be relied on.", Probability(f.CommonP))
	}
	return fmt.Sprintf("No departure from one activation energy and one spread was shown (%s).", Probability(f.CommonP))
}

// ownLifetime says what the units at one condition say by themselves.
func ownLifetime(s *study.Study, l *analysis.Lifetime, u *analysis.UnitsAt) string {
	if u.Own == nil {
		return ""
	}
	where := "By the units at " + s.Conditions[u.Condition].ID + " alone"
	if !u.Own.Fitted() {
		return where + " there is no distribution of lifetimes: " + noFit(u.Own) + "."
	}
	return fmt.Sprintf("%s (%d of %s failed), %s: %s", where, u.Failed, Count(u.Units, "unit"), chosen(u.Own), failBy(l, u.Own, 0))
}

// allFailed says what nothing but failures at a condition shows.
func allFailed(s *study.Study, u *analysis.UnitsAt) string {
	if u.Failed == 0 || u.Failed < u.Units {
		return ""
	}
	return fmt.Sprintf("All %s at %s failed: that they last beyond the first look there is not shown.", Count(u.Units, "unit"), s.Conditions[u.Condition].ID)
}

// NoFailure says what it shows that no unit of some packs of an attribute failed
// at the storage condition, by the pack that shows least; "" where one failed in
// every pack.
func NoFailure(e *analysis.Evaluation, lifetimes []*analysis.Lifetime) string {
	s := e.Dataset.Study
	var packs []string
	var least *analysis.PullSeen
	all := true
	for _, l := range lifetimes {
		u := l.At(s.StoreAt)
		if u == nil || u.Failed > 0 || len(u.Pulls) == 0 {
			all = all && (u == nil || u.Failed == 0)
			continue
		}
		packs = append(packs, PackName(s, l.Pack, l.Orientation))
		if p := &u.Pulls[len(u.Pulls)-1]; least == nil || p.AtMost > least.AtMost {
			least = p
		}
	}
	if least == nil {
		return ""
	}
	l := lifetimes[0]
	t := "At " + s.Conditions[s.StoreAt].ID + " no unit has failed"
	if !all {
		t += " in " + strings.Join(packs, ", ")
	}
	t += fmt.Sprintf(". That says little of single units: none of %d at %s says with %s confidence that at most %s have failed by then",
		least.Units, PullTime(least), Percent(l.Confidence), AtMost(least.AtMost))
	if n, err := binomial.UnitsWithoutFailure(l.Share, l.Confidence); err == nil && n > least.Units {
		return t + fmt.Sprintf("; for at most %s it would take %d units without a failure.", Percent(l.Share), n)
	}
	return strings.Replace(t, "That says little of single units: none", "None", 1) + "."
}

// PullTime writes the time that a pull speaks for: its planned one, or the
// months really passed where a unit was pulled too early.
func PullTime(p *analysis.PullSeen) string {
	if math.Abs(p.Months-p.Planned.Months(0)) < 1e-6 {
		return p.Planned.String()
	}
	return short(math.Floor(p.Months*10)/10) + " months"
}

// Sooner says of every attribute, pack and orientation that units may fail
// before the months that the rule supports, by those at the storage condition.
func Sooner(e *analysis.Evaluation) []string {
	s := e.Dataset.Study
	var out []string
	for _, l := range e.Lifetimes {
		w, c := e.Sooner(l)
		if w == nil {
			continue
		}
		t := fmt.Sprintf("Single units may fail sooner: the rule for what was observed supports %s of %s, but by the units at %s the one-sided %s lower bound of the time by which %s of them miss the criterion ",
			Count(w.Months, "month"), Place(s, l.Attribute, l.Pack, l.Orientation), s.Conditions[s.StoreAt].ID, Percent(l.Confidence), Percent(l.Share))
		switch b := &c.Bounds[0]; {
		case !b.Open:
			t += "is " + Bound(b.Calibrated) + " months"
		case b.Profile > 0:
			t += "is not above zero, so few having failed"
		default:
			t += "is not above zero"
		}
		t += " (" + DistributionName(c.Distribution) + ")."
		out = append(out, t)
	}
	return out
}

// Agreement says in one or two sentences how far two assessors agree.
func Agreement(e *analysis.Evaluation, g *analysis.Agreement) string {
	r := &g.Result
	t := fmt.Sprintf("%s and %s both graded %s and gave %d of them the same grade", g.Assessors[0], g.Assessors[1], Count(r.Units, "sample"), g.Same())
	switch r.Status {
	case agreement.OneGrade:
		return t + "; all had one grade, so that kappa, agreement beyond chance, is not defined."
	case agreement.ByMargins:
		return t + "; kappa tells nothing, since one of them gave every sample the same grade or their grades hardly overlap."
	case agreement.NoError:
		t += fmt.Sprintf("; linearly weighted kappa %.2f, whose interval so few disagreements do not tell.", r.Kappa)
	default:
		t += fmt.Sprintf("; linearly weighted kappa %.2f (%s interval %.2f to %.2f).", r.Kappa, Percent(e.Confidence), r.Low, r.High)
	}
	if g.Poor() {
		t += " That is poor: settle what each grade looks like before the grades are relied on."
	}
	if g.Repeated {
		t += " Units graded several times count each time, and the interval is too narrow."
	}
	return t
}

// LifetimesHangOn qualifies every lifetime that is told by a distribution.
const LifetimesHangOn = "The bound by the profile likelihood, allowing for how few failed, governs. At 95 % it holds in about 94 or more of 100 simulated studies, and in nearly all where only a handful of many failed; without that allowance in as few as 89, by Wald in as few as 79. That is with the distribution known: so small a share hangs on the one that is taken for granted. A lifetime is no shelf life by itself: what was observed at the storage condition decides."
