package summary

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg/draw"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
	"shelfspan/reports/dossier"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study"
)

const (
	chartHeight = 300.0 // where a chart does not share its page
	halfPage    = 342.0
	leastHeight = 140.0 // of charts that do
	mostHeight  = 200.0
	shareHeight = 210.0 // of grades
	smallHeight = 150.0

	residualHeight = 112.0
)

// trends writes what became of each attribute: a chart with its lines for each
// analysis at the storage condition, two on a page, with the tests below the
// last; smaller charts for the others.
func (x *writer) trends() {
	storage := make([][]*analysis.Analysis, len(x.s.Attributes))
	var others []*analysis.Analysis
	count := 0
	for _, a := range x.e.Analyses {
		if a.Condition == x.s.StoreAt {
			storage[a.Attribute] = append(storage[a.Attribute], a)
			count++
		} else {
			others = append(others, a)
		}
	}
	if count > 0 {
		x.NewPage(false)
		x.Section("Trends at the storage condition")
		for _, of := range storage {
			for _, a := range of {
				x.analysis(a, count == 1)
			}
			x.pooling(of)
			x.losses(of)
			x.grid(x.Diagnostics(of))
			x.grid(x.Bounds(of))
			x.candidates(of)
			x.sharing(residualHeight, 30, x.Residuals(of))
			if len(of) > 0 {
				x.lifetimes(of[0].Attribute)
			}
		}
	}
	if len(others) > 0 {
		x.NewPage(false)
		x.Section("Trends at the other conditions")
		x.otherTrends(others)
	}
}

// analysis writes one analysis with its chart and lines.
func (x *writer) analysis(a *analysis.Analysis, alone bool) {
	const text, table, row = 84, 53, 15.5 // heading and sentences; heads and note; batch
	half := halfPage - text - table - row*float64(len(a.Fits))
	height := math.Min(half, mostHeight)
	if alone || half < leastHeight {
		height = chartHeight
	}
	if kind := x.s.Attributes[a.Attribute].Kind; kind == study.Grade || kind == study.PassFail {
		height = shareHeight
	}
	if dossier.AllAlike(x.s, a) {
		height = 0
	}
	x.Need(height + halfPage - half)
	x.Subsection(x.where(a))
	x.Paragraph(words.Trend(x.e, a))
	if dossier.AllAlike(x.s, a) {
		x.Note(words.NoChart)
	} else if c, ok := chart.Of(x.d, a, x.Claim()); ok {
		x.Figure(height, "", c.Draw)
	}
	x.fits(a)
	for _, w := range a.Warnings {
		x.Note("Warning: " + w.Text)
	}
}

// fitted writes a fitted number with a true minus sign.
func fitted(v float64, digits int) string {
	return strings.ReplaceAll(words.Number(v, digits), "-", "−")
}

// fixed writes it to so many decimals, as a column of numbers has them.
func fixed(v float64, decimals int) string {
	return strings.ReplaceAll(words.Fixed(v, decimals), "-", "−")
}

