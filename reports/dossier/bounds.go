package dossier

import (
	"shelfspan/analysis"
	"shelfspan/reports/words"
	"slices"
)

// Bounds sets the bounds of the analyses of one attribute at one condition side by
// side, with what is to be said of them. What governs is bold.
func (in Input) Bounds(of []*analysis.Analysis) Grid {
	s := in.Evaluation.Dataset.Study
	g := Grid{
		Named: 2, Again: 1, Ordered: true,
		Columns: slices.Concat(Texts("Pack", "Bound of"), Numbers("Coverage", "Confidence", "Degrees of freedom", "Estimate, months", "Bound, months"), Texts("Governs")),
	}
	for _, a := range of {
		for i := range a.Bounds {
			b := &a.Bounds[i]
			g.Caption = "Bounds side by side, " + s.Attributes[a.Attribute].ID + " at " + s.Conditions[a.Condition].ID
			coverage, governs := "–", ""
			if b.Coverage > 0 {
				coverage = words.Percent(b.Coverage)
			}
			if b.Governs {
				governs = "governs"
			}
			row := g.add(in.place(a.Pack, a.Orientation), words.BoundName(b.Kind), coverage, words.Percent(b.Confidence), fixed(b.DF, words.DFDecimals(b.DF)),
				months(b.Estimate, words.Estimate), words.BoundMonths(b), governs)
			if b.Governs {
				bold(row[1:])
			}
		}
	}
	if len(g.Rows) == 0 {
		return g
	}
	g.Notes = words.Bounds(in.Evaluation, of)
	if side := words.PerSide(of); side != "" {
		g.Notes = append(g.Notes, side)
	}
	return g
}
