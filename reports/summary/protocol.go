package summary

import (
	"strings"

	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
)

// protocol writes what was to be done: conditions, batches, packs, attributes.
func (x *writer) protocol() {
	x.Section(words.SectionProtocol.Title())
	x.conditions()
	x.batches()
	x.packs()
	x.attributes()
}

func (x *writer) conditions() {
	t := pdf.Table{
		Caption: words.CaptionConditions,
		Columns: columns(2, words.HeadsConditions...),
	}
	t.Columns[4].Align, t.Columns[5].Align = pdf.Left, pdf.Left
	for i := range x.s.Conditions {
		c := &x.s.Conditions[i]
		var pulls []string
		for _, p := range c.Pulls {
			pulls = append(pulls, p.String())
		}
		chamber := "–"
		if c.Chamber >= 0 {
			chamber = x.s.Chambers[c.Chamber].ID
		}
		id := c.ID
		if i == x.s.StoreAt {
			id += " *"
		}
		t.Rows = append(t.Rows, pdf.Texts(id, string(c.Role), words.Tolerated(c.Temperature, c.TemperatureTolerance),
			words.Tolerated(c.Humidity, c.HumidityTolerance), strings.Join(pulls, " "), chamber))
	}
	if x.s.StoreAt >= 0 {
		t.Notes = []string{"* stands for storage as labelled."}
	}
	x.Table(t)
}

func (x *writer) batches() {
	t := pdf.Table{
		Caption: words.CaptionBatches,
		Columns: columns(8, words.HeadsBatches...),
	}
	for i := range x.s.Batches {
		b := &x.s.Batches[i]
		var factors []string
		for _, f := range b.Factors {
			factors = append(factors, f.Name+": "+f.Level)
		}
		t.Rows = append(t.Rows, pdf.Texts(b.ID, dash(b.Scale), dash(b.Lot), dash(b.Size), dash(b.Made.String()),
			x.s.TimeZero(i).String(), dash(strings.Join(factors, ", "))))
	}
	x.Table(t)
}

func (x *writer) packs() {
	if len(x.s.Packs) == 1 && x.s.Packs[0].ID == "" {
		return
	}
	t := pdf.Table{
		Caption: words.CaptionPacks,
		Columns: columns(4, words.HeadsPacks...),
	}
	for i := range x.s.Packs {
		p := &x.s.Packs[i]
		var orientations []string
		for _, o := range p.Orientations {
			orientations = append(orientations, string(o))
		}
		t.Rows = append(t.Rows, pdf.Texts(p.ID, dash(p.Description), strings.Join(orientations, ", "),
			dash(words.PackKinds(p)),
			number(p.NetFill), number(p.WaterPercent)))
	}
	x.Table(t)
}

func (x *writer) attributes() {
	t := pdf.Table{
		Caption: words.CaptionAttributes,
		Columns: columns(4, words.HeadsAttributes...),
	}
	t.Columns[4].Align, t.Columns[5].Align = pdf.Left, pdf.Left
	var notes []string
	for i := range x.s.Attributes {
		a := &x.s.Attributes[i]
		t.Rows = append(t.Rows, pdf.Texts(a.ID, dash(words.MeasuredIn(a)), string(a.Kind), words.Criterion(a),
			words.ModelAsked(a), words.Sampling(a), words.ReportedTo(a)))
		notes = append(notes, words.Particulars(a)...)
	}
	t.Notes = notes
	x.Table(t)
}

// pulls writes how far the plan has come.
func (x *writer) pulls() {
	if x.Schedule == nil {
		return
	}
	x.Section(words.SectionPulls.Title())
	x.calendar()
	t := pdf.Table{
		Columns: columns(2, words.HeadsPulls...),
	}
	for j := 2; j < len(t.Columns); j++ {
		t.Columns[j].Align = pdf.Left
	}
	all, note := x.Pulls()
	for _, p := range all {
		t.Rows = append(t.Rows, pdf.Texts(p.Time, p.Condition, p.Planned, p.Window, p.Pulled, p.Tested, p.State))
	}
	t.Notes = []string{note}
	x.Table(t)
	x.deviations()
}