func (x *writer) fits(a *analysis.Analysis) {
	switch {
	case len(a.Fits) == 0:
		return
	case a.Curves != nil:
		x.curves(a)
		return
	}
	intercept, slope := words.Scales(&x.s.Attributes[a.Attribute], a.Model)
	t := pdf.Table{
		Wide: true,
		Columns: columns(1, "Batch", "Samples", joinBy(", ", "Intercept", intercept), joinBy(", ", "Slope", slope), "Its standard error",
			"Mean meets limit, months", "Bound meets limit, months", "Limit"),
	}
	t.Columns[7].Align = pdf.Left
	var errors []float64
	highest := 0.0
	for i := range a.Fits {
		errors = append(errors, a.Fits[i].SlopeSE)
		highest = math.Max(highest, math.Abs(a.Fits[i].Intercept))
	}
	decimals, places := words.Decimals(3, errors...), words.Decimals(6, highest)
	for i := range a.Fits {
		f := &a.Fits[i]
		row := pdf.Texts(x.s.Batches[f.Batch].ID, number(float64(f.N)), fixed(f.Intercept, places), fixed(f.Slope, decimals),
			fixed(f.SlopeSE, decimals), words.Estimate(f.Estimate), words.Bound(f.ShelfLife), dash(f.LimitedBy))
		if f.Batch == a.LimitingBatch {
			for j := range row.Cells {
				row.Cells[j].Bold = true
			}
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []string{words.BoundNote(a)}
	if math.IsNaN(a.Fits[0].Intercept) { // units, each through the origin
		t.Columns[1].Head = "Units"
		t = without(t, 2)
	}
	x.Table(t)
}

// without leaves a column out.
func without(t pdf.Table, column int) pdf.Table {
	t.Columns = slices.Delete(t.Columns, column, column+1)
	for i := range t.Rows {
		t.Rows[i].Cells = slices.Delete(t.Rows[i].Cells, column, column+1)
	}
	return t
}

// pooling writes the tests behind the lines of an attribute.
func (x *writer) pooling(of []*analysis.Analysis) {
	t := pdf.Table{
		Caption: "Poolability of batches (ICH Q1E, appendix B)",
		Wide:    true,
		Fixed:   2,
		Columns: columns(2, "Pack", "Test", "F", "Degrees of freedom", "p", "Level", "Finding", "Lines of the batches"),
	}
	t.Columns[6].Align, t.Columns[7].Align = pdf.Left, pdf.Left
	for _, a := range of {
		p := a.Pooling
		if p.Decision == "" || len(a.Fits) < 2 {
			continue
		}
		t.Caption = "Poolability of batches, " + x.s.Attributes[a.Attribute].ID + " at " + x.s.Conditions[a.Condition].ID + " (ICH Q1E, appendix B)"
		slopes, intercepts, df1 := "slopes equal", "intercepts equal", p.DF1
		if a.Curves != nil {
			slopes, intercepts, df1 = "changes equal", "starts equal", p.ChangesDF
		}
		test := func(pack, name string, f, prob float64, df1 int, decision string) pdf.Row {
			df := "–"
			if !math.IsNaN(prob) && p.DF2 > 0 {
				df = fmt.Sprintf("%d, %d", df1, p.DF2)
			}
			return pdf.Texts(pack, name, fixed(f, 2), df, words.P(prob), words.Planned(p.Alpha), words.TestFound(prob, p.Alpha), decision)
		}
		t.Rows = append(t.Rows, test(x.place(a.Pack, a.Orientation), slopes, p.SlopesF, p.SlopesP, df1, words.Pooling(p)))
		if !math.IsNaN(a.Fits[0].Intercept) { // units go through the origin
			t.Rows = append(t.Rows, test("", intercepts, p.InterceptsF, p.InterceptsP, p.DF1, ""))
		}
	}
	if len(t.Rows) > 0 {
		x.Table(t)
	}
}

// candidates writes the comparison that chose the model of an attribute, which
// is the same for all of its analyses.
func (x *writer) candidates(of []*analysis.Analysis) {
	i := slices.IndexFunc(of, func(a *analysis.Analysis) bool { return len(a.Candidates) > 1 })
	if i < 0 {
		return
	}
	a := of[i]
	t := pdf.Table{Caption: "Models compared for " + x.s.Attributes[a.Attribute].ID, Columns: columns(1, "Model", "AICc", "Note")}
	t.Columns[2].Align = pdf.Left
	for _, c := range a.Candidates {
		row := pdf.Texts(string(c.Model), fixed(c.AICc, 2), dash(c.Note))
		for j := range row.Cells {
			row.Cells[j].Bold = string(c.Model) == a.Model
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []string{words.AICcNote}
	x.Table(t)
}

// otherTrends writes the analyses away from storage: two charts side by side
// and one table for each attribute.
func (x *writer) otherTrends(all []*analysis.Analysis) {
	for i := range x.s.Attributes {
		t := pdf.Table{
			Fixed:   2,
			Columns: columns(2, "Condition", "Pack", "Model", "Batches", "", "Mean meets limit, months", "Bound meets limit, months", "Results"),
		}
		t.Columns[2].Align, t.Columns[3].Align, t.Columns[7].Align = pdf.Left, pdf.Left, pdf.Left
		var errors []float64
		for _, a := range all {
			for k := range a.Fits {
				if a.Attribute == i {
					errors = append(errors, a.Fits[k].SlopeSE)
					_, t.Columns[4].Head = words.Scales(&x.s.Attributes[i], a.Model)
				}
			}
		}
		t.Columns[4].Head = joinBy(", ", "Slopes", t.Columns[4].Head)
		decimals := words.Decimals(2, errors...)
		var captions []string
		var charts []func(draw.Canvas)
		var drawn []*chart.Chart
		for _, a := range all {
			if a.Attribute != i {
				continue
			}
			t.Rows = append(t.Rows, x.otherRow(a, decimals))
			if dossier.AllAlike(x.s, a) {
				t.Notes = []string{"No chart where every unit had the same grade."}
			} else if c, ok := chart.Of(x.d, a, math.NaN()); ok {
				captions = append(captions, joinBy(" · ", words.Condition(&x.s.Conditions[a.Condition]), words.PackName(x.s, a.Pack, a.Orientation)))
				charts = append(charts, c.Draw)
				drawn = append(drawn, c)
			}
		}
		if len(t.Rows) == 0 {
			continue
		}
		x.Need(smallHeight + 110)
		x.Subsection(x.s.Attributes[i].ID)
		if len(drawn) > 0 {
			height, key := chart.Key(drawn, x.Width())
			x.Figure(height, "", key)
		}
		x.pairs(smallHeight, captions, charts)
		x.Table(t)
		x.losses(slices.DeleteFunc(slices.Clone(all), func(a *analysis.Analysis) bool { return a.Attribute != i }))
		if !slices.ContainsFunc(x.e.Analyses, func(a *analysis.Analysis) bool { return a.Attribute == i && a.Condition == x.s.StoreAt }) {
			x.lifetimes(i)
		}
	}
}

func (x *writer) otherRow(a *analysis.Analysis, decimals int) pdf.Row {
	return pdf.Texts(x.s.Conditions[a.Condition].ID, x.place(a.Pack, a.Orientation), dash(words.Model(a)), words.Batches(a),
		words.Slopes(a, decimals), months(a.Estimate, words.Estimate), months(a.ShelfLife, words.Bound), words.Seen(a))
}

// months writes a time in a table, where "none stated" is a dash.
func months(m float64, write func(float64) string) string {
	if math.IsNaN(m) {
		return "–"
	}
	return write(m)
}
