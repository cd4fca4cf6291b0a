package words

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"shelfspan/analysis"
	"shelfspan/study"
)

// Conclusion says what shelf life the study supports, in the order a reader
// needs it: a failure that was seen, the supported months with what limits
// them and the rule, the claim, and what stands behind it or is missing.
func Conclusion(e *analysis.Evaluation) []string {
	s, v := e.Dataset.Study, e.Supported
	if s.StoreAt < 0 || v == nil {
		t := "No shelf life can be stated: nothing was judged at the storage condition."
		if s.StoreAt < 0 {
			t = "No shelf life can be stated: the study names no condition that stands for storage as labelled."
		}
		if !s.Claim.IsZero() {
			t += fmt.Sprintf(" The claim of %s months is not shown.", Planned(s.Claim.Months(0)))
		}
		return withChanges(e, []string{t})
	}
	out := failures(s, v)
	if v.Analysis == nil {
		out = append(out, "No shelf life can be stated: no attribute with an acceptance criterion could be judged at the storage condition.")
	} else {
		part := ""
		switch {
		case len(v.Undecided) > 0:
			part = ", of what could be judged"
		case v.Partial:
			part = ", of the part of the study that was asked for"
		}
		t := fmt.Sprintf("Supported shelf life at %s%s: %s, limited by %s. %s",
			Storage(s), part, Count(v.Months, "month"), Place(s, v.Attribute, v.Pack, v.Orientation), Limit(e, &v.Verdict))
		if float64(v.Months) > v.Observed {
			t += fmt.Sprintf(" The data reach %s months; what lies beyond is extrapolated.", Planned(v.Observed))
		}
		out = append(out, t)
		out = append(out, Turning(e)...)
	}
	out = append(out, Sooner(e)...)
	if t := claim(s, v); t != "" {
		out = append(out, t)
	}
	if n := len(v.Undecided); n > 0 {
		var t []string
		for _, u := range v.Undecided {
			t = append(t, Place(s, u.Attribute, u.Pack, u.Orientation)+" ("+u.Reason+")")
		}
		out = append(out, "Not judged, and so not covered by the above: "+strings.Join(t, "; ")+".")
	}
	return withChanges(e, append(out, evidence(s, v)...))
}

// withChanges adds that results were changed after they were taken in.
func withChanges(e *analysis.Evaluation, conclusion []string) []string {
	if t := Changes(e.Dataset); t != "" {
		conclusion = append(conclusion, t)
	}
	return conclusion
}

// claim says how the supported months stand to the claim; "" where the study
// states none.
func claim(s *study.Study, v *analysis.Supported) string {
	if math.IsNaN(v.ClaimMonths) {
		return ""
	}
	t := fmt.Sprintf("The claim of %s months ", Planned(v.ClaimMonths))
	switch {
	case v.MeetsClaim && turns(&v.Verdict):
		return t + "is within these months, with the reservation stated above."
	case v.MeetsClaim && v.Partial:
		return t + "is supported by the part of the study that was asked for; the rest was not judged."
	case v.MeetsClaim && s.Rules == study.NoRules:
		return t + "is supported by these data, with no rule on extrapolation applied."
	case v.MeetsClaim:
		return t + "is supported by these data under this rule."
	case v.Analysis == nil || len(v.Undecided) > 0 && float64(v.Months) >= v.ClaimMonths:
		return t + "is not shown: not every attribute could be judged."
	}
	return t + "is not supported by these data."
}

// evidence says where the ground of a shelf life is thin: results of numbers
// that no regression could be made of, and few batches.
func evidence(s *study.Study, v *analysis.Supported) []string {
	var unfitted, out []string
	for i := range v.Verdicts {
		w := &v.Verdicts[i]
		if w.Analysis != nil && (w.Analysis.Status == analysis.NotFitted || w.Analysis.Status == analysis.TooFewTimes) {
			unfitted = append(unfitted, Place(s, w.Attribute, w.Pack, w.Orientation))
		}
	}
	if len(unfitted) > 0 {
		out = append(out, "No regression could be made, so that only what was observed and the rule stand behind the shelf life: "+strings.Join(unfitted, "; ")+".")
	}
	if n := len(s.Batches); n < 3 && v.Analysis != nil {
		t := fmt.Sprintf("The study has %s", Count(n, "batch"))
		if n == 1 {
			t += " and says nothing of any other"
		}
		out = append(out, t+"; ICH Q1A(R2) 2.2.3 asks for at least three.")
	}
	return out
}

// failures names what was seen to miss its criterion at the storage condition.
func failures(s *study.Study, v *analysis.Supported) []string {
	var out []string
	for i := range v.Verdicts {
		w := &v.Verdicts[i]
		if w.Failure == nil {
			continue
		}
		a := &s.Attributes[w.Attribute]
		f := w.Failure
		out = append(out, fmt.Sprintf("A failure was observed at the storage condition: %s, batch %s%s, at %s was %s (criterion %s).",
			Place(s, w.Attribute, w.Pack, w.Orientation), s.Batches[f.Batch].ID, unitName(f.Unit), at(f.Planned), withUnit(a, f.Value), Criterion(a)))
	}
	return out
}

