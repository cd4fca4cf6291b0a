package summary

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg/draw"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study"
)

const (
	chartHeight = 300.0
	shareHeight = 210.0 // of grades
	smallHeight = 150.0

	arrheniusHeight = 250.0
)

// trends writes what became of each attribute: a page with a chart for each
// analysis at the storage condition, smaller charts for the others.
func (x *writer) trends() {
	var storage, others []*analysis.Analysis
	for _, a := range x.e.Analyses {
		if a.Condition == x.s.StoreAt {
			storage = append(storage, a)
		} else {
			others = append(others, a)
		}
	}
	if len(storage) > 0 {
		x.NewPage(false)
		x.Section("Trends at the storage condition")
		for _, a := range storage {
			x.analysis(a)
		}
	}
	if len(others) > 0 {
		x.NewPage(false)
		x.Section("Trends at the other conditions")
		x.otherTrends(others)
	}
}

// analysis writes one analysis with its chart, lines and tests.
func (x *writer) analysis(a *analysis.Analysis) {
	height := chartHeight
	if kind := x.s.Attributes[a.Attribute].Kind; kind == study.Grade || kind == study.PassFail {
		height = shareHeight
	}
	x.Need(height + 90)
	x.Subsection(x.where(a))
	x.Paragraph(words.Analysis(x.e, a))
	if c, ok := chart.Of(x.d, a, x.claim()); ok {
		x.Figure(height, fmt.Sprintf("%s at %s. Criterion: %s.", words.Place(x.s, a.Attribute, a.Pack, a.Orientation),
			words.Condition(&x.s.Conditions[a.Condition]), words.Criterion(&x.s.Attributes[a.Attribute])), c.Draw)
	}
	x.fits(a)
	x.pooling(a)
	x.candidates(a)
	for _, w := range a.Warnings {
		x.Note("Warning: " + w.Text)
	}
}

// rateUnit says per what the slope of a model is.
func rateUnit(model string) string {
	switch study.Model(model) {
	case study.FirstOrder:
		return "Slope of ln y per month"
	case study.SecondOrder:
		return "Slope of 1/y per month"
	case study.SquareRootTime:
		return "Slope per √month"
	}
	return "Slope per month"
}

func interceptOf(model string) string {
	switch study.Model(model) {
	case study.FirstOrder:
		return "Intercept (ln y)"
	case study.SecondOrder:
		return "Intercept (1/y)"
	}
	return "Intercept"
}

// fitted writes a fitted number with a true minus sign.
func fitted(v float64, digits int) string {
	return strings.ReplaceAll(words.Number(v, digits), "-", "−")
}

