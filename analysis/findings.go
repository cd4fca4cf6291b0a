package analysis

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"shelfspan/study"
)

// find draws up what the tests found. A course that turns round makes every line
// wrong: of the tests that rest on one only the turn is then told, and the others
// stand among the numbers. Beside one that bends no more is told of the scatter, and
// a lack of fit is told where neither was found.
func (d *diagnosis) find() {
	add := func(f Finding) { d.Findings = append(d.Findings, f) }
	overall := func(code string, p float64) {
		if p < NoteLevel {
			add(Finding{Code: code, Warned: p < WarningLevel, P: p, Batch: -1})
		}
	}
	turned := d.turnP < WarningLevel
	overall(CodeTurns, d.turnP)
	if d.turnP >= NoteLevel {
		overall(CodeBends, d.bendP)
	}
	if o := d.Outlier; o != nil && !turned && o.P < NoteLevel && d.told(&o.Expectation) && !d.alone(o.Sample) {
		x := &d.a.Samples[o.Sample]
		add(Finding{CodeOutlier, o.P < WarningLevel, o.P, x.Batch, x.Planned, []int{o.Sample}, &o.Expectation})
	}
	for i := range d.OutOfTrend {
		o := &d.OutOfTrend[i]
		if o.P < NoteLevel && d.told(&o.Expectation) && !(turned && o.Earlier == nil) {
			add(Finding{CodeOutOfTrend, o.P < WarningLevel, o.P, o.Batch, o.Planned, o.Samples, &o.Expectation})
		}
	}
	if d.found(CodeTurns) == nil && d.found(CodeBends) == nil {
		overall(CodeLackOfFit, d.lackP)
	}
	if !turned && d.bendP >= WarningLevel {
		overall(CodeNotNormal, d.normalP)
		overall(CodeSpread, d.spreadP)
	}
	if l := d.Leverage; l != nil && l.Leverage > MostLeverage {
		add(Finding{Code: CodeLeverage, Warned: true, P: math.NaN(), Batch: l.Batch, Planned: l.Planned, Samples: l.Samples})
	}
}

// alone reports whether a sample is the whole of the latest pull of its batch, so
// that its being an outlier is told as its being out of trend.
func (d *diagnosis) alone(sample int) bool {
	for i := range d.OutOfTrend {
		if o := &d.OutOfTrend[i]; o.Earlier == nil && len(o.Samples) == 1 && o.Samples[0] == sample {
			return true
		}
	}
	return false
}

// tellDiagnostics warns of what was found, one warning for each code of an
// analysis. Texts that name no single result are the same everywhere, so that they
// can be gathered; and an outlier of time zero, which counts in every condition and
// orientation, is told everywhere as where it shows most.
func (v *evaluator) tellDiagnostics(analyses []*Analysis) {
	for _, a := range analyses {
		where := v.place(cell{a.Attribute, a.Condition, a.Pack, a.Orientation})
		v.outOfSpecification(a, where)
		if a.Diagnostics == nil {
			continue
		}
		told := map[string]bool{}
		for i := range a.Diagnostics.Findings {
			f := &a.Diagnostics.Findings[i]
			if !f.Warned || told[f.Code] {
				continue
			}
			told[f.Code] = true
			of := a
			if f.Code == CodeOutlier && f.Planned.IsZero() {
				of, f = plainest(analyses, a, f)
			}
			a.warn(f.Code, where, v.sentence(of, f))
		}
	}
}

// plainest gives the analysis of the same attribute and pack in which the same
// outlier of time zero has the smallest p-value.
func plainest(analyses []*Analysis, a *Analysis, f *Finding) (*Analysis, *Finding) {
	unit := a.Samples[f.Samples[0]].Unit
	for _, other := range analyses {
		if other.Attribute != a.Attribute || other.Pack != a.Pack {
			continue
		}
		g := other.Diagnostics.found(CodeOutlier)
		if g != nil && g.Planned.IsZero() && g.Batch == f.Batch && other.Samples[g.Samples[0]].Unit == unit && g.P < f.P {
			a, f = other, g
		}
	}
	return a, f
}

// outOfSpecification warns of results outside the acceptance criterion.
func (v *evaluator) outOfSpecification(a *Analysis, where string) {
	count := 0
	for i := range a.Samples {
		if a.Samples[i].OutOfCriterion {
			count++
		}
	}
	if count == 0 || a.FirstFailure == nil {
		return
	}
	verb := "are"
	if count == 1 {
		verb = "is"
	}
	f := a.FirstFailure
	a.warn("out-of-specification", where, fmt.Sprintf("%d of %d results %s outside the acceptance criterion, the first of batch %s at %s.",
		count, len(a.Samples), verb, v.s.Batches[f.Batch].ID, timeName(f.Planned)))
}

