package dossier

import (
	"math"
	"slices"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/words"
)

// Verdicts tabulates shelf lives; the shortest, which governs, is bold.
func (in Input) Verdicts(caption string, all []analysis.Verdict) Grid {
	g := Grid{
		Caption: caption, Named: 2,
		Columns: slices.Concat(Texts(words.HeadsVerdicts[:2]...), Numbers(words.HeadsVerdicts[2:6]...), Texts(words.HeadsVerdicts[6:]...)),
	}
	shortest := math.MaxInt
	for i := range all {
		shortest = min(shortest, all[i].Months)
	}
	for i := range all {
		v := &all[i]
		allows := "no cap"
		if !math.IsInf(v.Cap, 1) {
			allows = months(v.Cap, words.Planned)
		}
		row := g.add(in.place(v.Pack, v.Orientation), in.Evaluation.Dataset.Study.Attributes[v.Attribute].ID, words.Planned(float64(v.Months)),
			months(v.Regression, words.Bound), months(v.Observed, words.Planned), allows, v.LimitedBy, strings.ReplaceAll(dash(v.Rule), " ", "\u00a0"))
		if v.Months == shortest {
			bold(row[:3])
		}
	}
	return g
}
