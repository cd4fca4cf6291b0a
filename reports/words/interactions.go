package words

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis"
	"shelfspan/analysis/equivalence"
	"shelfspan/study"
)

// Compared names what a comparison compares: "can inverted against can upright".
func Compared(c *analysis.Comparison) string { return named(c, c.Level) + " against " + c.Against }

// Side names it in a table: "can inverted / can upright".
func Side(c *analysis.Comparison) string { return named(c, c.Level) + " / " + c.Against }

// named puts the factor before a level that only says that something is there.
func named(c *analysis.Comparison, level string) string {
	if analysis.OnlyPresence(level) {
		return c.Factor + " " + level
	}
	return level
}

// Outcome says in a word or three what a comparison came to.
func Outcome(o analysis.Outcome) string {
	switch o {
	case analysis.Harm:
		return "harm"
	case analysis.FasterWithin:
		return "within margin"
	case analysis.NoHarmShown:
		return "no harm"
	case analysis.Slower:
		return "slower"
	case analysis.CannotTell:
		return "untold"
	case analysis.Differs:
		return "differs"
	case analysis.NotShown:
		return "not shown"
	case analysis.NotCompared:
		return "not compared"
	}
	return string(o)
}

// Verdict says what a comparison came to, in one or two sentences, from its
// interval.
func Verdict(x *analysis.Interactions, s *study.Study, c *analysis.Comparison) string {
	of := s.Attributes[c.Attribute].ID + ", " + Compared(c)
	horizon := "of the " + Planned(x.Horizon) + " months"
	through := ""
	if c.ThroughArrhenius {
		through = " at " + s.Conditions[s.StoreAt].ID + ", by way of the activation energy,"
	}
	if c.Failed[1] > 0 && c.Outcome != analysis.NotCompared {
		return of + ": " + unitsCompared(c)
	}
	switch c.Outcome {
	case analysis.NotCompared:
		return of + ": not compared: " + c.Reason + "."
	case analysis.Harm:
		return fmt.Sprintf("%s: harm. It costs%s %s %s, and at least %s.", of, through, Estimate(c.Lost), horizon, Least(c.LostLow))
	case analysis.FasterWithin:
		return fmt.Sprintf("%s: it changes faster, which%s costs no more than %s %s.", of, through, Months(c.Hidden), horizon)
	case analysis.NoHarmShown:
		return fmt.Sprintf("%s: no harm is shown, and none larger than %s%s can be hidden.", of, Months(c.Hidden), through)
	case analysis.Slower:
		return of + ": it changes more slowly."
	case analysis.CannotTell:
		t := fmt.Sprintf("%s: it cannot be told yet: up to %s may be lost%s.", of, Months(c.Hidden), through)
		switch {
		case c.MorePulls > 0:
			t += fmt.Sprintf(" About %s would tell.", Count(c.MorePulls, "more pull"))
		case c.ThroughArrhenius:
			t += " Results at " + s.Conditions[s.StoreAt].ID + " would tell."
		case c.Error == analysis.ErrorArms || c.Error == analysis.ErrorBatches:
			t += " The difference varies from batch to batch: more batches would tell, more pulls will not."
		case c.Error == analysis.ErrorUnits:
			t += " More units would tell."
		default:
			t += " More pulls alone will hardly tell."
		}
		return t
	case analysis.Differs:
		return of + ": the rates differ."
	}
	return of + ": no difference of rates is shown."
}

// Least writes the least that is lost, rounded down to a tenth: no more is claimed
// than is shown.
func Least(x float64) string { return Fixed(math.Floor(x*10+1e-9)/10, 1) }

// Months writes a number of months lost, rounded up to a tenth: what is hidden must
// not shrink in the printing.
func Months(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	r := math.Ceil(x*10-1e-9) / 10
	t := Fixed(r, 1)
	if t == "1.0" {
		return "1.0 month"
	}
	return t + " months"
}

