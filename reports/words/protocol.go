package words

import (
	"fmt"
	"math"
	"strings"

	"shelfspan/study"
)

// Tolerated writes a set point with its tolerance; "–" where there is none.
func Tolerated(v, tolerance float64) string {
	switch {
	case math.IsNaN(v):
		return "–"
	case tolerance > 0:
		return Planned(v) + " ± " + Planned(tolerance)
	}
	return Planned(v)
}

// ModelAsked names the model the study file asks for; "–" where none is fitted.
func ModelAsked(a *study.Attribute) string {
	if a.Kind != study.Measure {
		return "–"
	}
	return string(a.Model)
}

// Sampling says what becomes of the units, and how often each is read.
func Sampling(a *study.Attribute) string {
	if a.Replicates > 1 {
		return fmt.Sprintf("%s, %d readings", a.Sampling, a.Replicates)
	}
	return string(a.Sampling)
}

// ReportedTo says to how many decimals an attribute is reported and judged.
func ReportedTo(a *study.Attribute) string {
	switch {
	case a.Kind == study.Grade || a.Kind == study.PassFail:
		return "–"
	case a.Decimals < 0:
		return "as given"
	}
	return Count(a.Decimals, "decimal")
}

// Particulars says what the study file states of an attribute that bears on how
// its results are read.
func Particulars(a *study.Attribute) []string {
	var out []string
	if a.ExpectedAtAccelerated != "" {
		out = append(out, a.ID+": a change at the accelerated condition is expected and is told, not counted. Reason stated: "+a.ExpectedAtAccelerated)
	}
	if !a.Baseline.IsZero() {
		out = append(out, a.ID+": the trend counts from "+a.Baseline.String()+"; earlier results are shown, not fitted.")
	}
	return out
}

// PackKinds says in a word each what kind of pack it is.
func PackKinds(p *study.Pack) string {
	out := Nature(p)
	if p.SemiPermeable {
		out = append(out, "semi-permeable")
	}
	if p.Control {
		out = append(out, "control")
	}
	return strings.Join(out, ", ")
}

// CriterionIn writes an acceptance criterion for a table that has the unit of
// measurement in a column of its own: without it, where the limits are in it.
func CriterionIn(a *study.Attribute) string {
	c := Criterion(a)
	if u := Unit(a); u != "" && u == MeasuredIn(a) {
		return strings.TrimSuffix(c, " "+u)
	}
	return c
}

// ResultsAt heads the results at one condition.
func ResultsAt(c *study.Condition) string { return "Results at " + Condition(c) }

// ResultsRead says how the tables of results are read.
const ResultsRead = "One table for each batch in its pack and orientation. A result is the mean of the readings or units at its pull; below it stand the lowest and the highest reading, and in brackets each unit's own value where these do not show it. Of grades it is how many units had which. Of weighings it is the percent of each unit's own net mass lost since time zero. A result outside the acceptance criterion, judged on the value rounded as reported (USP General Notices 7.20), stands bold with a sign. – no result."
