package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
	"shelfspan/reports/dossier"
	"shelfspan/reports/words"
)

// partsOfAnalysis are set below the chart of each analysis at the storage
// condition, in this order; one that has nothing to say sets nothing.
var partsOfAnalysis = []func(*writer, *analysis.Analysis){
	(*writer).fits,
	(*writer).curves,
	(*writer).warned,
}

// partsOfAttribute are set below all analyses of an attribute at the storage
// condition.
var partsOfAttribute = []func(*writer, []*analysis.Analysis){
	(*writer).pooling,
	(*writer).candidates,
}

// trends writes what became of each attribute: at the storage condition a chart
// with its lines and tests, pack by pack; small charts for the other conditions.
func (x *writer) trends() {
	for i := range x.s.Attributes {
		var storage, others []*analysis.Analysis
		for _, a := range x.e.Analyses {
			switch {
			case a.Attribute != i:
			case a.Condition == x.s.StoreAt:
				storage = append(storage, a)
			default:
				others = append(others, a)
			}
		}
		if len(storage)+len(others) == 0 {
			continue
		}
		id := "trend-" + strconv.Itoa(i+1)
		x.listed(id, x.s.Attributes[i].ID)
		x.heading(3, id, x.named(i))
		for _, a := range storage {
			x.analysis(a)
		}
		for _, part := range partsOfAttribute {
			part(x, storage)
		}
		x.others(i, others)
	}
}

// analysis writes one analysis with its chart and lines.
func (x *writer) analysis(a *analysis.Analysis) {
	x.heading(4, "", x.where(a))
	x.paragraph("", words.Trend(x.e, a))
	if dossier.AllAlike(x.s, a) {
		x.note(words.NoChart)
	} else if c, ok := chart.Of(x.d, a, x.Claim()); ok {
		x.figure("", x.where(a), c)
	}
	for _, part := range partsOfAnalysis {
		part(x, a)
	}
}

// fits tabulates the lines of an analysis, batch by batch.
func (x *writer) fits(a *analysis.Analysis) {
	if len(a.Fits) == 0 || a.Curves != nil {
		return
	}
	intercept, slope := words.Scales(&x.s.Attributes[a.Attribute], a.Model)
	units := math.IsNaN(a.Fits[0].Intercept) // each through the origin
	t := table{
		caption: "Lines of " + x.where(a),
		columns: columns(left("Batch"), right("Samples", join(", ", "Intercept", intercept), join(", ", "Slope", slope),
			"Its standard error", "Mean meets limit, months", "Bound meets limit, months"), left("Limit")),
		notes: []string{words.BoundNote(a)},
		plain: true,
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
		row := cells(x.s.Batches[f.Batch].ID, strconv.Itoa(f.N), minus(words.Fixed(f.Intercept, places)), minus(words.Fixed(f.Slope, decimals)),
			words.Fixed(f.SlopeSE, decimals), words.Estimate(f.Estimate), words.Bound(f.ShelfLife), dash(f.LimitedBy))
		if f.Batch == a.LimitingBatch {
			bold(row)
		}
		t.rows = append(t.rows, row)
	}
	if units {
		t.columns[1].head = "Units"
		t.without(2)
	}
	x.table(t)
}

// without leaves a column out.
func (t *table) without(c int) {
	t.columns = slices.Delete(t.columns, c, c+1)
	for i := range t.rows {
		t.rows[i] = slices.Delete(t.rows[i], c, c+1)
	}
}

// curves tabulates what the curves of an analysis are made of, and their lives.
func (x *writer) curves(a *analysis.Analysis) {
	if a.Curves == nil {
		return
	}
	heads := words.CurveHeads(&x.s.Attributes[a.Attribute], a.Model)
	for i, h := range heads {
		heads[i] = strings.ToUpper(h[:1]) + h[1:]
	}
	t := table{
		caption: "Curves of " + x.where(a),
		columns: columns(left("Batch"), right("Samples"), right(heads...), right("Mean meets limit, months", "Bound meets limit, months"), left("Limit")),
		notes:   []string{"The curve: " + words.CurveFormula(a.Model) + ". " + words.BoundNote(a)},
		plain:   true,
	}
	for i, c := range a.Curves {
		f := &a.Fits[i]
		row := cells(x.s.Batches[c.Batch].ID, strconv.Itoa(f.N))
		for _, v := range words.CurveCells(c, a.Model) {
			row = append(row, cell{text: minus(v)})
		}
		row = append(row, cells(words.Estimate(f.Estimate), words.Bound(f.ShelfLife), dash(f.LimitedBy))...)
		if f.Batch == a.LimitingBatch {
			bold(row)
		}
		t.rows = append(t.rows, row)
	}
	x.table(t)
}

