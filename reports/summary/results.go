package summary

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// widest is the number of columns an upright page holds.
const widest = 11

// The signs in the tables of results.
const (
	signOutside = "†" // outside the acceptance criterion
	signLate    = "‡" // pulled outside its window
)

// pullTime is a column of a table of results: a planned pull, or an elapsed
// time that was in no plan.
type pullTime struct {
	months float64
	text   string
}

func timeOf(s *analysis.Sample) pullTime {
	if s.Planned.IsZero() && s.PlannedMonths > 0 {
		t := math.Round(s.PlannedMonths*10) / 10
		return pullTime{t, fmt.Sprintf("%s M, off plan", words.Planned(t))}
	}
	return pullTime{s.PlannedMonths, s.Planned.String()}
}

// results tabulates every result, an attribute at a time, as a dossier shows
// them: batches down, pulls across, grouped by condition and pack.
func (x *writer) results() {
	if len(x.e.Analyses) == 0 {
		x.Section("Results")
		t := "No results have been taken in."
		if n := len(x.d.Results); n > 0 {
			t = fmt.Sprintf("Nothing has been tested after time zero; what there is of it, %d in number, is not tabulated.", n)
		}
		x.Paragraph(t)
		return
	}
	x.Section("Results")
	for i := range x.s.Attributes {
		var of []*analysis.Analysis
		for _, a := range x.e.Analyses {
			if a.Attribute == i && len(a.Samples) > 0 {
				of = append(of, a)
			}
		}
		if len(of) > 0 {
			x.attributeResults(i, of)
		}
	}
}

func (x *writer) attributeResults(attribute int, of []*analysis.Analysis) {
	at := &x.s.Attributes[attribute]
	used := cellSigns{}
	var tables []pdf.Table
	for c := range x.s.Conditions {
		var here []*analysis.Analysis
		for _, a := range of {
			if a.Condition == c {
				here = append(here, a)
			}
		}
		if len(here) > 0 {
			tables = append(tables, x.conditionResults(at, c, here, &used))
		}
	}
	tables[len(tables)-1].Notes = used.notes(at)
	// Wide tables stand on wide pages; the attribute's others go with them.
	wide := slices.ContainsFunc(tables, func(t pdf.Table) bool { return len(t.Columns) > widest })
	if wide != x.Landscape() {
		x.NewPage(wide)
	}
	x.Subsection(fmt.Sprintf("%s, criterion: %s", x.named(attribute), words.Criterion(at)))
	for _, t := range tables {
		x.Table(t)
	}
}

// conditionResults is the table of one attribute at one condition.
func (x *writer) conditionResults(at *study.Attribute, condition int, of []*analysis.Analysis, used *cellSigns) pdf.Table {
	times := map[pullTime]bool{}
	for _, a := range of {
		for i := range a.Samples {
			times[timeOf(&a.Samples[i])] = true
		}
	}
	var order []pullTime
	for t := range times {
		order = append(order, t)
	}
	slices.SortFunc(order, func(p, q pullTime) int {
		return cmp.Or(cmp.Compare(p.months, q.months), strings.Compare(p.text, q.text))
	})
	t := pdf.Table{
		Caption: at.ID + " at " + words.Condition(&x.s.Conditions[condition]),
		Columns: []pdf.Column{{Head: "Batch"}},
		Fixed:   1, Wide: true, Even: true,
	}
	align := pdf.Right
	if at.Kind == study.Grade || at.Kind == study.PassFail {
		align = pdf.Left
	}
	for _, p := range order {
		t.Columns = append(t.Columns, pdf.Column{Head: p.text, Align: align})
	}
	for _, a := range of {
		if pack := words.PackName(x.s, a.Pack, a.Orientation); pack != "" {
			t.Rows = append(t.Rows, pdf.Row{Group: pack})
		}
		for b := range x.s.Batches {
			row := pdf.Row{Cells: []pdf.Cell{{Text: x.s.Batches[b].ID}}}
			some := false
			for _, p := range order {
				var samples []*analysis.Sample
				suspect := false
				for i := range a.Samples {
					if s := &a.Samples[i]; s.Batch == b && timeOf(s) == p {
						samples = append(samples, s)
						suspect = suspect || a.Diagnostics.Suspect(i)
					}
				}
				some = some || len(samples) > 0
				c := resultCell(at, samples, used)
				if suspect {
					c.Text += "\u00a0" + signSuspect
					used.suspect = true
				}
				row.Cells = append(row.Cells, c)
			}
			if some {
				t.Rows = append(t.Rows, row)
			}
		}
	}
	return t
}