func unitName(u string) string {
	if u == "" {
		return ""
	}
	return ", unit " + u
}

func at(d study.Duration) string {
	if d.IsZero() {
		return "time zero"
	}
	return d.String()
}

func withUnit(a *study.Attribute, x float64) string {
	t := Value(a, x)
	if u := Unit(a); u != "" {
		t += " " + u
	}
	return t
}

// Storage names the storage condition: "25C60 (25 °C, 60 % RH)".
func Storage(s *study.Study) string { return Condition(&s.Conditions[s.StoreAt]) }

// Condition names a condition with its climate.
func Condition(c *study.Condition) string { return c.ID + " (" + Climate(c) + ")" }

// Climate gives a condition's temperature and humidity: "25 °C, 60 % RH".
func Climate(c *study.Condition) string {
	var t []string
	if !math.IsNaN(c.Temperature) {
		t = append(t, Number(c.Temperature, 4)+" °C")
	}
	if !math.IsNaN(c.Humidity) {
		t = append(t, Number(c.Humidity, 4)+" % RH")
	}
	if c.Role == study.Cycling {
		t = append(t, "cycling")
	}
	return strings.Join(t, ", ")
}

// Limit says in one or two sentences what set a verdict's months.
func Limit(e *analysis.Evaluation, v *analysis.Verdict) string {
	switch v.LimitedBy {
	case "failure":
		return fmt.Sprintf("The failure that was observed caps it at %s months, the last pull that every failing batch is known to have passed; %s.", Planned(v.Failure.LastPassing), ruleAllows(v))
	case "regression":
		return regressionLimits(e, v)
	}
	if v.Rule == "none" {
		t := v.RuleText
		if math.IsInf(v.Regression, 1) {
			t += " The regression itself reaches no limit."
		}
		return t
	}
	t := fmt.Sprintf("The rule on extrapolation limits it (%s): %s.", v.Rule, lower(strings.TrimSuffix(v.RuleText, ".")))
	switch {
	case math.IsInf(v.Regression, 1):
		t += " The regression itself reaches no limit."
	case !math.IsNaN(v.Regression):
		t += fmt.Sprintf(" The regression alone would allow %s months.", Bound(v.Regression))
	}
	return t
}

func regressionLimits(e *analysis.Evaluation, v *analysis.Verdict) string {
	side := "one-sided"
	if v.Analysis != nil && !v.Analysis.OneSided {
		side = "two-sided"
	}
	t := fmt.Sprintf("The regression limits it: the %s %s %s ", side, Percent(e.Confidence), LimitName(v.Analysis))
	if v.Analysis != nil && v.Analysis.Status == analysis.BreachedAtStart {
		return t + "is at or beyond the criterion already at the start; " + ruleAllows(v) + "."
	}
	return t + fmt.Sprintf("meets the criterion at %s months; %s.", Bound(v.Regression), ruleAllows(v))
}

// ruleAllows says what the rule on extrapolation would allow, where something else
// limits a verdict.
func ruleAllows(v *analysis.Verdict) string {
	if math.IsInf(v.Cap, 1) {
		return "no rule on extrapolation is applied"
	}
	return fmt.Sprintf("the rule would allow at most %s months (%s)", Planned(v.Cap), v.Rule)
}

// Supports says in one sentence what a verdict allows, for the place where the
// analysis behind it stands.
func Supports(v *analysis.Verdict) string {
	rule := "within " + v.Rule
	if v.Rule == "none" {
		rule = "with no rule on extrapolation applied"
	}
	by := "the regression limits it, " + rule
	switch v.LimitedBy {
	case "failure":
		by = "the failure that was observed limits it, " + rule
	case "extrapolation":
		by = v.Rule + " limits it"
		if v.Rule == "none" {
			by = "the data themselves limit it, " + rule
		}
	}
	return fmt.Sprintf("It supports %s: %s.", Count(v.Months, "month"), by)
}

// lower makes a sentence one that goes on after a colon.
func lower(t string) string {
	r, n := utf8.DecodeRuneInString(t)
	return string(unicode.ToLower(r)) + t[n:]
}

// Analysis says in one sentence what one analysis found.
func Analysis(e *analysis.Evaluation, a *analysis.Analysis) string {
	s := e.Dataset.Study
	attr := &s.Attributes[a.Attribute]
	switch a.Status {
	case analysis.Observed:
		if a.FirstFailure == nil {
			return "Every unit met the criterion at every pull tested."
		}
		return fmt.Sprintf("Batch %s%s missed the criterion at %s (%s); the last pull that every failing batch is known to have passed was at %s months.",
			s.Batches[a.FirstFailure.Batch].ID, unitName(a.FirstFailure.Unit), at(a.FirstFailure.Planned), Value(attr, a.FirstFailure.Value), Planned(a.FirstFailure.LastPassing))
	case analysis.TooFewTimes:
		return "No regression: a batch has fewer than 3 distinct times."
	case analysis.NotFitted:
		return "No regression; the reason stands among the warnings."
	case analysis.NoCriterion:
		return "The trend is fitted; without an acceptance criterion it has no shelf life."
	case analysis.BreachedAtStart:
		return "The " + LimitName(a) + " is at or beyond the acceptance limit already at the start."
	case analysis.NeverReached:
		return fmt.Sprintf("The %s %s reaches no acceptance limit; how far that carries is for the rule on extrapolation.", Percent(a.Confidence), LimitName(a))
	}
	t := fmt.Sprintf("The %s %s meets the criterion at %s months", Percent(a.Confidence), LimitName(a), Bound(a.ShelfLife))
	if a.LimitingBatch >= 0 && len(a.Fits) > 1 {
		t += " (batch " + s.Batches[a.LimitingBatch].ID + ")"
	}
	return t + fmt.Sprintf("; %s at %s.", FittedName(a), Estimate(a.Estimate))
}