func (x *writer) warned(a *analysis.Analysis) {
	for _, w := range a.Warnings {
		x.note("Warning: " + w.Text)
	}
}

// pooling writes the tests behind the lines of an attribute.
func (x *writer) pooling(of []*analysis.Analysis) {
	t := table{
		named:   2,
		columns: columns(left("Pack", "Test"), right("F", "Degrees of freedom", "p", "Level"), left("Finding", "Lines of the batches")),
		plain:   true,
	}
	for _, a := range of {
		p := a.Pooling
		if p.Decision == "" || len(a.Fits) < 2 {
			continue
		}
		t.caption = "Poolability of batches, " + x.s.Attributes[a.Attribute].ID + " at " + x.s.Conditions[a.Condition].ID + " (ICH Q1E, appendix B)"
		slopes, intercepts, df := "slopes equal", "intercepts equal", p.DF1
		if a.Curves != nil {
			slopes, intercepts, df = "changes equal", "starts equal", p.ChangesDF
		}
		test := func(name string, f, prob float64, df int, decision string) []cell {
			freedom := "–"
			if !math.IsNaN(prob) && p.DF2 > 0 {
				freedom = fmt.Sprintf("%d, %d", df, p.DF2)
			}
			return cells(x.place(a.Pack, a.Orientation), name, words.Fixed(f, 2), freedom, words.P(prob), words.Planned(p.Alpha), words.TestFound(prob, p.Alpha), decision)
		}
		t.rows = append(t.rows, test(slopes, p.SlopesF, p.SlopesP, df, words.Pooling(p)))
		if !math.IsNaN(a.Fits[0].Intercept) { // units go through the origin
			t.rows = append(t.rows, test(intercepts, p.InterceptsF, p.InterceptsP, p.DF1, ""))
		}
	}
	x.table(t)
}

// candidates writes the comparison that chose the model of an attribute, which
// is the same for all of its analyses.
func (x *writer) candidates(of []*analysis.Analysis) {
	i := slices.IndexFunc(of, func(a *analysis.Analysis) bool { return len(a.Candidates) > 1 })
	if i < 0 {
		return
	}
	a := of[i]
	t := table{
		caption: "Models compared for " + x.s.Attributes[a.Attribute].ID,
		columns: columns(left("Model"), right("AICc"), left("Note")),
		notes:   []string{words.AICcNote},
		plain:   true,
	}
	for _, c := range a.Candidates {
		row := cells(string(c.Model), minus(words.Fixed(c.AICc, 2)), dash(c.Note))
		if string(c.Model) == a.Model {
			bold(row)
		}
		t.rows = append(t.rows, row)
	}
	x.table(t)
}

// others writes the analyses of an attribute away from storage: small charts and
// one table.
func (x *writer) others(attribute int, all []*analysis.Analysis) {
	if len(all) == 0 {
		return
	}
	at := &x.s.Attributes[attribute]
	x.heading(4, "", at.ID+" at the other conditions")
	slope := ""
	var errors []float64
	for _, a := range all {
		for k := range a.Fits {
			errors = append(errors, a.Fits[k].SlopeSE)
			_, slope = words.Scales(at, a.Model)
		}
	}
	decimals := words.Decimals(2, errors...)
	t := table{
		caption: at.ID + " at the other conditions",
		named:   2,
		columns: columns(left("Condition", "Pack", "Model", "Batches"), right(join(", ", "Slopes", slope), "Mean meets limit, months", "Bound meets limit, months"), left("Results")),
	}
	var charts []framed
	for _, a := range all {
		t.rows = append(t.rows, cells(x.s.Conditions[a.Condition].ID, x.place(a.Pack, a.Orientation), dash(words.Model(a)), words.Batches(a),
			words.Slopes(a, decimals), months(a.Estimate, words.Estimate), months(a.ShelfLife, words.Bound), words.Seen(a)))
		if dossier.AllAlike(x.s, a) {
			t.notes = []string{"No chart where every unit had the same grade."}
		} else if c, ok := chart.Of(x.d, a, math.NaN()); ok {
			caption := join(" · ", words.Condition(&x.s.Conditions[a.Condition]), words.PackName(x.s, a.Pack, a.Orientation))
			charts = append(charts, framed{caption, x.where(a), c})
		}
	}
	x.small(charts)
	x.table(t)
}

// months writes a time in a table, where "none stated" is a dash.
func months(m float64, write func(float64) string) string {
	if math.IsNaN(m) {
		return "–"
	}
	return write(m)
}

// named is the attribute with its unit of measurement.
func (x *writer) named(attribute int) string {
	a := &x.s.Attributes[attribute]
	if u := words.MeasuredIn(a); u != "" {
		return a.ID + " (" + u + ")"
	}
	return cmp.Or(a.ID, "–")
}
