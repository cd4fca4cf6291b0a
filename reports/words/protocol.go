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