// Pooling says what the poolability tests decided.
func Pooling(p analysis.Pooling) string {
	switch p.Decision {
	case "pooled":
		return "pooled"
	case "common-slope":
		return "common slope"
	case "separate":
		return "separate"
	}
	return "–"
}

// Arrhenius says in one or two sentences what the temperatures say together.
func Arrhenius(e *analysis.Evaluation, r *analysis.Arrhenius) []string {
	if r.Status != analysis.Fitted {
		return []string{"No Arrhenius fit; the reason stands among the warnings."}
	}
	var out []string
	from := Count(r.Temperatures, "temperature")
	if len(r.LeftOut) > 0 {
		var ids []string
		for _, c := range r.LeftOut {
			ids = append(ids, e.Dataset.Study.Conditions[c].ID)
		}
		from += ", without " + strings.Join(ids, " and ")
	}
	if r.ByBatch {
		from += ", each batch with a rate of its own"
	}
	out = append(out, fmt.Sprintf("Activation energy %s kJ/mol (%s interval %s to %s), from %s.",
		Fixed(r.EaKJ, 1), Percent(e.Confidence), openEnd(r.EaLow), openEnd(r.EaHigh), from))
	if r.Bent() { // before any number that rests on it
		out = append(out, linearity(e, r))
	}
	for _, p := range r.Predictions {
		t := fmt.Sprintf("At %s °C ", Number(p.Celsius, 4))
		switch {
		case math.IsInf(p.Estimate, 1):
			t += "the fitted path reaches no limit"
			if !math.IsInf(p.ShelfLife, 1) && !math.IsNaN(p.ShelfLife) {
				t += fmt.Sprintf("; its bound meets one at %s months", Bound(p.ShelfLife))
			}
		case math.IsNaN(p.Estimate):
			t += "no life can be stated"
		case p.Estimate == 0:
			t += "the fitted path is at or beyond the limit already at the start"
		case p.ShelfLife == 0:
			t += fmt.Sprintf("the fit predicts %s months, with a bound of 0.0: the data do not rule out that the limit is met at once", Estimate(p.Estimate))
		default:
			t += fmt.Sprintf("the fit predicts %s months, with a lower bound of %s", Estimate(p.Estimate), Bound(p.ShelfLife))
		}
		if p.Extrapolated {
			t += " (outside the temperatures studied)"
		}
		out = append(out, t+".")
		if t := Bootstrap(&p); t != "" {
			out = append(out, t)
		}
	}
	if !r.Bent() {
		out = append(out, linearity(e, r))
	}
	return out
}

// linearity says whether one activation energy holds for all temperatures.
func linearity(e *analysis.Evaluation, r *analysis.Arrhenius) string {
	switch {
	case math.IsNaN(r.LinearityP):
		return "Whether one activation energy fits all temperatures could not be tested."
	case r.Bent():
		t := fmt.Sprintf("One activation energy does not fit all temperatures (%s)", Probability(r.LinearityP))
		if r.BendsAt >= 0 {
			t += "; " + e.Dataset.Study.Conditions[r.BendsAt].ID + " bends the line most"
		}
		return t + ": a prediction from this fit is not to be relied on."
	}
	return fmt.Sprintf("No departure from one activation energy over these temperatures was shown (%s).", Probability(r.LinearityP))
}

func openEnd(x float64) string {
	if math.IsInf(x, 0) {
		return "open"
	}
	return Fixed(x, 1)
}

// Cautions reminds of the hazards of the packs in the study.
func Cautions(s *study.Study) []string {
	var pressurised, flammable, glass bool
	for i := range s.Packs {
		pressurised = pressurised || s.Packs[i].Pressurised
		flammable = flammable || s.Packs[i].Flammable
		glass = glass || s.Packs[i].Glass
	}
	var out []string
	if pressurised {
		out = append(out, "Pressurised packs can burst when warm: hot storage needs a protected chamber and a limit on temperature.")
	}
	if flammable {
		out = append(out, "Flammable contents can form an ignitable vapour: store them only where chamber and room are rated for it.")
	}
	if glass {
		out = append(out, "Glass can break when its contents freeze or expand.")
	}
	if len(out) > 0 {
		out = append(out, "Local codes, the supplier's safety data sheet and qualified people decide; nothing here replaces them.")
	}
	return out
}
