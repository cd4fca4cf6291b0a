package text

import (
	"math"
	"slices"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// Interactions writes the answer of interactions: what harms the product, worst
// first, then every comparison.
func (p *Printer) Interactions(e *analysis.Evaluation) {
	s, x := e.Dataset.Study, e.Interactions
	p.title(s)
	for _, t := range words.InteractionsConclusion(x, s) {
		p.Paragraph(t)
	}
	p.matrix(s, x)
	p.ranking(s, x)
	p.comparisons(s, x)
	if len(x.Parallel) > 0 {
		p.Heading("Across temperatures")
		for _, q := range x.Parallel {
			p.Hanging("- ", words.Parallel(s, q))
		}
	}
	p.scale(s, x)
	if len(x.Pairs) > 0 {
		p.Heading("Pairs of ingredients, the greatest excess first")
		for _, q := range x.Pairs {
			p.Hanging("- ", words.Pair(s, q))
		}
	}
	p.Heading("How to read this")
	p.Paragraph(words.InteractionsRead(x, e.Confidence))
	if t := words.MonthsBy(x, s); t != "" {
		p.Paragraph(t)
	}
	p.Paragraph(words.Disclaimer)
	for _, c := range words.Cautions(s) {
		p.Hanging("- ", c)
	}
	p.countWarnings(e.Warnings)
}

// matrix writes the months lost of attributes by packs.
func (p *Printer) matrix(s *study.Study, x *analysis.Interactions) {
	m := words.NewMatrix(s, x)
	if len(m.Rows) == 0 || len(m.Columns) == 0 {
		return
	}
	p.Heading("Months of shelf life lost (+) of " + words.Planned(x.Horizon) + ", at the storage condition")
	columns := []Column{{"attribute", Left}}
	for _, c := range m.Columns {
		columns = append(columns, Column{c, Right})
	}
	var rows [][]string
	for _, r := range m.Rows {
		rows = append(rows, append([]string{r.Attribute}, r.Cells...))
	}
	p.Table(columns, rows)
	p.Paragraph(words.MatrixRead)
}

// ranking writes what costs months, worst first; what costs none is counted.
func (p *Printer) ranking(s *study.Study, x *analysis.Interactions) {
	var rows [][]string
	for _, i := range x.Ranking {
		c := x.Comparisons[i]
		if c.Outcome == analysis.NoHarmShown || c.Outcome == analysis.Slower {
			continue
		}
		more := ""
		if c.MorePulls > 0 {
			more = words.Count(c.MorePulls, "pull")
		}
		side := words.Side(c)
		if c.ThroughArrhenius {
			side += ", by " + s.Conditions[c.Condition].ID
		}
		least, most := words.LostRange(c)
		rows = append(rows, []string{s.Attributes[c.Attribute].ID, side, words.Lost(c.Lost), least, most, words.Outcome(c.Outcome), more})
	}
	if len(rows) == 0 {
		return
	}
	p.Heading("Worst first, in months lost")
	p.Table([]Column{{"attribute", Left}, {"what / against", Left}, {"lost", Right}, {"at least", Right}, {"at most", Right}, {"", Left}, {"needs about", Left}}, rows)
}

// comparisons writes every comparison, attribute by attribute.
func (p *Printer) comparisons(s *study.Study, x *analysis.Interactions) {
	for a := range s.Attributes {
		var of []*analysis.Comparison
		for _, c := range x.Comparisons {
			if c.Attribute == a {
				of = append(of, c)
			}
		}
		if len(of) == 0 {
			continue
		}
		var errors []float64
		for _, c := range of {
			if c.SE > 0 && !math.IsInf(c.SE, 0) {
				errors = append(errors, c.SE)
			}
		}
		decimals := 0
		if len(errors) > 0 { // by the median error: hot conditions have large ones
			slices.Sort(errors)
			decimals = words.Decimals(2, errors[len(errors)/2])
		}
		at := &s.Attributes[a]
		counts := at.Kind == study.Grade || at.Kind == study.PassFail
		var rows [][]string
		condition := -1
		for _, c := range of {
			row := []string{"", words.Side(c), "", "", "", "", words.Outcome(c.Outcome), words.ErrorMark(c.Error)}
			if c.Condition != condition {
				row[0], condition = s.Conditions[c.Condition].ID, c.Condition
			}
			switch {
			case c.Outcome == analysis.NotCompared:
				row[6] += ": " + c.Reason
			case counts:
				row[2], row[3], row[4], row[5] = words.Failed(c.Failed), words.Failed(c.AgainstFailed), words.TimeFactor(c), words.P(c.PAdjusted)
			default:
				row[2], row[3], row[4], row[5] = words.Fixed(c.Difference, decimals), words.Fixed(c.Low, decimals), words.Fixed(c.High, decimals), words.P(c.PAdjusted)
			}
			rows = append(rows, row)
		}
		heads, head := [3]string{"differs", "from", "to"}, at.ID
		if counts {
			heads = [3]string{"failed", "against", ""}
			if slices.ContainsFunc(of, func(c *analysis.Comparison) bool { return c.Lifetimes != nil }) {
				heads[2] = "time to it ×"
			}
		} else if _, unit := words.Scales(at, of[0].Model); strings.HasPrefix(unit, "per ") {
			head += ", rates " + unit
		} else if unit != "" {
			head += ", rates in " + unit
		}
		p.Heading(head)
		p.Table([]Column{{"condition", Left}, {"what / against", Left}, {heads[0], Right}, {heads[1], Right}, {heads[2], Right}, {"p", Right}, {"", Left}, {"", Left}}, blanked(rows))
		if t := words.ErrorMarks(of); t != "" {
			p.Paragraph(t)
		}
	}
}

// scale writes the comparison of scales.
func (p *Printer) scale(s *study.Study, x *analysis.Interactions) {
	if len(x.Scale) == 0 {
		return
	}
	p.Heading("Bench, pilot and production at " + s.Conditions[s.StoreAt].ID)
	var rows [][]string
	for _, u := range x.Scale {
		d := words.Decimals(2, u.Margin)
		finding := string(u.Verdict)
		if u.Reason != "" {
			finding = "not compared"
		}
		rows = append(rows, []string{s.Attributes[u.Attribute].ID + " " + u.Of, u.Level, words.Fixed(u.Low, d), words.Fixed(u.High, d), words.Fixed(u.Margin, d),
			finding, words.P(u.PoolabilityP)})
	}
	p.Table([]Column{{"", Left}, {"scale", Left}, {"from", Right}, {"to", Right}, {"margin ±", Right}, {"finding", Left}, {"p pooling", Right}}, rows)
	for _, t := range words.ScaleSummary(s, x) {
		p.Hanging("- ", t)
	}
	p.Paragraph(words.ScaleRead)
}
