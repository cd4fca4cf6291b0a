package dossier

import (
	"slices"

	"shelfspan/analysis"
	"shelfspan/reports/words"
)

// Compared tabulates the comparisons of packs, orientations and ingredients at the
// storage condition, a grid for each attribute that has any. Harm is bold.
func (in Input) Compared() []Grid {
	i := in.Evaluation.Interactions
	if i == nil {
		return nil
	}
	s := in.Evaluation.Dataset.Study
	var out []Grid
	for a := range s.Attributes {
		var of []*analysis.Comparison
		for _, c := range i.Comparisons {
			if c.Attribute == a && (c.Condition == s.StoreAt || c.ThroughArrhenius) {
				of = append(of, c)
			}
		}
		if len(of) > 0 {
			out = append(out, in.compared(a, of))
		}
	}
	return out
}

func (in Input) compared(attribute int, of []*analysis.Comparison) Grid {
	s := in.Evaluation.Dataset.Study
	at := &s.Attributes[attribute]
	differs := "Rate differs by"
	if _, unit := words.Scales(at, of[0].Model); unit != "" {
		differs = "Differs by, " + unit
	}
	g := Grid{
		Caption: "Compared: " + at.ID + " at " + s.Conditions[of[0].Condition].ID, Named: 2,
		Columns: slices.Concat(Texts("Compared", "With"), Numbers(differs, "From", "To", "p", "Months lost", "At least", "At most"), Texts("Finding")),
	}
	var errors []float64
	for _, c := range of {
		if c.SE > 0 {
			errors = append(errors, c.SE)
		}
	}
	slices.Sort(errors)
	decimals := words.Decimals(2, errors...)
	for _, c := range of {
		least, most := words.LostRange(c)
		row := g.add(c.Level, c.Against, fixed(c.Difference, decimals), fixed(c.Low, decimals), fixed(c.High, decimals), words.P(c.PAdjusted),
			words.Lost(c.Lost), least, most, join(" ", words.Outcome(c.Outcome), words.ErrorMark(c.Error)))
		switch {
		case c.Outcome == analysis.NotCompared:
			row[9].Text = words.Outcome(c.Outcome) + ": " + c.Reason
		case c.Failed[1] > 0:
			row[2].Text, row[3].Text, row[4].Text = words.Failed(c.Failed), words.Failed(c.AgainstFailed), "–"
		}
		if c.Outcome == analysis.Harm {
			bold(row)
		}
	}
	if m := words.ErrorMarks(of); m != "" {
		g.Notes = append(g.Notes, m)
	}
	return g
}
