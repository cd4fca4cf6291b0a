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
	"shelfspan/study/finding"
)

// arrhenius writes what the temperatures say together: the predictions first,
// then the fits behind them, attribute by attribute.
func (x *writer) arrhenius() {
	if len(x.e.Arrhenius) == 0 {
		return
	}
	x.Need(300)
	x.Section(words.SectionArrhenius.Title())
	x.predictions()
	for i := range x.s.Attributes {
		var of []*analysis.Arrhenius
		for _, r := range x.e.Arrhenius {
			if r.Attribute == i {
				of = append(of, r)
			}
		}
		if len(of) > 0 {
			x.arrheniusOf(i, of)
		}
	}
}

// arrheniusOf writes the fits of one attribute, its packs side by side.
func (x *writer) arrheniusOf(attribute int, of []*analysis.Arrhenius) {
	const height, room = 150, 260
	x.Need(room)
	x.Subsection("Arrhenius: " + x.s.Attributes[attribute].ID)
	var warnings []finding.Warning
	var charts []func(draw.Canvas)
	var captions []string
	var drawn []*chart.Chart
	for _, r := range of {
		t := strings.Join(words.Arrhenius(x.e, r), " ")
		if pack := words.PackName(x.s, r.Pack, r.Orientation); pack != "" {
			t = "In " + pack + ": " + t
		}
		x.Paragraph(t)
		warnings = append(warnings, r.Warnings...)
		if c, ok := chart.Arrhenius(x.d, r); ok {
			charts, captions = append(charts, c.Draw), append(captions, words.Place(x.s, r.Attribute, r.Pack, r.Orientation))
			drawn = append(drawn, c)
		}
	}
	for _, w := range finding.Gather(warnings) {
		if w.Code != "not-linear" { // which the sentences above tell
			x.Note("Warning: " + w.String())
		}
	}
	if len(charts) == 1 {
		x.Figure(height, "", charts[0])
	} else if len(charts) > 1 {
		high, key := chart.Key(drawn, x.Width())
		x.Need(high + height + 50) // with the caption below the first pair
		x.Figure(high, "", key)
		x.pairs(height, captions, charts)
	}
	x.rates(of)
	x.arrheniusFits(of)
}

// pairs sets charts two by two; one that is left over keeps half the width.
func (x *writer) pairs(height float64, captions []string, charts []func(draw.Canvas)) {
	if len(charts)%2 == 1 {
		charts, captions = append(slices.Clip(charts), func(draw.Canvas) {}), append(slices.Clip(captions), "")
	}
	for i := 0; i < len(charts); i += 2 {
		x.Figures(height, captions[i:i+2], charts[i:i+2]...)
	}
}

// rates tabulates the rates by condition, a column for each pack.
func (x *writer) rates(of []*analysis.Arrhenius) {
	of = fittedOnes(of)
	if len(of) == 0 {
		return
	}
	t := pdf.Table{
		Caption: "Rates of " + x.s.Attributes[of[0].Attribute].ID + " by condition, each fitted freely, ± standard error",
		Wide:    len(of) > 2,
		Columns: columns(1, "Condition", "°C"),
		Fixed:   2,
	}
	var errors []float64
	at := make(map[int][]string)
	for _, r := range of {
		for _, q := range r.Rates {
			errors = append(errors, q.SE)
		}
	}
	decimals := words.Decimals(2, errors...)
	for i, r := range of {
		t.Columns = append(t.Columns, pdf.Column{Head: x.place(r.Pack, r.Orientation), Align: pdf.Right})
		if t.Columns[i+2].Head == "–" {
			t.Columns[i+2].Head = "Rate"
		}
		for _, q := range r.Rates {
			if at[q.Condition] == nil {
				at[q.Condition] = make([]string, len(of))
			}
			at[q.Condition][i] = fixed(q.PerMonth, decimals) + " ± " + fixed(q.SE, decimals)
		}
	}
	for c := range x.s.Conditions {
		if at[c] == nil {
			continue
		}
		row := []string{x.s.Conditions[c].ID, words.Planned(x.s.Conditions[c].Temperature)}
		for _, cell := range at[c] {
			row = append(row, dash(cell))
		}
		t.Rows = append(t.Rows, pdf.Texts(row...))
	}
	t.Notes = []string{words.RatesNote(x.s, of[0])}
	x.Table(t)
}

func fittedOnes(of []*analysis.Arrhenius) []*analysis.Arrhenius {
	return slices.DeleteFunc(slices.Clone(of), func(r *analysis.Arrhenius) bool { return r.Status != analysis.Fitted || len(r.Rates) == 0 })
}

// arrheniusFits tells the rest of each fit: its check, its error, its size.
func (x *writer) arrheniusFits(of []*analysis.Arrhenius) {
	of = fittedOnes(of)
	if len(of) == 0 {
		return
	}
	t := pdf.Table{
		Caption: "One activation energy against free rates, " + x.s.Attributes[of[0].Attribute].ID,
		Wide:    true,
		Columns: columns(1, "Pack", "Ea, kJ/mol", "F", "Degrees of freedom", "p", "Residual standard deviation", "Its degrees of freedom", "Samples", "Q10, 25 to 35 °C", "Humidity: ln k per % RH"),
	}
	humid := false
	for _, r := range of {
		df := "–"
		if !math.IsNaN(r.LinearityP) {
			df = fmt.Sprintf("%d, %d", r.LinearityDF1, r.LinearityDF2)
		}
		humidity := "–"
		if !math.IsNaN(r.Humidity) {
			humid = true
			decimals := words.Decimals(2, r.HumiditySE)
			humidity = fixed(r.Humidity, decimals) + " ± " + fixed(r.HumiditySE, decimals)
		}
		t.Rows = append(t.Rows, pdf.Texts(x.place(r.Pack, r.Orientation), fixed(r.EaKJ, 1), fixed(r.LinearityF, 2), df, words.P(r.LinearityP),
			fitted(r.ResidualSD, 4), fmt.Sprint(r.DF), fmt.Sprint(r.Samples), fixed(r.Q10, 2), humidity))
	}
	if !humid {
		t = without(t, len(t.Columns)-1)
	}
	x.Table(t)
}

// predictions tabulates the predicted lives of all attributes and packs.
func (x *writer) predictions() {
	t := pdf.Table{
		Caption: "Predicted life",
		Wide:    true,
		Fixed:   3,
		Columns: columns(2, "Attribute", "Pack", "°C", "Estimate, months", "Bound by profile likelihood, months", "Bound by the delta method, months", "Shortcut with Q10 = 2, months", "Batch", "Note"),
	}
	t.Columns[7].Align, t.Columns[8].Align = pdf.Left, pdf.Left
	for _, r := range x.e.Arrhenius {
		for _, p := range r.Predictions {
			batch := "–"
			if p.Batch >= 0 {
				batch = x.s.Batches[p.Batch].ID
			}
			t.Rows = append(t.Rows, pdf.Texts(x.s.Attributes[r.Attribute].ID, x.place(r.Pack, r.Orientation), words.Planned(p.Celsius),
				months(p.Estimate, words.Estimate), months(p.ShelfLife, words.Bound),
				months(p.Delta, words.Bound), months(p.Q10Life, words.Estimate), batch, dash(words.Predicted(r, &p))))
		}
	}
	if len(t.Rows) == 0 {
		return
	}
	t.Notes = []string{words.PredictionsNote}
	x.Table(t)
}
