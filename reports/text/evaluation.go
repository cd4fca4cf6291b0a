package text

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// ShelfLife writes the answer of shelf-life: the conclusion, what each
// attribute and pack supports, and the fits behind it.
func (p *Printer) ShelfLife(e *analysis.Evaluation) {
	s := e.Dataset.Study
	p.title(s)
	for _, line := range words.Conclusion(e) {
		p.Paragraph(line)
	}
	if v := e.Supported; v != nil && len(v.Verdicts) > 0 {
		p.Heading("What each attribute supports, in months")
		p.verdicts(s, v.Verdicts)
		if len(v.Packs) > 1 {
			p.Heading("The governing attribute of each pack")
			p.verdicts(s, v.Packs)
		}
		p.Paragraph("Bound: " + words.BoundHead(e.Analyses) + "; " + words.EstimateHead(e.Analyses) + ", below: " + words.EstimateMeaning(e.Analyses) + ". Data: the last planned pull with results of every batch. Cap: the most the rule allows; –: no regression.")
	}
	p.analyses(e, false)
	p.lifetimes(e, func(condition int) bool { return condition == s.StoreAt })
	p.Heading("How to read this")
	if slices.ContainsFunc(e.Analyses, func(a *analysis.Analysis) bool { return !math.IsNaN(a.Pooling.SlopesP) && a.Pooling.Decision != "" }) {
		p.Paragraph(words.Confidence)
	}
	p.boundNotes(e)
	if v := e.Supported; v != nil && v.Analysis != nil && float64(v.Months) > v.Observed {
		p.Paragraph(words.Q1EConditions)
	}
	if words.Warned(e) {
		p.Paragraph(words.Tested(e) + " " + words.ByChance)
	}
	p.Paragraph(words.Disclaimer)
	for _, c := range words.Cautions(s) {
		p.Hanging("- ", c)
	}
	p.countWarnings(e.Warnings)
}

