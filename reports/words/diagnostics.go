package words

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis"
	"shelfspan/study"
)

// ByChance says once what so many tests mean.
const ByChance = "Where nothing is wrong, each test still warns by chance in about 1 of 100 analyses and notes something in 5, of the latest results in as many of 100 judged. A finding asks for a look at the result and its record; nothing was left out. Units that are weighed or measured and put back are not tested: their readings are not independent."

// Marked explains the sign of a finding in a table of tests.
var Marked = fmt.Sprintf(" noted (p < %g); bold: warned of (p < %g, or a leverage above %g). Some come by chance. Not marked is what a suspect result, or a course that is not straight, explains by itself.", analysis.NoteLevel, analysis.WarningLevel, analysis.MostLeverage)

// DiagnosticsRead explains a table of what residuals say.
const DiagnosticsRead = "Farthest result: that with the largest studentized deleted residual, by Bonferroni. Latest results: the smallest p of the batches' latest pulls, against their own line and earlier batches. Spread: Koenker's test on time. Leverage: the most of any pull."

// Finding names what a test found.
func Finding(code string) string {
	switch code {
	case analysis.CodeOutOfTrend:
		return "out of trend"
	case analysis.CodeLackOfFit:
		return "lack of fit"
	case analysis.CodeNotNormal:
		return "not normal"
	case analysis.CodeSpread:
		return "changing spread"
	case analysis.CodeTurns:
		return "turns round"
	}
	return code
}

// Tested counts what was tested, and what of it was found: "" where no analysis
// could be tested.
func Tested(e *analysis.Evaluation) string {
	analyses, tests, warned, noted := 0, 0, 0, 0
	for _, a := range e.Analyses {
		d := a.Diagnostics
		if d == nil {
			continue
		}
		analyses++
		tests += d.Tests
		for i := range d.Findings {
			if d.Findings[i].Warned {
				warned++
			} else {
				noted++
			}
		}
	}
	if analyses == 0 {
		return ""
	}
	in := Count(analyses, "analysis")
	if analyses > 1 {
		in = fmt.Sprintf("%d analyses", analyses)
	}
	t := fmt.Sprintf("%s in %s", Count(tests, "test"), in)
	if warned+noted == 0 {
		return t + ": nothing was found."
	}
	var found []string
	if warned > 0 {
		found = append(found, fmt.Sprintf("%d warned of (p < %g)", warned, analysis.WarningLevel))
	}
	if noted > 0 {
		found = append(found, fmt.Sprintf("%d noted (p < %g)", noted, analysis.NoteLevel))
	}
	return t + ": " + strings.Join(found, ", ") + "."
}

// Warned reports whether any test found something that is warned of.
func Warned(e *analysis.Evaluation) bool {
	for _, a := range e.Analyses {
		if a.Diagnostics != nil && slices.ContainsFunc(a.Diagnostics.Findings, func(f analysis.Finding) bool { return f.Warned }) {
			return true
		}
	}
	return false
}

// FindingResult names the results a finding is about: "B2 9M"; "" where it is about
// all, and for a turn when.
func FindingResult(s *study.Study, a *analysis.Analysis, f *analysis.Finding) string {
	switch {
	case f.Code == analysis.CodeTurns:
		way := "falls, then rises"
		if a.Diagnostics.Course.Rises {
			way = "rises, then falls"
		}
		return fmt.Sprintf("%s, turning at about %s M", way, Number(a.Diagnostics.Course.TurnsAt, 2))
	case f.Batch < 0:
		return ""
	}
	t := s.Batches[f.Batch].ID + " " + f.Planned.String()
	if n := len(f.Samples); f.Code != analysis.CodeOutlier && n > 1 {
		return t + fmt.Sprintf(" (%d)", n)
	}
	return t
}

// Limits writes the limits of 99 % of a finding that has any: "26100 to 28900".
func Limits(at *study.Attribute, x *analysis.Expectation) string {
	if math.IsInf(x.Upper[1], 1) {
		return "≥ " + Value(at, x.Lower[1])
	}
	return Value(at, x.Lower[1]) + " to " + Value(at, x.Upper[1])
}

// Turning says of every attribute and pack at the storage condition whose course
// turns round that its line is not to be relied on; the one that governs first.
func Turning(e *analysis.Evaluation) []string {
	v := e.Supported
	var out []string
	add := func(w *analysis.Verdict) {
		out = append(out, turning(e.Dataset.Study, w))
	}
	if turns(&v.Verdict) {
		add(&v.Verdict)
	}
	for i := range v.Verdicts {
		w := &v.Verdicts[i]
		if turns(w) && !(w.Attribute == v.Attribute && w.Pack == v.Pack && w.Orientation == v.Orientation) {
			add(w)
		}
	}
	return out
}

func turns(w *analysis.Verdict) bool { return w.Analysis != nil && w.Analysis.TurnsRound() }

func turning(s *study.Study, w *analysis.Verdict) string {
	c := w.Analysis.Diagnostics.Course
	way := "falls until about %s months and then rises"
	if c.Rises {
		way = "rises until about %s months and then falls"
	}
	t := fmt.Sprintf("Not to be relied on: the line of %s. It "+way+" (%s), and no straight line describes that", Place(s, w.Attribute, w.Pack, w.Orientation),
		Number(c.TurnsAt, 2), Probability(c.TurnP))
	if w.Rule == "none" {
		return t + "; no more than the data themselves is taken to be supported by it."
	}
	return t + "; the rule was applied as where no regression can be made, and the line's bound may only shorten what it allows."
}