// cellSigns remembers which signs a table uses, to explain those alone.
type cellSigns struct{ ranged, outside, late, suspect, empty bool }

func (u cellSigns) notes(at *study.Attribute) []string {
	var t []string
	if u.ranged {
		t = append(t, "Mean, and below it the lowest and highest reading.")
	}
	if at.Kind == study.Weighing {
		t = append(t, "Percent of each unit's own net mass lost since time zero.")
	}
	if u.outside {
		t = append(t, signOutside+" outside the acceptance criterion, judged on the value rounded as reported (USP General Notices 7.20).")
	}
	if u.late {
		t = append(t, signLate+" pulled outside its window.")
	}
	if u.suspect {
		t = append(t, signSuspect+" out of trend or an outlier: see the warnings.")
	}
	if u.empty {
		t = append(t, "– no result.")
	}
	if len(t) == 0 {
		return nil
	}
	return []string{strings.Join(t, " ")}
}

// resultCell is what one batch showed at one pull.
func resultCell(at *study.Attribute, samples []*analysis.Sample, used *cellSigns) pdf.Cell {
	if len(samples) == 0 {
		used.empty = true
		return pdf.Cell{Text: "–"}
	}
	text, under := "", ""
	switch at.Kind {
	case study.Grade, study.PassFail:
		text = counted(at, samples)
	default:
		text, under = averaged(at, samples, used)
	}
	c := pdf.Cell{Under: under}
	out, late := false, false
	for _, s := range samples {
		out = out || s.OutOfCriterion
		late = late || !s.InWindow
	}
	if out {
		text += "\u00a0" + signOutside
		c.Bold, used.outside = true, true
	}
	if late {
		text += "\u00a0" + signLate
		used.late = true
	}
	c.Text = text
	return c
}

// counted says how many units had which grade; one grade alone is named alone.
func counted(at *study.Attribute, samples []*analysis.Sample) string {
	count := map[float64]int{}
	var grades []float64
	for _, s := range samples {
		if count[s.Value] == 0 {
			grades = append(grades, s.Value)
		}
		count[s.Value]++
	}
	slices.Sort(grades)
	if len(grades) == 1 {
		return words.Value(at, grades[0])
	}
	var parts []string
	for _, g := range grades {
		parts = append(parts, fmt.Sprintf("%d %s", count[g], words.Value(at, g)))
	}
	return strings.Join(parts, ", ")
}

// averaged is the mean of the samples with the range of the readings. Censored
// values have no mean and are listed.
func averaged(at *study.Attribute, samples []*analysis.Sample, used *cellSigns) (mean, spread string) {
	sum, low, high, readings := 0.0, math.Inf(1), math.Inf(-1), 0
	for _, s := range samples {
		if s.Censor != study.Exact {
			return censored(at, samples), ""
		}
		sum += s.Value
		if at.Kind == study.Weighing {
			low, high = math.Min(low, s.Value), math.Max(high, s.Value)
			readings++
			continue
		}
		low, high = math.Min(low, s.Low), math.Max(high, s.High)
		readings += max(1, s.Readings)
	}
	mean = words.Value(at, sum/float64(len(samples)))
	if readings < 2 {
		return mean, ""
	}
	used.ranged = true
	return mean, words.Value(at, low) + "–" + words.Value(at, high)
}

func censored(at *study.Attribute, samples []*analysis.Sample) string {
	var parts []string
	for _, s := range samples {
		switch s.Censor { // a limit of measurement has the digits it was given with
		case study.BelowThat:
			parts = append(parts, "<"+words.Number(s.Value, 10))
		case study.AboveThat:
			parts = append(parts, ">"+words.Number(s.Value, 10))
		default:
			parts = append(parts, words.Value(at, s.Value))
		}
	}
	slices.Sort(parts)
	return strings.Join(slices.Compact(parts), ", ")
}
