package words

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis"
	"shelfspan/study"
)

// Quote says what the study supports in one sentence that can be taken out of its
// document: product, packs and storage, the months, what limits them and by
// which rule, what they rest on, and every reservation. It repeats Conclusion,
// and stands where that may be read without the rest.
func Quote(e *analysis.Evaluation) string {
	s, v := e.Dataset.Study, e.Supported
	of := "study " + s.ID
	if name := cmp.Or(s.Product, s.Title); name != "" {
		of = name + " (" + of + ")"
	}
	if s.StoreAt < 0 || v == nil || v.Analysis == nil {
		t := "No shelf life can be stated for " + of + ": "
		switch {
		case s.StoreAt < 0:
			t += "the study names no condition that stands for storage as labelled"
		case len(e.Analyses) == 0:
			t += "there are no results of samples that were stored"
		default:
			t += "nothing with an acceptance criterion could be judged at " + Storage(s)
		}
		if !s.Claim.IsZero() {
			t += fmt.Sprintf("; the claim of %s months is not shown", Planned(s.Claim.Months(0)))
		}
		return t + "."
	}
	t := "For " + of
	if packs := quotedPacks(s, v); packs != "" {
		t += " in " + packs
	}
	t += " stored at " + Storage(s) + ", the data support "
	if v.Months == 0 {
		t += "no shelf life (0 months)"
	} else {
		t += "a shelf life of " + Count(v.Months, "month")
	}
	if v.Partial {
		t += " by the part of the study that was asked for"
	}
	t += quotedClaim(v) + ": " + quotedLimit(e, v)
	t += "; it rests, for the attribute that governs, on " + quotedGround(s, v)
	return t + quotedReservations(e, v) + "."
}

// quotedPacks names what was judged, or counts it where there is much.
func quotedPacks(s *study.Study, v *analysis.Supported) string {
	const most = 6
	var names []string
	for i := range v.Packs {
		if n := PackName(s, v.Packs[i].Pack, v.Packs[i].Orientation); n != "" {
			names = append(names, n)
		}
	}
	switch n := len(names); {
	case n > most:
		return fmt.Sprintf("its %d packs and orientations", n)
	case n > 1:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, "")
}

func quotedClaim(v *analysis.Supported) string {
	if math.IsNaN(v.ClaimMonths) {
		return ""
	}
	months := Planned(v.ClaimMonths) + " months"
	switch {
	case v.MeetsClaim && float64(v.Months) == v.ClaimMonths:
		return ", as claimed"
	case v.MeetsClaim:
		return ", within which the claim of " + months + " lies"
	case len(v.Undecided) > 0 && float64(v.Months) >= v.ClaimMonths:
		return ", while the claim of " + months + " is not shown, as not every attribute could be judged"
	}
	return ", short of the claim of " + months
}

// quotedLimit says what set the months, and the rule beside it.
func quotedLimit(e *analysis.Evaluation, v *analysis.Supported) string {
	s := e.Dataset.Study
	place := Place(s, v.Attribute, v.Pack, v.Orientation)
	rule := "no rule on extrapolation is applied"
	if !math.IsInf(v.Cap, 1) {
		rule = fmt.Sprintf("the rule (%s) allows at most %s months", v.Rule, Planned(v.Cap))
	}
	switch v.LimitedBy {
	case "failure":
		f := v.Failure
		return fmt.Sprintf("it is limited by %s, of which a failure was observed at %s, the last pull that every failing batch is known to have passed being at %s months; %s", place, at(f.Planned), Planned(f.LastPassing), rule)
	case "regression":
		return fmt.Sprintf("it is limited by %s, whose %s; %s", place, quotedBound(e, v), rule)
	}
	t := "it is limited by the rule on extrapolation for " + place
	rule = fmt.Sprintf("that rule (%s) allows at most %s months", v.Rule, Planned(v.Cap))
	if v.Rule == "none" {
		t = "it is limited by how far the data of " + place + " reach"
		rule = "no rule on extrapolation is applied"
	}
	switch {
	case math.IsNaN(v.Regression):
		t += ", judged by what was observed"
	case math.IsInf(v.Regression, 1):
		t += fmt.Sprintf(", whose %s %s reaches no acceptance limit", Percent(e.Confidence), LimitName(v.Analysis))
	default:
		t += ", whose " + quotedBound(e, v)
	}
	return t + "; " + rule
}