// LostRange writes the least and the most that is lost in a table: the one rounded
// down, the other up.
func LostRange(c *analysis.Comparison) (least, most string) {
	down := func(x float64) float64 { return math.Floor(x*10+1e-9) / 10 }
	return Lost(down(c.LostLow)), Lost(-down(-c.Hidden))
}

// Lost writes months lost in a table, with its sign: +5.6 is lost, −1.2 gained.
func Lost(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	t := Fixed(x, 1)
	switch {
	case t == "0.0":
		return "0"
	case strings.HasPrefix(t, "-"):
		return "−" + t[1:]
	}
	return "+" + t
}

// ErrorMark is the letter that says by what a comparison was judged; "" for the
// scatter of the results.
func ErrorMark(e analysis.ErrorOf) string {
	switch e {
	case analysis.ErrorArms:
		return "(b)"
	case analysis.ErrorBatches:
		return "(f)"
	case analysis.ErrorThose:
		return "(t)"
	case analysis.ErrorUnits:
		return "(u)"
	case analysis.ErrorCounts:
		return "(c)"
	case analysis.ErrorLifetimes:
		return "(l)"
	case analysis.ErrorCountsWithin:
		return "(cb)"
	case analysis.ErrorLifetimesWithin:
		return "(lb)"
	}
	return ""
}

// ErrorMarks explains the letters that some comparisons have.
func ErrorMarks(cs []*analysis.Comparison) string {
	var t []string
	for _, m := range []struct {
		of   analysis.ErrorOf
		text string
	}{
		{analysis.ErrorArms, "(b): the difference varies from batch to batch, which is what it is judged by"},
		{analysis.ErrorBatches, "(f): judged by how batches of one formula differ"},
		{analysis.ErrorThose, "(t): how it varies from batch to batch is not known, so that it is said of these batches alone"},
		{analysis.ErrorUnits, "(u): judged by the spread between units"},
		{analysis.ErrorCounts, countsMark},
		{analysis.ErrorCountsWithin, countsWithinMark},
		{analysis.ErrorLifetimes, lifetimesMark},
		{analysis.ErrorLifetimesWithin, lifetimesWithinMark},
	} {
		for _, c := range cs {
			if c.Error == m.of {
				t = append(t, m.text)
				break
			}
		}
	}
	if t == nil {
		return ""
	}
	out := strings.Join(t, "; ") + "."
	if slices.ContainsFunc(cs, func(c *analysis.Comparison) bool {
		return c.Error == analysis.ErrorCountsWithin || c.Error == analysis.ErrorLifetimesWithin
	}) {
		out += " " + withinBatches + "."
	}
	return out
}

// Adjusted says how the number of comparisons was allowed for.
func Adjusted(a analysis.Adjust) string {
	switch a {
	case analysis.Tukey:
		return "all pairs of packs are compared, their number allowed for by the distribution of the largest of them (Tukey's, for any numbers of results)"
	case analysis.Holm:
		return "each is compared with its reference, p-values adjusted by Holm and intervals by Bonferroni"
	case analysis.None:
		return "each comparison stands by itself: with many of them some differ by chance"
	}
	return "each is compared with its reference, their number allowed for by the distribution of the largest of them (Dunnett's, for any numbers of results)"
}

// InteractionsRead says how the comparisons are read.
func InteractionsRead(x *analysis.Interactions, confidence float64) string {
	return fmt.Sprintf("Rates are those of the model's scale; intervals and p-values are simultaneous within each attribute, condition and kind of comparison at %s: %s. "+
		"Months are those by which the limit is met sooner from one start, counted up to %s; %s are the margin. "+
		"Within margin: faster, and it costs no more than that; no harm: none is shown, and none beyond the margin can be hidden; untold: one beyond it may be hidden. "+
		"Away from the storage condition rates alone are compared, where that condition has results of its own.",
		Percent(confidence), Adjusted(x.Adjust), Planned(x.Horizon), Planned(x.MarginMonths))
}

