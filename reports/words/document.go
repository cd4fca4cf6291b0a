package words

import (
	"fmt"
	"math"
	"strings"

	"shelfspan/analysis"
	"shelfspan/study"
)

// What the documents say beside their tables and charts.
const (
	// AICcNote explains a comparison of models.
	AICcNote = "AICc of separate lines or curves, over all conditions and packs. The lowest of the lines replaces zero-order only where it is lower by more than 2, and a curve the line so chosen likewise. The model chosen is set bold."

	// PredictionsNote explains a table of predicted lives.
	PredictionsNote = "The profile bound governs; the delta method's stands beside it for comparison. Not one line: one activation energy does not fit all temperatures, and the prediction is not to be relied on. The Q10 shortcut (ASTM F1980) is shown as the convention and is never the answer."

	// ChangesNote stands below the results that were changed.
	ChangesNote = "Excluded results stand in no table, chart or fit of this document but this one. Amended ones stand with what they are given here last."

	// NoChart stands where there is nothing to draw.
	NoChart = "No chart: every unit was graded alike at every pull, as the results show."

	// NoCharts stands where some of several are not drawn.
	NoCharts = "No chart where every unit had the same grade."

	// CalendarCaption stands at the calendar of the pulls.
	CalendarCaption = "The pulls by month."

	// SameAgain says what a document's bytes hang on.
	SameAgain = "The same inputs, version and options give this document again, byte for byte on the same kind of machine. It carries no date of its making for that reason."
)

// VerdictNote explains a table of shelf lives.
func VerdictNote(e *analysis.Evaluation) string {
	return "Supported: whole months, rounded down, the shortest in bold. Regression: " + BoundHead(e.Analyses) + ", cut to one decimal. X: planned time of the last pull at which every batch has a result."
}

// NoResults says what there is where no table of results can be made.
func NoResults(d *study.Dataset) string {
	if n := len(d.Results); n > 0 {
		return fmt.Sprintf("Nothing has been tested after time zero; what there is of it, %d in number, is not tabulated.", n)
	}
	return "No results have been taken in."
}

// Trend says what an analysis was held against, what was found, and what of it
// may be claimed.
func Trend(e *analysis.Evaluation, a *analysis.Analysis) string {
	at := &e.Dataset.Study.Attributes[a.Attribute]
	t := "Criterion: " + Criterion(at) + "."
	if m := Model(a); m != "" {
		t += " Fitted: " + m
		if !at.Baseline.IsZero() {
			t += ", the trend counting from " + at.Baseline.String()
		}
		t += "."
	}
	t = joined(t, Censored(a), Analysis(e, a))
	if e.Supported != nil {
		for i := range e.Supported.Verdicts {
			if v := &e.Supported.Verdicts[i]; v.Attribute == a.Attribute && v.Pack == a.Pack && v.Orientation == a.Orientation {
				t += " " + Supports(v)
			}
		}
	}
	return t
}

// BoundNote says what bound a table of fits has, and what stands bold in it.
func BoundNote(a *analysis.Analysis) string {
	side := "two-sided"
	if a.OneSided {
		side = "one-sided"
	}
	note := fmt.Sprintf("Bound: %s %s confidence limit of the mean.", side, Percent(a.Confidence))
	if a.Curves != nil || a.Censored > 0 {
		note = fmt.Sprintf("Bound: %s %s confidence limit of the mean, by the profile likelihood.", side, Percent(a.Confidence))
	}
	if !math.IsNaN(a.ResidualSD) {
		note += fmt.Sprintf(" Residual standard deviation %s with %d degrees of freedom.", strings.ReplaceAll(Number(a.ResidualSD, 4), "-", "−"), a.DF)
	}
	if a.LimitingBatch >= 0 && len(a.Fits) > 1 {
		note += " Bold: the batch that limits."
	}
	return note
}

// TestFound says what a test of poolability found.
func TestFound(p, alpha float64) string {
	switch {
	case math.IsNaN(p):
		return "not tested"
	case p < alpha:
		return "differ"
	}
	return "not shown to differ"
}

// Batches says whether the batches of an analysis share a line.
func Batches(a *analysis.Analysis) string {
	if len(a.Fits) == 1 {
		return "one"
	}
	return Pooling(a.Pooling)
}

// Slopes writes the slopes of an analysis to so many decimals, one where the
// batches share it.
func Slopes(a *analysis.Analysis, decimals int) string {
	var parts []string
	for i := range a.Fits {
		parts = append(parts, strings.ReplaceAll(Fixed(a.Fits[i].Slope, decimals), "-", "−"))
	}
	switch {
	case len(parts) == 0:
		return "–"
	case a.Pooling.Decision == "pooled" || a.Pooling.Decision == "common-slope":
		return parts[0]
	}
	return strings.Join(parts, " ")
}

// Measured writes the value of a sample: a limit of measurement with the digits
// it was given with, anything else as it is reported.
func Measured(at *study.Attribute, s *analysis.Sample) string {
	switch s.Censor {
	case study.BelowThat:
		return "<" + Number(s.Value, 10)
	case study.AboveThat:
		return ">" + Number(s.Value, 10)
	}
	return Value(at, s.Value)
}

// RatesNote says what the rates of an Arrhenius fit are in.
func RatesNote(s *study.Study, r *analysis.Arrhenius) string {
	_, unit := Scales(&s.Attributes[r.Attribute], r.Model)
	model := r.Model
	if model == "unit rates" {
		model = "mean of the units' own rates through the origin"
	}
	t := "Rates in " + unit + "; model: " + model + ". The sign says which way the response goes on that scale."
	if len(r.LeftOut) > 0 {
		var out []string
		for _, c := range r.LeftOut {
			out = append(out, s.Conditions[c].ID)
		}
		t += " Left out of the fit: " + strings.Join(out, ", ") + "."
	}
	return t
}

// Predicted qualifies a predicted life in a few words; "" where there is nothing
// to mind.
func Predicted(r *analysis.Arrhenius, p *analysis.Prediction) string {
	var t []string
	if p.Storage {
		t = append(t, "storage")
	}
	if p.Extrapolated {
		t = append(t, "extrapolated")
	}
	if r.Bent() {
		t = append(t, "not one line")
	}
	return strings.Join(t, ", ")
}

// Departs reports whether the record of a pull says more than that it was made as
// planned.
func Departs(r *study.PullRecord) bool {
	return r.Reason != "" || r.Note != "" || r.Outside != 0 || r.Withdrawn
}

// Departure says how a pull departed from the plan; "" where it has only a reason
// or a note.
func Departure(r *study.PullRecord) string {
	switch {
	case r.Withdrawn:
		return "record taken back"
	case r.Outside != 0 && r.Other:
		return Outside(r.Outside) + ", and other units than planned"
	case r.Outside != 0:
		return Outside(r.Outside)
	case r.Other:
		return "other units than planned"
	}
	return ""
}

// PullReason says how a pull departed from the plan, and why; of one that did not,
// the reason that was given all the same, "" for none.
func PullReason(r *study.PullRecord) string {
	t := ""
	if d := Departure(r); d != "" {
		t = "A deviation: " + d + ". "
	}
	if t == "" && r.Reason == "" {
		return ""
	}
	return t + "Reason: " + r.Reason
}

// joined puts sentences one after the other.
func joined(sentences ...string) string {
	var out []string
	for _, t := range sentences {
		if t != "" {
			out = append(out, t)
		}
	}
	return strings.Join(out, " ")
}
