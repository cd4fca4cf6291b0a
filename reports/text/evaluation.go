package text

import (
	"fmt"
	"math"
	"strconv"

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
		p.Paragraph("Bound: months until the confidence limit of the mean meets the criterion; mean, below: until the mean itself does. Data: the last planned pull with results of every batch. Cap: the most the rule allows.")
	}
	p.analyses(e, false)
	p.Heading("How to read this")
	p.Paragraph(words.Confidence)
	if v := e.Supported; v != nil && v.Analysis != nil && float64(v.Months) > v.Observed {
		p.Paragraph(words.Q1EConditions)
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
	fitted, changing := 0, 0
	for _, a := range e.Analyses {
		if a.Pooling.Decision != "" {
			fitted++
			if !math.IsInf(a.ShelfLife, 1) && !math.IsNaN(a.ShelfLife) {
				changing++
			}
		}
	}
	p.Paragraph(fmt.Sprintf("%s, of which %d fitted by regression; in %d of them the confidence limit meets the acceptance limit at some time. A trend is no shelf life: that is for shelf-life, which applies the rule on extrapolation.",
		plural(len(e.Analyses), "analysis", "analyses"), fitted, changing))
	p.Paragraph("Mean and bound: months until the fitted mean and its confidence limit meet the criterion. Intercept and slope are on the model's own scale, per month or root month.")
	p.analyses(e, true)
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
		p.Paragraph("There are no results to analyse.")
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
	var results, fits [][]string
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
		for i, f := range a.Fits {
			row := []string{condition, pack, s.Batches[f.Batch].ID, words.Number(f.Intercept, 5), words.Number(f.Slope, 4), words.Number(f.SlopeSE, 2)}
			if i > 0 {
				row[0], row[1] = "", ""
			}
			fits = append(fits, row)
		}
	}
	columns := []Column{{"condition", Left}, {"pack", Left}, {"mean", Right}, {"bound", Right}, {"p slopes", Right}, {"p interc.", Right}, {"batches", Left}, {"results", Left}}
	lineColumns := []Column{{"condition", Left}, {"pack", Left}, {"batch", Left}, {"intercept", Right}, {"slope", Right}, {"± se", Right}}
	head := at.ID + ": criterion " + words.Criterion(at)
	if m := words.Model(as[0]); m != "" {
		head += "; " + m
	}
	p.Heading(head)
	p.Table(columns, results)
	if lines && len(fits) > 0 {
		p.write("\n")
		p.Table(lineColumns, fits)
	}
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
			if r.LinearityP < 0.05 {
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
	}
	for _, r := range e.Arrhenius {
		p.Heading(words.Place(s, r.Attribute, r.Pack, r.Orientation))
		for _, line := range words.Arrhenius(e, r) {
			p.Paragraph(line)
		}
		if len(r.Rates) > 0 {
			var rows [][]string
			for _, x := range r.Rates {
				rows = append(rows, []string{s.Conditions[x.Condition].ID, words.Number(x.Celsius, 4), words.Number(x.PerMonth, 4), words.Number(x.SE, 2)})
			}
			p.Table([]Column{{"condition", Left}, {"°C", Right}, {"rate per month (" + r.Model + ")", Right}, {"± se", Right}}, rows)
		}
	}
	p.countWarnings(e.Warnings)
}

func joinNotes(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}
