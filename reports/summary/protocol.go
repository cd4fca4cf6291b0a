package summary

import (
	"fmt"
	"math"
	"strings"

	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// protocol writes what was to be done: conditions, batches, packs, attributes.
func (x *writer) protocol() {
	x.Section("Protocol")
	x.conditions()
	x.batches()
	x.packs()
	x.attributes()
}

func (x *writer) conditions() {
	t := pdf.Table{
		Caption: "Storage conditions",
		Columns: columns(2, "Condition", "Role", "Temperature, °C", "Humidity, % RH", "Pulls", "Chamber"),
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
		t.Rows = append(t.Rows, pdf.Texts(id, string(c.Role), tolerated(c.Temperature, c.TemperatureTolerance),
			tolerated(c.Humidity, c.HumidityTolerance), strings.Join(pulls, " "), chamber))
	}
	if x.s.StoreAt >= 0 {
		t.Notes = []string{"* stands for storage as labelled."}
	}
	x.Table(t)
}

func tolerated(v, tolerance float64) string {
	if math.IsNaN(v) {
		return "–"
	}
	if tolerance > 0 {
		return words.Planned(v) + " ± " + words.Planned(tolerance)
	}
	return words.Planned(v)
}

func (x *writer) batches() {
	t := pdf.Table{
		Caption: "Batches",
		Columns: columns(8, "Batch", "Scale", "Lot", "Size", "Made", "Time zero", "Formula"),
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
		Caption: "Packs",
		Columns: columns(4, "Pack", "Description", "Orientations", "Nature", "Net fill, g", "Water, %"),
	}
	for i := range x.s.Packs {
		p := &x.s.Packs[i]
		var orientations []string
		for _, o := range p.Orientations {
			orientations = append(orientations, string(o))
		}
		nature := func(is bool, name string) string {
			if is {
				return name
			}
			return ""
		}
		t.Rows = append(t.Rows, pdf.Texts(p.ID, dash(p.Description), strings.Join(orientations, ", "),
			dash(join(nature(p.Pressurised, "pressurised"), nature(p.Flammable, "flammable"), nature(p.Glass, "glass"),
				nature(p.SemiPermeable, "semi-permeable"), nature(p.Control, "control"))),
			number(p.NetFill), number(p.WaterPercent)))
	}
	x.Table(t)
}

func (x *writer) attributes() {
	t := pdf.Table{
		Caption: "Attributes and acceptance criteria",
		Columns: columns(4, "Attribute", "Unit", "Kind", "Criterion", "Model asked", "Sampling", "Reported to"),
	}
	t.Columns[4].Align, t.Columns[5].Align = pdf.Left, pdf.Left
	var notes []string
	for i := range x.s.Attributes {
		a := &x.s.Attributes[i]
		decimals := "as given"
		if a.Kind == study.Grade || a.Kind == study.PassFail {
			decimals = "–"
		} else if a.Decimals >= 0 {
			decimals = fmt.Sprintf("%d decimals", a.Decimals)
			if a.Decimals == 1 {
				decimals = "1 decimal"
			}
		}
		model := string(a.Model)
		if a.Kind != study.Measure {
			model = "–"
		}
		sampling := string(a.Sampling)
		if a.Replicates > 1 {
			sampling += fmt.Sprintf(", %d readings", a.Replicates)
		}
		t.Rows = append(t.Rows, pdf.Texts(a.ID, dash(unit(a)), string(a.Kind), words.Criterion(a), model, sampling, decimals))
		if a.ExpectedAtAccelerated != "" {
			notes = append(notes, a.ID+": a change at the accelerated condition is expected and is told, not counted. Reason stated: "+a.ExpectedAtAccelerated)
		}
		if !a.Baseline.IsZero() {
			notes = append(notes, a.ID+": the trend counts from "+a.Baseline.String()+"; earlier results are shown, not fitted.")
		}
	}
	t.Notes = notes
	x.Table(t)
}

// pulls writes how far the plan has come.
func (x *writer) pulls() {
	if x.Schedule == nil {
		return
	}
	x.Section("Pulls")
	x.calendar()
	status := schedule.Status(x.s, x.Schedule, x.d)
	t := pdf.Table{
		Columns: columns(2, "Pull", "Condition", "Planned", "Window", "Pulled", "Samples tested", "State"),
	}
	for j := 2; j < len(t.Columns); j++ {
		t.Columns[j].Align = pdf.Left
	}
	outside := false
	for i := range x.Schedule.Pulls {
		p := &x.Schedule.Pulls[i]
		lines := schedule.Of(status, i)
		if len(lines) == 0 {
			continue
		}
		condition := "before storage"
		if p.Condition >= 0 {
			condition = x.s.Conditions[p.Condition].ID
		}
		first, last := study.NoDate, study.NoDate
		counts := map[schedule.State]int{}
		worst := 0
		for _, l := range lines {
			counts[l.State]++
			if l.First != study.NoDate && (first == study.NoDate || l.First < first) {
				first = l.First
			}
			last = max(last, l.Last)
			if abs(l.Outside) > abs(worst) {
				worst = l.Outside
			}
		}
		pulled := dash(first.String())
		if last != study.NoDate && last != first {
			pulled += " to " + last.String()
		}
		switch {
		case worst > 0:
			pulled += fmt.Sprintf(" (%s late)", days(worst))
		case worst < 0:
			pulled += fmt.Sprintf(" (%s early)", days(-worst))
		}
		outside = outside || worst != 0
		tested := counts[schedule.Done] + counts[schedule.Partial]
		t.Rows = append(t.Rows, pdf.Texts(p.Time.String(), condition, p.Date.String(), p.Earliest.String()+" to "+p.Latest.String(),
			pulled, fmt.Sprintf("%d of %d", tested, len(lines)), state(counts, len(lines))))
	}
	t.Notes = []string{"A sample here is one batch in one pack and orientation. A pull is missing where results of a later day than its window are there and none of its own."}
	if outside {
		t.Notes[0] += " Late and early: beyond the end of the window; the elapsed time, not the planned one, enters the regression."
	}
	x.Table(t)
	x.deviations()
}

func state(counts map[schedule.State]int, of int) string {
	for _, s := range []schedule.State{schedule.Done, schedule.Missing, schedule.Open} {
		if counts[s] == of {
			return string(s)
		}
	}
	var parts []string
	for _, s := range []schedule.State{schedule.Done, schedule.Partial, schedule.Missing, schedule.Open} {
		if n := counts[s]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, s))
		}
	}
	return strings.Join(parts, ", ")
}

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

func abs(n int) int { return max(n, -n) }