// MonthsBy says by which data the months lost are told: those of the storage
// condition, or others by way of the activation energy; "" where none are.
func MonthsBy(x *analysis.Interactions, s *study.Study) string {
	own := false
	var hot []string
	for _, c := range x.Comparisons {
		name := s.Conditions[c.Condition].ID
		switch {
		case c.ThroughArrhenius && !slices.Contains(hot, name):
			hot = append(hot, name)
		case !c.ThroughArrhenius && !math.IsNaN(c.Lost):
			own = true
		}
	}
	var t []string
	if own {
		t = append(t, "The months lost are told by the storage condition's own results.")
	}
	if hot != nil {
		t = append(t, fmt.Sprintf("Where %s has no results to compare, the months are told by those at %s by way of the activation energy of the pack that others are compared with; at least and at most hold its interval too.",
			s.Conditions[s.StoreAt].ID, strings.Join(hot, ", ")))
	}
	return strings.Join(t, " ")
}

// MonthsRoute is the same in a word, for a table; "" where no months are told.
func MonthsRoute(c *analysis.Comparison) string {
	switch {
	case c.ThroughArrhenius:
		return "activation-energy"
	case !math.IsNaN(c.Lost):
		return "own-results"
	}
	return ""
}

// InteractionsConclusion says first what harms the product, then what cannot be
// told, then what was found harmless.
func InteractionsConclusion(x *analysis.Interactions, s *study.Study) []string {
	var out []string
	for _, c := range x.Comparisons {
		if c.Failed[1] > 0 && c.Condition == s.StoreAt && c.Outcome == analysis.Differs {
			out = append(out, Verdict(x, s, c))
		}
	}
	counts := len(out)
	harmful, untold, none := 0, 0, 0
	for _, i := range x.Ranking {
		switch c := x.Comparisons[i]; c.Outcome {
		case analysis.Harm:
			if harmful++; harmful <= 5 {
				out = append(out, Verdict(x, s, c))
			}
		case analysis.CannotTell:
			untold++
		default:
			none++
		}
	}
	if harmful > 5 {
		out = append(out, fmt.Sprintf("%d more are harmful; the table has them.", harmful-5))
	}
	if harmful == 0 && counts == 0 {
		t := "No pack, orientation or ingredient is shown to cost shelf life."
		if len(x.Ranking) == 0 {
			t = "Nothing could be told in months of shelf life: no two things that have a criterion could be compared for the storage condition."
		}
		out = append(out, t)
	}
	if untold > 0 {
		out = append(out, fmt.Sprintf("Of %s it cannot be told yet whether %s costs more than %s.", Count(untold, "comparison"), each(untold), Months(x.MarginMonths)))
	}
	if none > 0 {
		out = append(out, fmt.Sprintf("Of %s no harm beyond the margin of %s is possible at the confidence stated.", Count(none, "comparison"), Months(x.MarginMonths)))
	}
	return out
}

func each(n int) string {
	if n == 1 {
		return "it"
	}
	return "any of them"
}

// Parallel says whether packs share an activation energy.
func Parallel(s *study.Study, p *analysis.Parallel) string {
	var packs []string
	for _, k := range p.Packs {
		packs = append(packs, PackName(s, k, 0))
	}
	of := s.Attributes[p.Attribute].ID + " in " + strings.Join(packs, ", ")
	if p.Reason != "" {
		return of + ": whether the packs share an activation energy could not be tested: " + p.Reason + "."
	}
	var own []string
	for _, o := range p.Own {
		own = append(own, fmt.Sprintf("%s %s", PackName(s, o.Group, 0), Fixed(o.EaKJ, 1)))
	}
	test := fmt.Sprintf("F = %s on %d and %d degrees of freedom, %s", Number(p.F, 3), p.DF1, p.DF2, Probability(p.PAdjusted))
	energies := fmt.Sprintf("own energies %s kJ/mol, in common %s", strings.Join(own, ", "), Fixed(p.Common.EaKJ, 1))
	if p.PAdjusted < 0.05 {
		return fmt.Sprintf("%s: the packs change the activation energy (%s; %s): what is seen hot of one pack says little of another at storage.", of, test, energies)
	}
	return fmt.Sprintf("%s: that packs change more than the rate is not shown (%s; %s).", of, test, energies)
}

