package page

import (
	"strings"

	"shelfspan/reports/words"
)

// protocol writes what was to be done: conditions, batches, packs, attributes.
func (x *writer) protocol() {
	x.conditions()
	x.batches()
	x.packs()
	x.attributes()
}

func (x *writer) conditions() {
	t := table{
		caption: "Storage conditions",
		columns: columns(left("Condition", "Role"), right("Temperature, °C", "Humidity, % RH"), left("Pulls", "Chamber")),
		plain:   true,
	}
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
		t.rows = append(t.rows, cells(id, string(c.Role), words.Tolerated(c.Temperature, c.TemperatureTolerance),
			words.Tolerated(c.Humidity, c.HumidityTolerance), strings.Join(pulls, " "), chamber))
	}
	if x.s.StoreAt >= 0 {
		t.notes = []string{"* stands for storage as labelled."}
	}
	x.table(t)
}

func (x *writer) batches() {
	t := table{caption: "Batches", columns: left("Batch", "Scale", "Lot", "Size", "Made", "Time zero", "Formula"), plain: true}
	for i := range x.s.Batches {
		b := &x.s.Batches[i]
		var factors []string
		for _, f := range b.Factors {
			factors = append(factors, f.Name+": "+f.Level)
		}
		t.rows = append(t.rows, cells(b.ID, dash(b.Scale), dash(b.Lot), dash(b.Size), dash(b.Made.String()),
			x.s.TimeZero(i).String(), dash(strings.Join(factors, ", "))))
	}
	x.table(t)
}

func (x *writer) packs() {
	if len(x.s.Packs) == 1 && x.s.Packs[0].ID == "" {
		return
	}
	t := table{
		caption: "Packs",
		columns: columns(left("Pack", "Description", "Orientations", "Nature"), right("Net fill, g", "Water, %")),
		plain:   true,
	}
	for i := range x.s.Packs {
		p := &x.s.Packs[i]
		var orientations []string
		for _, o := range p.Orientations {
			orientations = append(orientations, string(o))
		}
		t.rows = append(t.rows, cells(p.ID, dash(p.Description), strings.Join(orientations, ", "), dash(words.PackKinds(p)),
			number(p.NetFill), number(p.WaterPercent)))
	}
	x.table(t)
}

func (x *writer) attributes() {
	t := table{
		caption: "Attributes and acceptance criteria",
		columns: left("Attribute", "Unit", "Kind", "Criterion", "Model asked", "Sampling", "Reported to"),
		plain:   true,
	}
	for i := range x.s.Attributes {
		a := &x.s.Attributes[i]
		t.rows = append(t.rows, cells(a.ID, dash(words.MeasuredIn(a)), string(a.Kind), words.Criterion(a), words.ModelAsked(a), words.Sampling(a), words.ReportedTo(a)))
		t.notes = append(t.notes, words.Particulars(a)...)
	}
	x.table(t)
}

// pulls writes how far the plan has come, and where it was departed from.
func (x *writer) pulls() {
	all, note := x.Pulls()
	t := table{
		caption: "Pulls, planned and made",
		named:   2,
		columns: left("Pull", "Condition", "Planned", "Window", "Pulled", "Samples tested", "State"),
		notes:   []string{note},
	}
	for _, p := range all {
		t.rows = append(t.rows, cells(p.Time, p.Condition, p.Planned, p.Window, p.Pulled, p.Tested, p.State))
	}
	x.table(t)
	t = table{caption: "Deviations of the pulls, and notes", columns: left("Pull", "Day", "Recorded by", "What", "Reason", "Note"), prose: true}
	for i := range x.d.Pulls {
		if r := &x.d.Pulls[i]; words.Departs(r) {
			t.rows = append(t.rows, cells(r.Pull, r.Day.String(), r.By, dash(words.Departure(r)), dash(r.Reason), dash(r.Note)))
		}
	}
	x.table(t)
}
