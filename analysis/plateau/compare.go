package plateau

import (
	"math"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
)

// NowhereBent is why a model may be left out of a comparison, beside the notes of
// kinetics.
const NowhereBent = "in no batch does the change bend as the model would have it"

// Compare is the model's part in the choice of kinetics.Choose, on the same
// groups of batches: the AICc of separate curves, k = 3b + 1 parameters a group,
// summed over the groups. A group that tells something of straight lines but has
// too few results for curves (three a batch and two more, and four different
// times in each) leaves the model out, as sums over different groups cannot be
// compared. A batch whose curve stands at an edge counts with the sum of squares
// that it has there; where all do, the model is left out.
func Compare(groups [][][]kinetics.Point, baseline float64, model Model) kinetics.Candidate {
	c := kinetics.Candidate{Model: kinetics.Model(model)}
	told, bent := false, false
	for _, g := range groups {
		var batches []pooling.Batch
		n, lines, curves := 0, true, true
		for _, points := range g {
			if len(points) == 0 {
				continue
			}
			b := pooling.Batch{}
			for _, p := range points {
				if !(p.Months >= baseline) {
					return left(c, kinetics.BeforeBaseline)
				}
				b.X, b.Y = append(b.X, p.Months-baseline), append(b.Y, p.Value)
			}
			times := kinetics.DistinctTimes(points)
			lines, curves = lines && times >= 3, curves && times >= 4
			batches = append(batches, b)
			n += len(points)
		}
		b := len(batches)
		if !lines || n-(2*b+1)-1 <= 0 {
			continue
		}
		if !curves || n-(3*b+1)-1 <= 0 {
			return left(c, kinetics.TooFewToTell)
		}
		f, err := FitCurves(batches, model, pooling.Separate)
		if err != nil {
			return left(c, err.Error())
		}
		for _, curve := range f.Curves {
			bent = bent || curve.Status == Converged
		}
		told = true
		c.AICc += kinetics.AICc(n, 3*b+1, f.RSS, 0)
	}
	switch {
	case !told:
		return left(c, kinetics.TooFewToTell)
	case !bent:
		return left(c, NowhereBent)
	}
	return c
}

func left(c kinetics.Candidate, note string) kinetics.Candidate {
	c.AICc, c.Note = math.NaN(), note
	return c
}
