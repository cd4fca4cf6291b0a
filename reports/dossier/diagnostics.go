package dossier

import (
	"math"
	"slices"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
	"shelfspan/reports/words"
)

// Diagnostics tabulates what the results of an attribute say of its lines, a row for
// each pack and orientation. What was noted has a sign; what was warned of is bold.
func (in Input) Diagnostics(of []*analysis.Analysis) Grid {
	s := in.Evaluation.Dataset.Study
	g := Grid{
		Named: 1, Ordered: true,
		Columns: slices.Concat(Texts("Pack"), Numbers("Farthest result, p", "Latest results, p", "Lack of fit, p", "Normality, p", "Spread, p", "Bend, p", "Turn, p", "Leverage")),
	}
	marked := false
	for _, a := range of {
		d := a.Diagnostics
		if d == nil {
			continue
		}
		g.Caption = "What the residuals say, " + s.Attributes[a.Attribute].ID + " at " + s.Conditions[a.Condition].ID
		mark := func(code, text string) Field {
			f := Field{Text: text}
			if found, warned := d.Found(code); found {
				f.Text = SignSuspect + "\u00a0" + text
				f.Bold, marked = warned, true
			}
			return f
		}
		row := g.add(in.place(a.Pack, a.Orientation), "–", "–", "–", "–", "–", "–", "–", "–")
		if o := d.Outlier; o != nil {
			row[1] = mark(analysis.CodeOutlier, words.P(o.P))
			row[1].Under = s.Batches[a.Samples[o.Sample].Batch].ID + " " + a.Samples[o.Sample].Planned.String()
		}
		least := math.Inf(1)
		for i := range d.OutOfTrend {
			if o := &d.OutOfTrend[i]; o.P < least {
				least = o.P
				row[2] = mark(analysis.CodeOutOfTrend, words.P(o.P))
				row[2].Under = s.Batches[o.Batch].ID + " " + o.Planned.String()
			}
		}
		if d.LackOfFit != nil {
			row[3] = mark(analysis.CodeLackOfFit, words.P(d.LackOfFit.P))
		}
		if d.Normality != nil {
			row[4] = mark(analysis.CodeNotNormal, words.P(d.Normality.P))
		}
		if d.Spread != nil {
			row[5] = mark(analysis.CodeSpread, words.P(d.Spread.P))
		}
		if d.Course != nil {
			row[6], row[7] = mark(analysis.CodeBends, words.P(d.Course.BendP)), mark(analysis.CodeTurns, words.P(d.Course.TurnP))
		}
		if l := d.Leverage; l != nil {
			row[8] = mark(analysis.CodeLeverage, fixed(l.Leverage, 2))
		}
	}
	g.Notes = []string{words.DiagnosticsRead}
	if marked {
		g.Notes[0] += " " + SignSuspect + words.Marked
	}
	return g
}

// Residuals draws what the fits of an attribute leave over, over time and against
// normal quantiles, one analysis after the other.
func (in Input) Residuals(of []*analysis.Analysis) []Framed {
	d := in.Evaluation.Dataset
	var out []Framed
	for _, a := range of {
		overTime, normal, ok := chart.Residuals(d, a)
		if !ok {
			continue
		}
		place := words.Place(d.Study, a.Attribute, a.Pack, a.Orientation)
		title := "Residuals of " + place + " at " + d.Study.Conditions[a.Condition].ID
		out = append(out, Framed{place + ": residuals over time", title + " over time", overTime},
			Framed{place + ": residuals by quantile", title + " by normal quantile", normal})
	}
	return out
}
