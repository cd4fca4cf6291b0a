package main

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis/simulate"
	"shelfspan/reports/text"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// statement is the file that marks the folder as the demo's and states the truth.
func (d *demonstration) statement() []byte {
	var b bytes.Buffer
	b.WriteString(demoMark + "\n\n")
	p := text.NewPrinter(&b, plainWidth, false)
	p.Paragraph(fmt.Sprintf("The product, its packs, the lab and every result are invented, from seed %d and the truth below. Nothing here is about any real product.", d.c.Uint64("seed")))
	p.Heading("The truth: how each mean moves, at 25 °C in the reference pack")
	p.Paragraph("Zero-order: initial + k·t; first-order: initial · exp(k·t). k goes with temperature by the activation energy, and by the factors of batch and pack.")
	b.WriteString("\n")
	var rows [][]string
	for i := range d.truth {
		x := &d.truth[i]
		rows = append(rows, []string{
			x.Attribute, string(x.Order), numbers(x.Initial), fmt.Sprint(x.Rate), fmt.Sprint(x.Ea), numbers(x.BatchRate), factors(x.PackRate),
		})
	}
	p.Table([]text.Column{
		{Head: "Attribute"}, {Head: "Order"}, {Head: "Initial, by batch"}, {Head: "k per month", Align: text.Right},
		{Head: "Ea, kJ/mol", Align: text.Right}, {Head: "Factor by batch"}, {Head: "Factor by pack"},
	}, rows)
	b.WriteString("\n")
	for i := range d.truth {
		x := &d.truth[i]
		scatter := "of the mean"
		if x.Order == study.ZeroOrder {
			scatter = "in its own unit"
		}
		note := fmt.Sprintf("%s: units vary with a standard deviation of %g, readings with %g, %s.", x.Attribute, x.UnitSD, x.ReadingSD, scatter)
		if x.Drying {
			note = fmt.Sprintf("%s: counted as percent lost; units' rates vary by %g of the rate, the balance by %g g; the rate goes with 100 − %% RH.", x.Attribute, x.UnitSD, x.ReadingSD)
		}
		if x.SoftAt > 0 {
			note += fmt.Sprintf(" Above %g °C it goes %g times as fast as the activation energy says.", x.SoftAt, x.SoftFactor)
		}
		p.Hanging("- ", note)
	}
	p.Heading("The true shelf life at " + words.Storage(d.study) + ", in months")
	p.Paragraph("The time at which the true mean of the batch that gets there first meets its limit.")
	b.WriteString("\n")
	rows = rows[:0]
	for a := range d.study.Attributes {
		for k := range d.study.Packs {
			for o := range d.study.Packs[k].Orientations {
				months, batch := d.life(a, k, o)
				first := "–"
				if batch >= 0 {
					first = d.study.Batches[batch].ID
				}
				rows = append(rows, []string{d.study.Attributes[a].ID, words.PackName(d.study, k, o), words.Estimate(months), first})
			}
		}
	}
	p.Table([]text.Column{{Head: "Attribute"}, {Head: "Pack"}, {Head: "Months", Align: text.Right}, {Head: "Batch"}}, rows)
	return b.Bytes()
}

func numbers(xs []float64) string {
	var out []string
	for _, x := range xs {
		out = append(out, fmt.Sprint(x))
	}
	if len(slices.Compact(slices.Clone(xs))) == 1 {
		out = out[:1]
	}
	return strings.Join(out, ", ")
}

func factors(by map[string]float64) string {
	var out []string
	for pack, f := range by {
		out = append(out, fmt.Sprintf("%s %g", pack, f))
	}
	slices.Sort(out)
	return strings.Join(out, ", ")
}

// life gives the true shelf life at the storage condition, and the batch that
// ends it.
func (d *demonstration) life(attribute, pack, orientation int) (months float64, batch int) {
	a, p := &d.study.Attributes[attribute], &d.study.Packs[pack]
	i := slices.IndexFunc(d.truth, func(x simulate.Path) bool { return x.Attribute == a.ID })
	if i < 0 {
		return math.Inf(1), -1
	}
	store := &d.study.Conditions[d.study.StoreAt]
	upper := a.Upper
	if a.Kind == study.Grade {
		upper += 0.5 // a hidden score is seen rounded to the nearest grade
	}
	return d.truth[i].Life(p.ID, p.Orientations[orientation], simulate.Climate{Celsius: store.Temperature, Humidity: store.Humidity}, a.Lower, upper)
}