// quotedBound names the bound with its confidence and where it meets the criterion.
func quotedBound(e *analysis.Evaluation, v *analysis.Supported) string {
	side := "one-sided"
	if !v.Analysis.OneSided {
		side = "two-sided"
	}
	t := fmt.Sprintf("%s %s %s ", side, Percent(e.Confidence), LimitName(v.Analysis))
	if v.Analysis.Status == analysis.BreachedAtStart {
		t += "is at or beyond the criterion"
	} else {
		t += "meets the criterion"
	}
	if c := Criterion(&e.Dataset.Study.Attributes[v.Attribute]); c != "none" {
		t += " (" + c + ")"
	}
	if v.Analysis.Status == analysis.BreachedAtStart {
		return t + " already at the start"
	}
	return t + " at " + Bound(v.Regression) + " months"
}

// quotedGround says on how many batches and months a shelf life rests.
func quotedGround(s *study.Study, v *analysis.Supported) string {
	var batches []int
	for i := range v.Analysis.Samples {
		if b := v.Analysis.Samples[i].Batch; !slices.Contains(batches, b) {
			batches = append(batches, b)
		}
	}
	data := "data at this condition"
	if s.Conditions[s.StoreAt].Role == study.LongTerm {
		data = "long-term data"
	}
	t := fmt.Sprintf("%s and %s months of %s", Count(len(batches), "batch"), Planned(v.Observed), data)
	switch n := len(batches); {
	case n == 1:
		t += ", says nothing of any other batch (ICH Q1A(R2) 2.2.3 asks for at least three)"
	case n < 3:
		t += " (ICH Q1A(R2) 2.2.3 asks for at least three batches)"
	}
	if float64(v.Months) > v.Observed {
		t += ", and is extrapolated beyond them"
	}
	return t
}

// quotedReservations are the things that must go with the months wherever they go.
func quotedReservations(e *analysis.Evaluation, v *analysis.Supported) string {
	s := e.Dataset.Study
	var failed, turned, sooner, undecided []string
	for i := range v.Verdicts {
		w := &v.Verdicts[i]
		place := Place(s, w.Attribute, w.Pack, w.Orientation)
		governs := w.Attribute == v.Attribute && w.Pack == v.Pack && w.Orientation == v.Orientation
		if w.Failure != nil && !(governs && v.LimitedBy == "failure") {
			failed = append(failed, place)
		}
		if turns(w) {
			turned = append(turned, place)
		}
	}
	for _, l := range e.Lifetimes {
		if w, _ := e.Sooner(l); w != nil {
			sooner = append(sooner, Place(s, l.Attribute, l.Pack, l.Orientation))
		}
	}
	for _, u := range v.Undecided {
		undecided = append(undecided, Place(s, u.Attribute, u.Pack, u.Orientation))
	}
	t := ""
	for _, r := range []struct {
		head string
		of   []string
	}{
		{"a failure was also observed of ", failed},
		{"not to be relied on is the line, which turns round, of ", turned},
		{"single units may fail sooner of ", sooner},
		{"not judged, and so not covered, is ", undecided},
	} {
		if len(r.of) > 0 {
			t += "; " + r.head + few(r.of)
		}
	}
	if parts := changed(e.Dataset); parts != nil {
		t += "; part of the record: " + strings.Join(parts, ", ")
	}
	return t
}

// few lists some names and counts the others.
func few(names []string) string {
	const most = 4
	if n := len(names); n > most+1 {
		return strings.Join(names[:most], ", ") + fmt.Sprintf(" and %d others", n-most)
	}
	return strings.Join(names, ", ")
}
