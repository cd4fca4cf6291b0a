package summary

import (
	"fmt"
	"math"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
)

// arrhenius writes what the temperatures say together, for each attribute in
// each pack.
func (x *writer) arrhenius() {
	if len(x.e.Arrhenius) == 0 {
		return
	}
	x.NewPage(false)
	x.Section("Arrhenius: all temperatures at once")
	for i, r := range x.e.Arrhenius {
		if i > 0 && r.Status == analysis.Fitted {
			x.Need(530)
		}
		x.Subsection(words.Place(x.s, r.Attribute, r.Pack, r.Orientation))
		x.Paragraph(strings.Join(words.Arrhenius(x.e, r), " "))
		for _, w := range r.Warnings {
			x.Note("Warning: " + w.Text)
		}
		if c, ok := chart.Arrhenius(x.d, r); ok {
			x.Figure(arrheniusHeight, "ln of the rate against the inverse of the absolute temperature, "+words.Place(x.s, r.Attribute, r.Pack, r.Orientation)+".", c.Draw)
		}
		if r.Status == analysis.Fitted {
			x.predictions(r)
			x.rates(r)
		}
	}
}

func (x *writer) rates(r *analysis.Arrhenius) {
	t := pdf.Table{
		Caption: "Rates by condition, each fitted freely",
		Wide:    true,
		Columns: columns(1, "Condition", "°C", "Rate per month", "Standard error"),
	}
	for _, q := range r.Rates {
		t.Rows = append(t.Rows, pdf.Texts(x.s.Conditions[q.Condition].ID, words.Planned(q.Celsius), fitted(q.PerMonth, 4), fitted(q.SE, 3)))
	}
	t.Notes = []string{"Model: " + modelName(r.Model) + ". The sign says which way the response on its scale goes.", x.fitNote(r)}
	if len(r.LeftOut) > 0 {
		var out []string
		for _, c := range r.LeftOut {
			out = append(out, x.s.Conditions[c].ID)
		}
		t.Notes[0] += " Left out of the fit: " + strings.Join(out, ", ") + "."
	}
	x.Table(t)
}

// fitNote tells the rest of the fit in small type below the rates.
func (x *writer) fitNote(r *analysis.Arrhenius) string {
	linearity := "not tested, which takes three temperatures"
	if !math.IsNaN(r.LinearityP) {
		linearity = fmt.Sprintf("F %s on %d and %d degrees of freedom, %s", fitted(r.LinearityF, 4), r.LinearityDF1, r.LinearityDF2, words.Probability(r.LinearityP))
	}
	t := fmt.Sprintf("One activation energy against free rates: %s. Residual standard deviation %s with %d degrees of freedom, %d samples.",
		linearity, fitted(r.ResidualSD, 4), r.DF, r.Samples)
	if !math.IsNaN(r.Q10) {
		t += fmt.Sprintf(" Q10 from 25 to 35 °C by this fit: %s.", fitted(r.Q10, 3))
	}
	if !math.IsNaN(r.Humidity) {
		t += fmt.Sprintf(" Effect of humidity on ln k: %s per %% RH (standard error %s).", fitted(r.Humidity, 4), fitted(r.HumiditySE, 3))
	}
	return t
}

func (x *writer) predictions(r *analysis.Arrhenius) {
	if len(r.Predictions) == 0 {
		return
	}
	t := pdf.Table{
		Caption: "Predicted life",
		Wide:    true,
		Columns: columns(1, "°C", "Estimate, months", "Bound by profile likelihood, months", "Bound by the delta method, months", "Shortcut with Q10 = 2, months", "Batch", "Note"),
	}
	t.Columns[5].Align, t.Columns[6].Align = pdf.Left, pdf.Left
	for _, p := range r.Predictions {
		batch := "–"
		if p.Batch >= 0 {
			batch = x.s.Batches[p.Batch].ID
		}
		note := ""
		if p.Storage {
			note = "storage"
		}
		if p.Extrapolated {
			note = joinBy(", ", note, "extrapolated")
		}
		t.Rows = append(t.Rows, pdf.Texts(words.Planned(p.Celsius), months(p.Estimate, words.Estimate), months(p.ShelfLife, words.Bound),
			months(p.Delta, words.Bound), months(p.Q10Life, words.Estimate), batch, dash(note)))
	}
	t.Notes = []string{"The profile bound governs; the delta method's stands beside it for comparison. The Q10 shortcut (ASTM F1980) is shown as the convention and is never the answer."}
	x.Table(t)
}
