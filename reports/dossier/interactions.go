package dossier

import (
	"slices"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
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
		for condition := range s.Conditions {
			var of []*analysis.Comparison
			for _, c := range i.Comparisons {
				if c.Attribute == a && c.Condition == condition && (condition == s.StoreAt || c.ThroughArrhenius) {
					of = append(of, c)
				}
			}
			switch {
			case len(of) == 0:
			case s.Attributes[a].Kind == study.Grade || s.Attributes[a].Kind == study.PassFail:
				out = append(out, in.unitsCompared(a, of))
			default:
				out = append(out, in.compared(a, of))
			}
		}
	}
	return out
}

// unitsCompared tabulates those of grades and pass/fail, by the units that failed.
func (in Input) unitsCompared(attribute int, of []*analysis.Comparison) Grid {
	s := in.Evaluation.Dataset.Study
	g := Grid{
		Caption: "Compared: " + s.Attributes[attribute].ID + " at " + s.Conditions[of[0].Condition].ID, Named: 2,
		Columns: slices.Concat(Texts("Compared", "With"), Numbers("Failed", "Against", "By, months", "Time to a failure, times as long", "p"), Texts("Finding")),
	}
	for _, c := range of {
		row := g.add(c.Level, c.Against, words.Failed(c.Failed), words.Failed(c.AgainstFailed), months(c.LastMonths, words.Planned),
			dash(words.TimeFactor(c)), words.P(c.PAdjusted), join(" ", words.Outcome(c.Outcome), words.ErrorMark(c.Error)))
		if c.Outcome == analysis.NotCompared {
			row[7].Text = words.Outcome(c.Outcome) + ": " + c.Reason
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
		if c.Outcome == analysis.NotCompared {
			row[9].Text = words.Outcome(c.Outcome) + ": " + c.Reason
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
