// Package words builds every conclusion in one place, so that the terminal and
// the document say the same and neither says more than the numbers do.
package words

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"shelfspan/analysis"
	"shelfspan/study"
)

// Bound writes months of a bound, cut and never rounded up to one decimal:
// a shelf life must not grow in the printing.
func Bound(months float64) string {
	switch {
	case math.IsNaN(months):
		return "none stated"
	case math.IsInf(months, 1):
		return "not reached"
	}
	return strconv.FormatFloat(math.Floor(months*10+1e-9)/10, 'f', 1, 64)
}

// Estimate writes months of an estimate, rounded to one decimal.
func Estimate(months float64) string {
	switch {
	case math.IsNaN(months):
		return "none stated"
	case math.IsInf(months, 1):
		return "not reached"
	}
	return strconv.FormatFloat(months, 'f', 1, 64)
}

// Planned writes planned months without needless decimals.
func Planned(months float64) string {
	return strconv.FormatFloat(math.Round(months*100)/100, 'f', -1, 64)
}

// Number writes a measured or fitted number to at most digits significant ones.
func Number(x float64, digits int) string {
	switch {
	case math.IsNaN(x), math.IsInf(x, 0):
		return "–"
	}
	s := strconv.FormatFloat(x, 'g', digits, 64)
	if strings.Contains(s, "e") {
		if a := math.Abs(x); a >= 1e-4 && a < 1e9 {
			s = strconv.FormatFloat(x, 'f', max(0, digits-1-int(math.Floor(math.Log10(a)))), 64)
		}
	}
	return s
}