// ScaleUp says whether batches of one scale age like those of another.
func ScaleUp(s *study.Study, x *analysis.Interactions, u *analysis.ScaleUp) string {
	of := fmt.Sprintf("%s, %s of %s against %s", s.Attributes[u.Attribute].ID, u.Of, u.Level, u.Against)
	if u.Reason != "" {
		return of + ": not compared: " + u.Reason + "."
	}
	margin := "the margin of ± " + Number(u.Margin, 2)
	if u.Of == "rate" {
		margin += fmt.Sprintf(", %s %% of the rate that just lasts %s months", Number(u.MarginPercent, 2), Planned(x.Horizon))
	}
	switch u.Verdict {
	case equivalence.Equivalent:
		return fmt.Sprintf("%s: equivalent: the difference is shown to lie within %s.", of, margin)
	case equivalence.Different:
		return fmt.Sprintf("%s: different, and not shown to lie within %s.", of, margin)
	}
	return fmt.Sprintf("%s: not shown: the difference may lie within %s or beyond it.", of, margin)
}

// ScaleSummary says in which attributes the scales are equivalent, and one by one
// where they are not.
func ScaleSummary(s *study.Study, x *analysis.Interactions) []string {
	var alike, out []string
	those := false
	for _, u := range x.Scale {
		those = those || u.Error == analysis.ErrorThose
		if u.Reason == "" && u.Verdict == equivalence.Equivalent {
			alike = append(alike, fmt.Sprintf("%s (%s, %s)", s.Attributes[u.Attribute].ID, u.Of, u.Level))
			continue
		}
		out = append(out, ScaleUp(s, x, u))
	}
	if alike != nil {
		t := fmt.Sprintf("Equivalent to %s: %s. The difference is shown to lie within its margin, which at the rate that just lasts %s months costs %s.",
			x.Scale[0].Against, strings.Join(alike, "; "), Planned(x.Horizon), Months(x.MarginMonths))
		out = append([]string{t}, out...)
	}
	if those {
		out = append(out, "There is one batch of a scale: what is said is said of these batches alone, as it is not known how batches of one scale vary.")
	}
	return out
}

// ScaleRead says what stands beside the comparison of scales, and why the two may
// differ.
const ScaleRead = "Equivalence asks whether a difference that matters is ruled out; the poolability test of ICH Q1E asks whether any difference is seen. Many precise results can show a difference too small to matter, and few leave one unseen that does: so the two may say different things, and neither is wrong."

// Pair says what a pair of ingredients does beyond what each does alone.
func Pair(s *study.Study, p *analysis.Pair) string {
	of := fmt.Sprintf("%s at %s, %s with %s", s.Attributes[p.Attribute].ID, s.Conditions[p.Condition].ID, p.One, p.Other)
	if p.Reason != "" {
		return of + ": not judged: " + p.Reason + "."
	}
	times := func(x float64) string { return Number(math.Exp(x), 3) }
	than := "what the two alone would give"
	if !p.Additive {
		than = "the faster of the two alone (there is no batch without both)"
	}
	t := fmt.Sprintf("%s: %s times as fast as %s (%s to %s)", of, times(p.Excess), than, times(p.Low), times(p.High))
	switch {
	case p.Low > 0:
		return t + ": the pair harms."
	case p.High < 0:
		return t + ": the pair does better."
	}
	return t + ": not shown to differ."
}
