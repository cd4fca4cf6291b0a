package summary

import (
	"math"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/dossier"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
)

// diagnostics tabulates what the results of an attribute say of its lines, a row for
// each pack and orientation.
func (x *writer) diagnostics(of []*analysis.Analysis) {
	t := pdf.Table{
		Wide: true, Fixed: 1,
		Columns: columns(1, "Pack", "Farthest result, p", "Latest results, p", "Lack of fit, p", "Normality, p", "Spread, p", "Bend, p", "Turn, p", "Leverage"),
	}
	marked := false
	for _, a := range of {
		d := a.Diagnostics
		if d == nil {
			continue
		}
		t.Caption = "What the residuals say, " + x.s.Attributes[a.Attribute].ID + " at " + x.s.Conditions[a.Condition].ID
		mark := func(code string, p float64) pdf.Cell {
			c := pdf.Cell{Text: words.P(p)}
			if found, warned := d.Found(code); found {
				c.Text = dossier.SignSuspect + "\u00a0" + c.Text
				c.Bold, marked = warned, true
			}
			return c
		}
		row := pdf.Texts(x.place(a.Pack, a.Orientation), "–", "–", "–", "–", "–", "–", "–", "–")
		if o := d.Outlier; o != nil {
			row.Cells[1] = mark(analysis.CodeOutlier, o.P)
			row.Cells[1].Under = x.s.Batches[a.Samples[o.Sample].Batch].ID + " " + a.Samples[o.Sample].Planned.String()
		}
		least := math.Inf(1)
		for i := range d.OutOfTrend {
			if o := &d.OutOfTrend[i]; o.P < least {
				least = o.P
				row.Cells[2] = mark(analysis.CodeOutOfTrend, o.P)
				row.Cells[2].Under = x.s.Batches[o.Batch].ID + " " + o.Planned.String()
			}
		}
		if d.LackOfFit != nil {
			row.Cells[3] = mark(analysis.CodeLackOfFit, d.LackOfFit.P)
		}
		if d.Normality != nil {
			row.Cells[4] = mark(analysis.CodeNotNormal, d.Normality.P)
		}
		if d.Spread != nil {
			row.Cells[5] = mark(analysis.CodeSpread, d.Spread.P)
		}
		if d.Course != nil {
			row.Cells[6], row.Cells[7] = mark(analysis.CodeBends, d.Course.BendP), mark(analysis.CodeTurns, d.Course.TurnP)
		}
		if l := d.Leverage; l != nil {
			row.Cells[8] = mark(analysis.CodeLeverage, math.NaN())
			row.Cells[8].Text = strings.Replace(row.Cells[8].Text, words.P(math.NaN()), fixed(l.Leverage, 2), 1)
		}
		t.Rows = append(t.Rows, row)
	}
	if len(t.Rows) == 0 {
		return
	}
	t.Notes = []string{"Farthest result: that with the largest studentized deleted residual, by Bonferroni. Latest results: the smallest p of the batches' latest pulls, against their own line and earlier batches. Spread: Koenker's test on time. Leverage: the most of any pull."}
	if marked {
		t.Notes[0] += " " + dossier.SignSuspect + words.Marked
	}
	x.Table(t)
}