// Decimals is how many decimals show the smallest of some numbers to so many
// significant digits; zeros and what is not finite do not count.
func Decimals(digits int, xs ...float64) int {
	least := math.Inf(1)
	for _, x := range xs {
		if a := math.Abs(x); a > 0 && a < least {
			least = a
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	const most = 10
	return min(max(digits-1-int(math.Floor(math.Log10(least))), 0), most)
}

// Fixed writes a number to so many decimals, for a column of them.
func Fixed(x float64, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	t := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(t, "-0.") == "" {
		t = strings.TrimPrefix(t, "-")
	}
	return t
}

// P writes a p-value in a table: three decimals, or a bound below them.
func P(p float64) string {
	switch {
	case math.IsNaN(p):
		return "–"
	case p < 0.001:
		return "<0.001"
	}
	return strconv.FormatFloat(p, 'f', 3, 64)
}

// Probability writes a p-value in a sentence: "p = 0.041", "p < 0.001".
func Probability(p float64) string {
	if p < 0.001 {
		return "p < 0.001"
	}
	return "p = " + P(p)
}

// count writes a number with its noun.
func Count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	if strings.HasSuffix(noun, "ch") {
		noun += "e"
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// Place names an attribute in a pack and orientation: "assay in tube, upright".
// What the study has only one of is left out.
func Place(s *study.Study, attribute, pack, orientation int) string {
	t := s.Attributes[attribute].ID
	if pk := PackName(s, pack, orientation); pk != "" {
		t += " in " + pk
	}
	return t
}

// PackName names a pack and, where it is stored in several, its orientation.
func PackName(s *study.Study, pack, orientation int) string {
	p := &s.Packs[pack]
	if len(p.Orientations) > 1 {
		return strings.TrimSpace(p.ID + " " + string(p.Orientations[orientation]))
	}
	return p.ID
}

// Criterion writes an acceptance criterion with its unit and basis.
func Criterion(a *study.Attribute) string {
	switch a.Kind {
	case study.PassFail:
		return "pass"
	case study.Grade:
		var t []string
		if !math.IsInf(a.Lower, -1) {
			t = append(t, "at least "+gradeName(a, a.Lower))
		}
		if !math.IsInf(a.Upper, 1) {
			t = append(t, "at most "+gradeName(a, a.Upper))
		}
		if len(t) == 0 {
			return "none"
		}
		return strings.Join(t, ", ")
	}
	unit := Unit(a)
	if unit != "" {
		unit = " " + unit
	}
	lo, hi := strings.Replace(Number(a.Lower, 10), "-", "−", 1), strings.Replace(Number(a.Upper, 10), "-", "−", 1)
	switch hasLo, hasHi := !math.IsInf(a.Lower, -1), !math.IsInf(a.Upper, 1); {
	case hasLo && hasHi:
		return lo + " to " + hi + unit
	case hasLo:
		return "≥ " + lo + unit
	case hasHi:
		return "≤ " + hi + unit
	}
	return "none"
}

func gradeName(a *study.Attribute, rank float64) string {
	i := int(rank)
	if i < 0 || i >= len(a.Grades) {
		return Number(rank, 6)
	}
	return a.Grades[i]
}

// Value writes one value of an attribute as it is reported.
func Value(a *study.Attribute, x float64) string {
	switch a.Kind {
	case study.PassFail:
		if x == 0 {
			return "pass"
		}
		return "fail"
	case study.Grade:
		if x == math.Trunc(x) {
			return gradeName(a, x)
		}
	}
	if a.Decimals >= 0 {
		return strconv.FormatFloat(x, 'f', a.Decimals, 64)
	}
	return Number(x, 5)
}

// Unit gives the unit the limits of an attribute are in.
func Unit(a *study.Attribute) string {
	switch {
	case a.Kind == study.Grade || a.Kind == study.PassFail:
		return ""
	case a.Kind == study.Weighing:
		return "% lost"
	case a.Basis == study.BasisPercent:
		return "% of initial"
	case a.Basis == study.BasisChange:
		return strings.TrimSpace(bare(a.Unit) + " change from initial")
	}
	return bare(a.Unit)
}

// MeasuredIn is what an attribute's results are in, whatever its limits apply to.
func MeasuredIn(a *study.Attribute) string {
	plain := *a
	plain.Basis = study.BasisValue
	return Unit(&plain)
}

// Scales names what the intercept and the slope of a model's lines are in:
// "ln(mPa.s)" and "ln(mPa.s) per month".
func Scales(a *study.Attribute, model string) (intercept, slope string) {
	intercept = MeasuredIn(a)
	switch study.Model(model) {
	case study.FirstOrder:
		intercept = "ln(" + cmp.Or(intercept, "value") + ")"
	case study.SecondOrder:
		intercept = "1/(" + cmp.Or(intercept, "value") + ")"
	case study.SquareRootTime:
		return intercept, strings.TrimSpace(intercept + " per √month")
	case study.ApproachToPlateau, study.PowerOfTime:
		return intercept, ""
	}
	return intercept, strings.TrimSpace(intercept + " per month")
}

// bare leaves out units that only repeat the attribute's name: UCUM writes
// "[pH]" and, for a plain number, "1".
func bare(unit string) string {
	if unit == "[pH]" || unit == "1" {
		return ""
	}
	return unit
}

// Status says how an analysis ended.
func Status(s analysis.Status) string {
	switch s {
	case analysis.Fitted:
		return "fitted"
	case analysis.NeverReached:
		return "fitted, no limit reached"
	case analysis.BreachedAtStart:
		return "breached at the start"
	case analysis.Observed:
		return "judged as observed"
	case analysis.TooFewTimes:
		return "too few times"
	case analysis.NotFitted:
		return "not fitted"
	case analysis.NoCriterion:
		return "fitted, no criterion"
	}
	return string(s)
}

// Seen says in a word or two how the results stand to the criterion, and why
// there is no fit where there is none.
func Seen(a *analysis.Analysis) string {
	if a.FirstFailure != nil {
		return "out at " + at(a.FirstFailure.Planned)
	}
	switch a.Status {
	case analysis.TooFewTimes, analysis.NotFitted, analysis.BreachedAtStart:
		return Status(a.Status)
	case analysis.NoCriterion:
		return "no criterion"
	}
	return "inside"
}

// Model names the model of an analysis, and how it was chosen.
func Model(a *analysis.Analysis) string {
	switch {
	case a.Model == "observed" || a.Model == "":
		return ""
	case a.Model == "unit rates":
		return "a rate for each unit"
	case len(a.Candidates) > 0:
		return a.Model + " (chosen by AICc)"
	}
	return a.Model
}

// Percent writes a confidence: 95 %.
func Percent(confidence float64) string {
	return strconv.FormatFloat(math.Round(confidence*1e6)/1e4, 'f', -1, 64) + " %"
}

// Disclaimer says what an answer is and is not; it stands under every claim.
const Disclaimer = "This is an estimate that supports a decision; it is no approval. The regulations that apply where the product is sold, and people qualified to judge, decide."

// Confidence says once what the stated confidence is.
const Confidence = "The poolability test chooses the model on the same data that are then fitted, so the stated confidence is that of the procedure of ICH Q1E and not an exact coverage."

// Q1EConditions are the guideline's own conditions for any extrapolation.
const Q1EConditions = "Time beyond the data is extrapolated: ICH Q1E asks for supporting data where it is used, and for the extrapolated time to be verified by further long-term results as they come in."
