package page

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
	"shelfspan/reports/words"
	"shelfspan/study/finding"
)

// partsOfArrhenius are set below the charts of an attribute's fits over all
// temperatures, which they are given pack by pack; one that has nothing to say
// sets nothing.
var partsOfArrhenius = []func(*writer, []*analysis.Arrhenius){
	(*writer).rates,
	(*writer).arrheniusFits,
}

// arrhenius writes what the temperatures say together: the predictions first,
// then the fits behind them, attribute by attribute.
func (x *writer) arrhenius() {
	if len(x.e.Arrhenius) == 0 {
		return
	}
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

func (x *writer) arrheniusOf(attribute int, of []*analysis.Arrhenius) {
	id := "arrhenius-" + strconv.Itoa(attribute+1)
	x.listed(id, x.s.Attributes[attribute].ID)
	x.heading(3, id, "Arrhenius: "+x.s.Attributes[attribute].ID)
	var warnings []finding.Warning
	var charts []framed
	for _, r := range of {
		t := strings.Join(words.Arrhenius(x.e, r), " ")
		if pack := words.PackName(x.s, r.Pack, r.Orientation); pack != "" {
			t = "In " + pack + ": " + t
		}
		x.paragraph("", t)
		warnings = append(warnings, r.Warnings...)
		if c, ok := chart.Arrhenius(x.d, r); ok {
			place := words.Place(x.s, r.Attribute, r.Pack, r.Orientation)
			charts = append(charts, framed{place, "Arrhenius plot of " + place, c})
		}
	}
	for _, w := range finding.Gather(warnings) {
		if w.Code != "not-linear" { // which the sentences above tell
			x.note("Warning: " + w.String())
		}
	}
	if len(charts) == 1 {
		x.figure("", charts[0].title, charts[0].chart)
	} else {
		x.small(charts)
	}
	fitted := slices.DeleteFunc(slices.Clone(of), func(r *analysis.Arrhenius) bool { return r.Status != analysis.Fitted || len(r.Rates) == 0 })
	if len(fitted) == 0 {
		return
	}
	for _, part := range partsOfArrhenius {
		part(x, fitted)
	}
}

// rates tabulates the rates by condition, a column for each pack.
func (x *writer) rates(of []*analysis.Arrhenius) {
	t := table{
		caption: "Rates of " + x.s.Attributes[of[0].Attribute].ID + " by condition, each fitted freely, ± standard error",
		columns: columns(left("Condition"), right("°C")),
		notes:   []string{words.RatesNote(x.s, of[0])},
		plain:   true,
	}
	var errors []float64
	for _, r := range of {
		for _, q := range r.Rates {
			errors = append(errors, q.SE)
		}
	}
	decimals := words.Decimals(2, errors...)
	at := make(map[int][]string)
	for i, r := range of {
		head := words.PackName(x.s, r.Pack, r.Orientation)
		if head == "" {
			head = "Rate"
		}
		t.columns = append(t.columns, right(head)...)
		for _, q := range r.Rates {
			if at[q.Condition] == nil {
				at[q.Condition] = make([]string, len(of))
			}
			at[q.Condition][i] = minus(words.Fixed(q.PerMonth, decimals)) + " ± " + words.Fixed(q.SE, decimals)
		}
	}
	for c := range x.s.Conditions {
		if at[c] == nil {
			continue
		}
		row := cells(x.s.Conditions[c].ID, words.Planned(x.s.Conditions[c].Temperature))
		for _, rate := range at[c] {
			row = append(row, cell{text: dash(rate)})
		}
		t.rows = append(t.rows, row)
	}
	x.table(t)
}

// arrheniusFits tells the rest of each fit: its check, its error, its size.
func (x *writer) arrheniusFits(of []*analysis.Arrhenius) {
	t := table{
		caption: "One activation energy against free rates, " + x.s.Attributes[of[0].Attribute].ID,
		columns: columns(left("Pack"), right("Ea, kJ/mol", "F", "Degrees of freedom", "p", "Residual standard deviation", "Its degrees of freedom", "Samples",
			"Q10, 25 to 35 °C", "Humidity: ln k per % RH")),
		plain: true,
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
			humidity = minus(words.Fixed(r.Humidity, decimals)) + " ± " + words.Fixed(r.HumiditySE, decimals)
		}
		t.rows = append(t.rows, cells(x.place(r.Pack, r.Orientation), minus(words.Fixed(r.EaKJ, 1)), words.Fixed(r.LinearityF, 2), df, words.P(r.LinearityP),
			minus(words.Number(r.ResidualSD, 4)), strconv.Itoa(r.DF), strconv.Itoa(r.Samples), words.Fixed(r.Q10, 2), humidity))
	}
	if !humid {
		t.without(len(t.columns) - 1)
	}
	x.table(t)
}

// predictions tabulates the predicted lives of all attributes and packs.
func (x *writer) predictions() {
	t := table{
		caption: "Predicted life",
		named:   3,
		columns: columns(left("Attribute", "Pack"), right("°C", "Estimate, months", "Bound by profile likelihood, months",
			"Bound by the delta method, months", "Shortcut with Q10 = 2, months"), left("Batch", "Note")),
		notes: []string{words.PredictionsNote},
	}
	for _, r := range x.e.Arrhenius {
		for i := range r.Predictions {
			p := &r.Predictions[i]
			batch := "–"
			if p.Batch >= 0 {
				batch = x.s.Batches[p.Batch].ID
			}
			t.rows = append(t.rows, cells(x.s.Attributes[r.Attribute].ID, x.place(r.Pack, r.Orientation), words.Planned(p.Celsius),
				months(p.Estimate, words.Estimate), months(p.ShelfLife, words.Bound), months(p.Delta, words.Bound), months(p.Q10Life, words.Estimate),
				batch, dash(words.Predicted(r, p))))
		}
	}
	x.table(t)
}