// sentence says what was found in words that a technician understands.
func (v *evaluator) sentence(a *Analysis, f *Finding) string {
	d, at := a.Diagnostics, &v.s.Attributes[a.Attribute]
	switch f.Code {
	case CodeOutlier:
		x := &a.Samples[f.Samples[0]]
		return fmt.Sprintf("Batch %s%s at %s: %s is an outlier, where the batch's other results make %s likely (%s for the farthest of %d results). It was not left out; look into it.",
			v.s.Batches[f.Batch].ID, unitOf(x), timeName(f.Planned), reported(at, f.Value), reported(at, f.Expected), chance(f.P), d.N)
	case CodeOutOfTrend:
		var parts []string
		for i := range d.OutOfTrend {
			if o := &d.OutOfTrend[i]; o.P < WarningLevel && d.has(o) {
				parts = append(parts, v.outOfTrend(at, o))
			}
		}
		return "Out of trend: " + strings.Join(parts, "; ") + ". Look into it; nothing was left out."
	case CodeLeverage:
		return fmt.Sprintf("The line hangs on one pull: batch %s at %s has a leverage of %.2f, so that what is wrong with this pull is wrong with the line.",
			v.s.Batches[f.Batch].ID, timeName(f.Planned), d.Leverage.Leverage)
	case CodeLackOfFit:
		return "The pulls scatter about the lines by more than the results of one pull do: either no straight line describes the course, or something differed from pull to pull. The confidence limit takes neither in."
	case CodeNotNormal:
		return "The results do not scatter about the lines as a normal distribution does: the confidence limit, which takes them to, is approximate."
	case CodeSpread:
		way := "more widely"
		if !d.Spread.Grows {
			way = "more closely"
		}
		return "The results scatter " + way + " the later they are: the confidence limit, which takes the scatter for the same at all times, is approximate."
	case CodeBends:
		t := "The course bends and goes slower with time than a straight line on this scale."
		if d.Course.Steeper {
			t = "The course bends and goes ever faster: beyond the data a straight line on this scale looks too favourable."
		}
		if len(a.Candidates) > 1 {
			return t + " No model compared makes it straight enough."
		}
		return t + " Other models may describe it better (--model auto compares them)."
	case CodeTurns:
		t := "falls until about %s months and then rises"
		if d.Course.Rises {
			t = "rises until about %s months and then falls"
		}
		return fmt.Sprintf("The course "+t+" (%s): no straight line describes it, and a bound from the line is not to be relied on. Where the change at first is known to be a setting after filling, the attribute's baseline in the study file says from when the trend counts.",
			about(d.Course.TurnsAt), chance(f.P))
	}
	return f.Code
}

// has reports whether a judgement is among the findings.
func (d *Diagnostics) has(o *OutOfTrend) bool {
	for i := range d.Findings {
		if d.Findings[i].Expectation == &o.Expectation {
			return true
		}
	}
	return false
}

// outOfTrend says of one judgement what came and what was to be expected.
func (v *evaluator) outOfTrend(at *study.Attribute, o *OutOfTrend) string {
	t := fmt.Sprintf("batch %s at %s, %s", v.s.Batches[o.Batch].ID, timeName(o.Planned), reported(at, o.Value))
	if n := len(o.Samples); n > 1 {
		t += fmt.Sprintf(" (mean of %d)", n)
	}
	by := "the batch's own results before"
	if o.Earlier != nil {
		by = fmt.Sprintf("the %d batches before it", len(o.Earlier))
	}
	return fmt.Sprintf("%s, where %s make %s likely and 99 %% lie %s", t, by, reported(at, o.Expected), between(at, o.Lower[1], o.Upper[1]))
}

func between(at *study.Attribute, lower, upper float64) string {
	if math.IsInf(upper, 1) {
		return "above " + reported(at, lower)
	}
	return fmt.Sprintf("between %s and %s", plain(at, lower), reported(at, upper))
}

// plain writes a value as it is reported.
func plain(at *study.Attribute, x float64) string {
	if at.Decimals >= 0 {
		return strconv.FormatFloat(x, 'f', at.Decimals, 64)
	}
	return fmt.Sprintf("%.5g", x)
}

// about writes a time in months that is none too sure.
func about(months float64) string {
	if months < 10 {
		return fmt.Sprintf("%.1f", months)
	}
	return fmt.Sprintf("%.0f", months)
}

// reported writes a value with its unit of measure.
func reported(at *study.Attribute, x float64) string {
	t := plain(at, x)
	if at.Unit == "" || at.Unit == "1" || strings.HasPrefix(at.Unit, "[") {
		return t
	}
	return t + " " + at.Unit
}

func chance(p float64) string {
	if p < 0.001 {
		return "p < 0.001"
	}
	return fmt.Sprintf("p = %.3f", p)
}

func timeName(d study.Duration) string {
	if d.IsZero() {
		return "time zero"
	}
	return d.String()
}

func unitOf(x *Sample) string {
	if x.Unit == "" {
		return ""
	}
	return ", unit " + x.Unit + ","
}