func (x *writer) fits(a *analysis.Analysis) {
	if len(a.Fits) == 0 {
		return
	}
	t := pdf.Table{
		Caption: "Fitted lines: " + words.Model(a),
		Wide:    true,
		Columns: columns(1, "Batch", "Samples", interceptOf(a.Model), rateUnit(a.Model), "Its standard error",
			"Mean meets limit, months", "Bound meets limit, months", "Limit"),
	}
	t.Columns[7].Align = pdf.Left
	for i := range a.Fits {
		f := &a.Fits[i]
		row := pdf.Texts(x.s.Batches[f.Batch].ID, number(float64(f.N)), fitted(f.Intercept, 6), fitted(f.Slope, 5),
			fitted(f.SlopeSE, 3), words.Estimate(f.Estimate), words.Bound(f.ShelfLife), dash(f.LimitedBy))
		if f.Batch == a.LimitingBatch {
			for j := range row.Cells {
				row.Cells[j].Bold = true
			}
		}
		t.Rows = append(t.Rows, row)
	}
	side := "two-sided"
	if a.OneSided {
		side = "one-sided"
	}
	note := fmt.Sprintf("Bound: %s %s confidence limit of the mean.", side, words.Percent(a.Confidence))
	if !math.IsNaN(a.ResidualSD) {
		note += fmt.Sprintf(" Residual standard deviation %s with %d degrees of freedom.", fitted(a.ResidualSD, 4), a.DF)
	}
	if a.ModelText != "" {
		note += " Model: " + a.ModelText + "."
	}
	if a.LimitingBatch >= 0 && len(a.Fits) > 1 {
		note += " The batch that limits is set bold."
	}
	t.Notes = []string{note}
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

func modelName(model string) string {
	if model == "unit rates" {
		return "mean of the units' own rates through the origin"
	}
	return model
}

func (x *writer) pooling(a *analysis.Analysis) {
	p := a.Pooling
	if p.Decision == "" {
		return
	}
	test := func(name string, f, prob float64) pdf.Row {
		verdict := "not tested"
		switch {
		case math.IsNaN(prob):
		case prob < p.Alpha:
			verdict = "differ"
		default:
			verdict = "not shown to differ"
		}
		df := "–"
		if !math.IsNaN(prob) && p.DF2 > 0 {
			df = fmt.Sprintf("%d, %d", p.DF1, p.DF2)
		}
		return pdf.Texts(name, fitted(f, 4), df, words.P(prob), words.Planned(p.Alpha), verdict)
	}
	t := pdf.Table{
		Caption: "Poolability of batches (ICH Q1E, appendix B): " + words.Pooling(p),
		Wide:    true,
		Columns: columns(1, "Test", "F", "Degrees of freedom", "p", "Level", "Finding"),
		Rows:    []pdf.Row{test("Slopes equal", p.SlopesF, p.SlopesP), test("Intercepts equal", p.InterceptsF, p.InterceptsP)},
	}
	t.Columns[5].Align = pdf.Left
	x.Table(t)
}

func (x *writer) candidates(a *analysis.Analysis) {
	if len(a.Candidates) < 2 {
		return
	}
	t := pdf.Table{Caption: "Models compared", Columns: columns(1, "Model", "AICc", "Note")}
	t.Columns[2].Align = pdf.Left
	for _, c := range a.Candidates {
		row := pdf.Texts(string(c.Model), fitted(c.AICc, 6), dash(c.Note))
		for j := range row.Cells {
			row.Cells[j].Bold = string(c.Model) == a.Model
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []string{"The lowest AICc replaces zero-order only where it is lower by more than 2. The model chosen is set bold."}
	x.Table(t)
}

// otherTrends writes the analyses away from storage: two charts side by side
// and one table for each attribute.
func (x *writer) otherTrends(all []*analysis.Analysis) {
	for i := range x.s.Attributes {
		t := pdf.Table{
			Columns: columns(2, "Condition", "Pack", "Model", "Batches", "Slope", "Mean meets limit, months", "Bound meets limit, months", "Results"),
		}
		t.Columns[2].Align, t.Columns[3].Align, t.Columns[7].Align = pdf.Left, pdf.Left, pdf.Left
		var captions []string
		var charts []func(draw.Canvas)
		var key *chart.Chart
		for _, a := range all {
			if a.Attribute != i {
				continue
			}
			t.Rows = append(t.Rows, x.otherRow(a))
			if allAlike(x.s, a) {
				t.Notes = []string{"No chart where every unit had the same grade."}
			} else if c, ok := chart.Of(x.d, a, math.NaN()); ok {
				captions = append(captions, joinBy(" · ", words.Condition(&x.s.Conditions[a.Condition]), words.PackName(x.s, a.Pack, a.Orientation)))
				charts = append(charts, c.Draw)
				if key == nil || c.KeyEntries() > key.KeyEntries() {
					key = c
				}
			}
		}
		if len(t.Rows) == 0 {
			continue
		}
		x.Need(smallHeight + 110)
		x.Subsection(x.s.Attributes[i].ID)
		if key != nil {
			x.Figure(24, "", key.Key)
		}
		for len(charts) > 0 {
			n := min(2, len(charts))
			pair, text := charts[:n:n], captions[:n:n]
			if n == 1 { // half the width, as the others
				pair, text = append(pair, func(draw.Canvas) {}), append(text, "")
			}
			x.Figures(smallHeight, text, pair...)
			charts, captions = charts[n:], captions[n:]
		}
		x.Table(t)
	}
}

// allAlike reports whether every unit had the same grade.
func allAlike(s *study.Study, a *analysis.Analysis) bool {
	if kind := s.Attributes[a.Attribute].Kind; kind != study.Grade && kind != study.PassFail {
		return false
	}
	for i := range a.Samples {
		if a.Samples[i].Value != a.Samples[0].Value {
			return false
		}
	}
	return true
}

func (x *writer) otherRow(a *analysis.Analysis) pdf.Row {
	slope := "–"
	if len(a.Fits) > 0 {
		var parts []string
		for i := range a.Fits {
			parts = append(parts, fitted(a.Fits[i].Slope, 4))
		}
		if a.Pooling.Decision == "pooled" || a.Pooling.Decision == "common-slope" || len(parts) == 1 {
			slope = parts[0]
		} else {
			slope = strings.Join(parts, " ")
		}
	}
	return pdf.Texts(x.s.Conditions[a.Condition].ID, x.place(a.Pack, a.Orientation), dash(words.Model(a)), dash(a.Pooling.Decision),
		slope, months(a.Estimate, words.Estimate), months(a.ShelfLife, words.Bound), words.Seen(a))
}

// months writes a time in a table, where "none stated" is a dash.
func months(m float64, write func(float64) string) string {
	if math.IsNaN(m) {
		return "–"
	}
	return write(m)
}
