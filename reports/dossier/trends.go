package dossier

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// Where names an analysis: "viscosity in tube at 25C60".
func (in Input) Where(a *analysis.Analysis) string {
	s := in.Evaluation.Dataset.Study
	return words.Place(s, a.Attribute, a.Pack, a.Orientation) + " at " + s.Conditions[a.Condition].ID
}

// Fits tabulates the lines or curves of an analysis, batch by batch. The batch that
// limits is bold.
func (in Input) Fits(a *analysis.Analysis) Grid {
	switch {
	case len(a.Fits) == 0:
		return Grid{}
	case a.Curves != nil:
		return in.curves(a)
	}
	s := in.Evaluation.Dataset.Study
	intercept, slope := words.Scales(&s.Attributes[a.Attribute], a.Model)
	g := Grid{
		Caption: "Lines of " + in.Where(a), Named: 1, Ordered: true,
		Columns: slices.Concat(Texts("Batch"), Numbers("Samples", join(", ", "Intercept", intercept), join(", ", "Slope", slope),
			"Its standard error", "Mean meets limit, months", "Bound meets limit, months"), Texts("Limit")),
		Notes: []string{words.BoundNote(a)},
	}
	var errors []float64
	highest := 0.0
	for i := range a.Fits {
		errors = append(errors, a.Fits[i].SlopeSE)
		highest = math.Max(highest, math.Abs(a.Fits[i].Intercept))
	}
	decimals, places := words.Decimals(3, errors...), words.Decimals(6, highest)
	for i := range a.Fits {
		f := &a.Fits[i]
		row := g.add(s.Batches[f.Batch].ID, strconv.Itoa(f.N), fixed(f.Intercept, places), fixed(f.Slope, decimals),
			fixed(f.SlopeSE, decimals), words.Estimate(f.Estimate), words.Bound(f.ShelfLife), dash(f.LimitedBy))
		if f.Batch == a.LimitingBatch {
			bold(row)
		}
	}
	if math.IsNaN(a.Fits[0].Intercept) { // units, each through the origin
		g.Columns[1].Head = "Units"
		g.without(2, 3)
	}
	return g
}

// curves tabulates what the curves of an analysis are made of, and their lives.
func (in Input) curves(a *analysis.Analysis) Grid {
	s := in.Evaluation.Dataset.Study
	heads := words.CurveHeads(&s.Attributes[a.Attribute], a.Model)
	for i, h := range heads {
		heads[i] = capital(h)
	}
	g := Grid{
		Caption: "Curves of " + in.Where(a), Named: 1, Ordered: true,
		Columns: slices.Concat(Texts("Batch"), Numbers("Samples"), Numbers(heads...), Numbers("Mean meets limit, months", "Bound meets limit, months"), Texts("Limit")),
		Notes:   []string{"The curve: " + words.CurveFormula(a.Model) + ". " + words.BoundNote(a)},
	}
	for i, c := range a.Curves {
		f := &a.Fits[i]
		fields := []string{s.Batches[c.Batch].ID, strconv.Itoa(f.N)}
		for _, v := range words.CurveCells(c, a.Model) {
			fields = append(fields, minus(v))
		}
		row := g.add(append(fields, words.Estimate(f.Estimate), words.Bound(f.ShelfLife), dash(f.LimitedBy))...)
		if f.Batch == a.LimitingBatch {
			bold(row)
		}
	}
	return g
}

// Pooling tabulates the tests behind the lines of an attribute.
func (in Input) Pooling(of []*analysis.Analysis) Grid {
	s := in.Evaluation.Dataset.Study
	g := Grid{
		Named: 2, Again: 1, Ordered: true,
		Columns: slices.Concat(Texts("Pack", "Test"), Numbers("F", "Degrees of freedom", "p", "Level"), Texts("Finding", "Lines of the batches")),
	}
	for _, a := range of {
		p := a.Pooling
		if p.Decision == "" || len(a.Fits) < 2 {
			continue
		}
		g.Caption = "Poolability of batches, " + s.Attributes[a.Attribute].ID + " at " + s.Conditions[a.Condition].ID + " (ICH Q1E, appendix B)"
		slopes, intercepts, df := "slopes equal", "intercepts equal", p.DF1
		if a.Curves != nil {
			slopes, intercepts, df = "changes equal", "starts equal", p.ChangesDF
		}
		test := func(name string, f, prob float64, df int, decision string) {
			freedom := "–"
			if !math.IsNaN(prob) && p.DF2 > 0 {
				freedom = fmt.Sprintf("%d, %d", df, p.DF2)
			}
			g.add(in.place(a.Pack, a.Orientation), name, fixed(f, 2), freedom, words.P(prob), words.Planned(p.Alpha), words.TestFound(prob, p.Alpha), decision)
		}
		test(slopes, p.SlopesF, p.SlopesP, df, words.Pooling(p))
		if !math.IsNaN(a.Fits[0].Intercept) { // units go through the origin
			test(intercepts, p.InterceptsF, p.InterceptsP, p.DF1, "")
		}
	}
	return g
}

// Candidates tabulates the comparison that chose the model of an attribute, which is
// the same for all of its analyses.
func (in Input) Candidates(of []*analysis.Analysis) Grid {
	i := slices.IndexFunc(of, func(a *analysis.Analysis) bool { return len(a.Candidates) > 1 })
	if i < 0 {
		return Grid{}
	}
	a := of[i]
	g := Grid{
		Caption: "Models compared for " + in.Evaluation.Dataset.Study.Attributes[a.Attribute].ID, Named: 1, Ordered: true,
		Columns: slices.Concat(Texts("Model"), Numbers("AICc"), Texts("Note")),
		Notes:   []string{words.AICcNote},
	}
	for _, c := range a.Candidates {
		row := g.add(string(c.Model), fixed(c.AICc, 2), dash(c.Note))
		if string(c.Model) == a.Model {
			bold(row)
		}
	}
	return g
}

// Others tabulates the analyses of an attribute away from the storage condition, and
// draws them.
func (in Input) Others(attribute int, of []*analysis.Analysis) (Grid, []Framed) {
	d := in.Evaluation.Dataset
	at := &d.Study.Attributes[attribute]
	slope := ""
	var errors []float64
	for _, a := range of {
		for k := range a.Fits {
			errors = append(errors, a.Fits[k].SlopeSE)
			_, slope = words.Scales(at, a.Model)
		}
	}
	decimals := words.Decimals(2, errors...)
	g := Grid{
		Caption: at.ID + ", condition by condition", Named: 2,
		Columns: slices.Concat(Texts("Condition", "Pack", "Model", "Batches"), Numbers(join(", ", "Slopes", slope), "Mean meets limit, months", "Bound meets limit, months"), Texts("Results")),
	}
	var charts []Framed
	for _, a := range of {
		g.add(d.Study.Conditions[a.Condition].ID, in.place(a.Pack, a.Orientation), dash(words.Model(a)), words.Batches(a),
			words.Slopes(a, decimals), months(a.Estimate, words.Estimate), months(a.ShelfLife, words.Bound), words.Seen(a))
		if AllAlike(d.Study, a) {
			g.Notes = []string{words.NoCharts}
		} else if c, ok := chart.Of(d, a, math.NaN()); ok {
			charts = append(charts, Framed{join(" · ", words.Condition(&d.Study.Conditions[a.Condition]), words.PackName(d.Study, a.Pack, a.Orientation)), in.Where(a), c})
		}
	}
	if at.Kind == study.Grade || at.Kind == study.PassFail { // no line, no bound
		g.without(2, 7)
	}
	return g, charts
}
