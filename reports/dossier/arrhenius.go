package dossier

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

// Arrhenius gives the fits of an attribute over all temperatures, its packs side by
// side.
func (in Input) Arrhenius(attribute int) []*analysis.Arrhenius {
	return slices.DeleteFunc(slices.Clone(in.Evaluation.Arrhenius), func(r *analysis.Arrhenius) bool { return r.Attribute != attribute })
}

// ArrheniusSaid says what they found, a paragraph each, then what there is to mind.
func (in Input) ArrheniusSaid(of []*analysis.Arrhenius) (said, warned []string) {
	var warnings []finding.Warning
	for _, r := range of {
		t := strings.Join(words.Arrhenius(in.Evaluation, r), " ")
		if pack := words.PackName(in.Evaluation.Dataset.Study, r.Pack, r.Orientation); pack != "" {
			t = "In " + pack + ": " + t
		}
		said, warnings = append(said, t), append(warnings, r.Warnings...)
	}
	for _, w := range finding.Gather(warnings) {
		if w.Code != "not-linear" { // which the sentences tell
			warned = append(warned, "Warning: "+w.String())
		}
	}
	return said, warned
}

// ArrheniusCharts draws those that were fitted.
func (in Input) ArrheniusCharts(of []*analysis.Arrhenius) []Framed {
	d := in.Evaluation.Dataset
	var out []Framed
	for _, r := range of {
		if c, ok := chart.Arrhenius(d, r); ok {
			place := words.Place(d.Study, r.Attribute, r.Pack, r.Orientation)
			out = append(out, Framed{place, "Arrhenius plot of " + place, c})
		}
	}
	return out
}

func fittedOnes(of []*analysis.Arrhenius) []*analysis.Arrhenius {
	return slices.DeleteFunc(slices.Clone(of), func(r *analysis.Arrhenius) bool { return r.Status != analysis.Fitted || len(r.Rates) == 0 })
}

// Rates tabulates the rates by condition, a column for each pack.
func (in Input) Rates(of []*analysis.Arrhenius) Grid {
	if of = fittedOnes(of); len(of) == 0 {
		return Grid{}
	}
	s := in.Evaluation.Dataset.Study
	g := Grid{
		Caption: "Rates of " + s.Attributes[of[0].Attribute].ID + " by condition, each fitted freely, ± standard error",
		Columns: slices.Concat(Texts("Condition"), Numbers("°C")), Named: 2, Ordered: true,
		Notes: []string{words.RatesNote(s, of[0])},
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
		head := words.PackName(s, r.Pack, r.Orientation)
		if head == "" {
			head = "Rate"
		}
		g.Columns = append(g.Columns, Numbers(head)...)
		for _, q := range r.Rates {
			if at[q.Condition] == nil {
				at[q.Condition] = make([]string, len(of))
			}
			at[q.Condition][i] = fixed(q.PerMonth, decimals) + " ± " + fixed(q.SE, decimals)
		}
	}
	for c := range s.Conditions {
		if at[c] == nil {
			continue
		}
		fields := []string{s.Conditions[c].ID, words.Planned(s.Conditions[c].Temperature)}
		for _, rate := range at[c] {
			fields = append(fields, dash(rate))
		}
		g.add(fields...)
	}
	return g
}

// OneEnergy tells the rest of each fit: its check, its error, its size.
func (in Input) OneEnergy(of []*analysis.Arrhenius) Grid {
	if of = fittedOnes(of); len(of) == 0 {
		return Grid{}
	}
	g := Grid{
		Caption: "One activation energy against free rates, " + in.Evaluation.Dataset.Study.Attributes[of[0].Attribute].ID, Named: 1, Ordered: true,
		Columns: slices.Concat(Texts("Pack"), Numbers("Ea, kJ/mol", "F", "Degrees of freedom", "p", "Residual standard deviation", "Its degrees of freedom", "Samples",
			"Q10, 25 to 35 °C", "Humidity: ln k per % RH")),
	}
	humid := false
	for _, r := range of {
		df, humidity := "–", "–"
		if !math.IsNaN(r.LinearityP) {
			df = fmt.Sprintf("%d, %d", r.LinearityDF1, r.LinearityDF2)
		}
		if !math.IsNaN(r.Humidity) {
			humid = true
			decimals := words.Decimals(2, r.HumiditySE)
			humidity = fixed(r.Humidity, decimals) + " ± " + fixed(r.HumiditySE, decimals)
		}
		g.add(in.place(r.Pack, r.Orientation), fixed(r.EaKJ, 1), fixed(r.LinearityF, 2), df, words.P(r.LinearityP),
			fitted(r.ResidualSD, 4), strconv.Itoa(r.DF), strconv.Itoa(r.Samples), fixed(r.Q10, 2), humidity)
	}
	if last := len(g.Columns); !humid {
		g.without(last-1, last)
	}
	return g
}

// Predictions tabulates the predicted lives of all attributes and packs.
func (in Input) Predictions() Grid {
	s := in.Evaluation.Dataset.Study
	g := Grid{
		Caption: "Predicted life", Named: 3,
		Columns: slices.Concat(Texts("Attribute", "Pack"), Numbers("°C", "Estimate, months", "Bound by profile likelihood, months",
			"Bound by the delta method, months", "Shortcut with Q10 = 2, months"), Texts("Batch", "Note")),
		Notes: []string{words.PredictionsNote},
	}
	for _, r := range in.Evaluation.Arrhenius {
		for i := range r.Predictions {
			p := &r.Predictions[i]
			batch := "–"
			if p.Batch >= 0 {
				batch = s.Batches[p.Batch].ID
			}
			g.add(s.Attributes[r.Attribute].ID, in.place(r.Pack, r.Orientation), words.Planned(p.Celsius),
				months(p.Estimate, words.Estimate), months(p.ShelfLife, words.Bound), months(p.Delta, words.Bound), months(p.Q10Life, words.Estimate),
				batch, dash(words.Predicted(r, p)))
		}
	}
	return g
}