// Trend writes the answer of trend: every analysis, condition by condition.
func (p *Printer) Trend(e *analysis.Evaluation) {
	p.title(e.Dataset.Study)
	if len(e.Analyses) > 0 {
		fitted, crossing := 0, 0
		for _, a := range e.Analyses {
			if a.Pooling.Decision != "" {
				fitted++
				if !math.IsInf(a.ShelfLife, 1) && !math.IsNaN(a.ShelfLife) {
					crossing++
				}
			}
		}
		p.Paragraph(fmt.Sprintf("%s, of which %d fitted by regression; in %d of them the %s meets the criterion at some time. A trend is no shelf life: that is for shelf-life, which applies the rule on extrapolation.",
			plural(len(e.Analyses), "analysis", "analyses"), fitted, crossing, words.LimitNames(e.Analyses)))
		p.Paragraph(words.MeanAndBound(e))
		p.boundNotes(e)
	}
	p.analyses(e, true)
	p.diagnostics(e)
	p.lifetimes(e, func(int) bool { return true })
	p.countWarnings(e.Warnings)
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

func (p *Printer) title(s *study.Study) {
	t := "Study " + s.ID
	if s.Title != "" {
		t += ": " + s.Title
	}
	p.Paragraph(t)
	p.write("\n")
}

func (p *Printer) countWarnings(ws []finding.Warning) {
	if n := len(finding.Gather(ws)); n > 0 {
		p.write("\n")
		p.Paragraph(plural(n, "warning qualifies", "warnings qualify") + " these numbers; see standard error.")
	}
}

func (p *Printer) verdicts(s *study.Study, vs []analysis.Verdict) {
	var rows [][]string
	for i := range vs {
		v := &vs[i]
		cap := words.Planned(v.Cap)
		if math.IsInf(v.Cap, 1) {
			cap = "none"
		}
		regression := words.Bound(v.Regression)
		if math.IsNaN(v.Regression) {
			regression = "–"
		}
		rows = append(rows, []string{
			s.Attributes[v.Attribute].ID, words.PackName(s, v.Pack, v.Orientation), strconv.Itoa(v.Months),
			regression, words.Planned(v.Observed), cap, v.Rule,
		})
	}
	p.Table([]Column{{"attribute", Left}, {"pack", Left}, {"supported", Right}, {"bound", Right}, {"data", Right}, {"cap", Right}, {"rule", Left}}, rows)
}

// analyses writes what was fitted, attribute by attribute; with lines also the
// condition of each, of which there are then several, and the line of every
// batch.
func (p *Printer) analyses(e *analysis.Evaluation, lines bool) {
	s := e.Dataset.Study
	if len(e.Analyses) == 0 {
		t := "There are no results after time zero to analyse"
		if !lines && s.StoreAt >= 0 {
			t += " at the storage condition"
		}
		if lines || s.StoreAt >= 0 {
			p.Paragraph(t + ".")
		}
		return
	}
	for i := 0; i < len(e.Analyses); {
		j := i
		for j < len(e.Analyses) && e.Analyses[j].Attribute == e.Analyses[i].Attribute {
			j++
		}
		p.attribute(e, &s.Attributes[e.Analyses[i].Attribute], e.Analyses[i:j], lines)
		i = j
	}
}

func (p *Printer) attribute(e *analysis.Evaluation, at *study.Attribute, as []*analysis.Analysis, lines bool) {
	s := e.Dataset.Study
	var results [][]string
	model := ""
	for _, a := range as {
		condition, pack := "", words.PackName(s, a.Pack, a.Orientation)
		if lines {
			condition = s.Conditions[a.Condition].ID
		}
		batches := words.Pooling(a.Pooling)
		if len(a.Fits) == 1 {
			batches = "one"
		}
		results = append(results, []string{
			condition, pack, months(a, a.Estimate, words.Estimate), months(a, a.ShelfLife, words.Bound),
			words.P(a.Pooling.SlopesP), words.P(a.Pooling.InterceptsP), batches, words.Seen(a),
		})
		model = cmp.Or(model, words.Model(a))
	}
	columns := []Column{{"condition", Left}, {"pack", Left}, {words.EstimateHead(as), Right}, {"bound", Right}, {"p slopes", Right}, {"p interc.", Right}, {"batches", Left}, {"results", Left}}
	head := at.ID + ": criterion " + words.Criterion(at)
	if model != "" {
		head += "; " + model
	}
	if !at.Baseline.IsZero() {
		head += "; the trend counts from " + at.Baseline.String()
	}
	p.Heading(head)
	p.Table(columns, blanked(results))
	p.bounds(e, as, lines)
	if lines {
		if t := words.ModelsCompared(as[0]); t != "" {
			p.write("\n")
			p.Paragraph(t)
		}
		p.lines(s, at, as)
		p.curves(s, at, as)
	}
	p.losses(s, as, lines)
}

// lines writes the fitted line of each batch, to the decimals that the
// standard errors bear.
func (p *Printer) lines(s *study.Study, at *study.Attribute, as []*analysis.Analysis) {
	var errors []float64
	highest, model := 0.0, ""
	as = slices.DeleteFunc(slices.Clone(as), func(a *analysis.Analysis) bool { return a.Curves != nil })
	for _, a := range as {
		for _, f := range a.Fits {
			errors = append(errors, f.SlopeSE)
			highest, model = math.Max(highest, math.Abs(f.Intercept)), a.Model
		}
	}
	if model == "" {
		return
	}
	decimals, places := words.Decimals(2, errors...), words.Decimals(5, highest)
	var rows [][]string
	for _, a := range as {
		for i, f := range a.Fits {
			row := []string{s.Conditions[a.Condition].ID, words.PackName(s, a.Pack, a.Orientation), s.Batches[f.Batch].ID,
				words.Fixed(f.Intercept, places), words.Fixed(f.Slope, decimals), words.Fixed(f.SlopeSE, decimals)}
			if i > 0 {
				row[0], row[1] = "", ""
			}
			rows = append(rows, row)
		}
	}
	p.write("\n")
	_, unit := words.Scales(at, model)
	if !strings.HasPrefix(unit, "per ") {
		unit = "in " + unit
	}
	p.Paragraph("Slope " + unit + ":")
	p.Table([]Column{{"condition", Left}, {"pack", Left}, {"batch", Left}, {"intercept", Right}, {"slope", Right}, {"± se", Right}}, blanked(rows))
}

// blanked empties the columns that have dashes alone, so that no room is given
// to tests and numbers that an attribute has none of.
func blanked(rows [][]string) [][]string {
	for i := range rows[0] {
		if !slices.ContainsFunc(rows, func(r []string) bool { return r[i] != "" && r[i] != "–" }) {
			for _, r := range rows {
				r[i] = ""
			}
		}
	}
	return rows
}

// months writes a time to the criterion of an analysis that has a fit and a
// criterion.
func months(a *analysis.Analysis, x float64, write func(float64) string) string {
	if a.Pooling.Decision == "" || a.Status == analysis.NoCriterion {
		return "–"
	}
	return write(x)
}

// Arrhenius writes the answer of arrhenius.
func (p *Printer) Arrhenius(e *analysis.Evaluation) {
	s := e.Dataset.Study
	p.title(s)
	if len(e.Arrhenius) == 0 {
		p.Paragraph("There is nothing to fit: no attribute measured as a number has results in storage.")
	}
	var predictions [][]string
	for _, r := range e.Arrhenius {
		for _, q := range r.Predictions {
			note := ""
			if q.Storage {
				note = "storage"
			}
			if r.Bent() {
				note = joinNotes(note, "not one line: see below")
			}
			if q.Extrapolated {
				note = joinNotes(note, "outside the temperatures studied")
			}
			predictions = append(predictions, []string{
				s.Attributes[r.Attribute].ID, words.PackName(s, r.Pack, r.Orientation), words.Number(q.Celsius, 4),
				words.Estimate(q.Estimate), words.Bound(q.ShelfLife), words.Bound(q.Delta), note,
			})
		}
	}
	switch {
	case len(predictions) == 0 && len(e.Arrhenius) > 0:
		p.Paragraph("No life can be predicted from the temperatures together.")
	case len(predictions) > 0:
		p.Paragraph("Predicted life in months; the bound is the profile likelihood's; the delta method's stands beside it for comparison. A prediction is no shelf life by itself: the long-term data decide.")
		p.write("\n")
		p.Table([]Column{{"attribute", Left}, {"pack", Left}, {"°C", Right}, {"mean", Right}, {"bound", Right}, {"delta", Right}, {"", Left}}, predictions)
	case s.StoreAt < 0 && len(e.Arrhenius) > 0:
		p.Paragraph("The study names no condition that stands for storage as labelled, so no life is predicted; ask for a temperature with --at CELSIUS.")
	}
	for _, r := range e.Arrhenius {
		p.Heading(words.Place(s, r.Attribute, r.Pack, r.Orientation))
		for _, line := range words.Arrhenius(e, r) {
			p.Paragraph(line)
		}
		p.rates(s, r)
	}
	p.jointLifetimes(e)
	p.countWarnings(e.Warnings)
}

// rates writes the rate of each condition, to the decimals that the standard
// errors bear.
func (p *Printer) rates(s *study.Study, r *analysis.Arrhenius) {
	if len(r.Rates) == 0 {
		return
	}
	var errors []float64
	for _, x := range r.Rates {
		errors = append(errors, x.SE)
	}
	decimals := words.Decimals(2, errors...)
	var rows [][]string
	for _, x := range r.Rates {
		batch := ""
		if x.Batch >= 0 {
			batch = s.Batches[x.Batch].ID
		}
		rows = append(rows, []string{s.Conditions[x.Condition].ID, batch, words.Number(x.Celsius, 4), words.Fixed(x.PerMonth, decimals), words.Fixed(x.SE, decimals)})
	}
	_, unit := words.Scales(&s.Attributes[r.Attribute], r.Model)
	p.Table([]Column{{"condition", Left}, {"batch", Left}, {"°C", Right}, {"rate, " + unit, Right}, {"± se", Right}}, rows)
}

func joinNotes(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}
