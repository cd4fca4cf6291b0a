package dossier

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// PullTime is a column of a table of results: a planned pull, or an elapsed
// time that was in no plan.
type PullTime struct {
	Months float64
	Text   string
}

// TimeOf gives the column a sample stands in.
func TimeOf(s *analysis.Sample) PullTime {
	if s.Planned.IsZero() && s.PlannedMonths > 0 {
		t := math.Round(s.PlannedMonths*10) / 10
		return PullTime{t, fmt.Sprintf("%s M, off plan", words.Planned(t))}
	}
	return PullTime{s.PlannedMonths, s.Planned.String()}
}

// Table is the results of one attribute at one condition: batches down, grouped
// by pack, pulls across.
type Table struct {
	Condition int
	Times     []PullTime
	Rows      []Row
}

// Row is one batch in one pack and orientation.
type Row struct {
	Pack, Orientation, Batch int
	Shown                    []Shown // by Times
}

// Shown is what was tested of one row at one time.
type Shown struct {
	Samples []*analysis.Sample // none where nothing was tested
	Suspect bool               // whether one is warned of as an outlier or out of trend
}

// Results tabulates every result of an attribute, a table for each condition in
// the study's order; none where there is nothing.
func Results(e *analysis.Evaluation, attribute int) []Table {
	var out []Table
	for c := range e.Dataset.Study.Conditions {
		var here []*analysis.Analysis
		for _, a := range e.Analyses {
			if a.Attribute == attribute && a.Condition == c && len(a.Samples) > 0 {
				here = append(here, a)
			}
		}
		if len(here) > 0 {
			out = append(out, tabulate(c, len(e.Dataset.Study.Batches), here))
		}
	}
	return out
}

func tabulate(condition, batches int, of []*analysis.Analysis) Table {
	column := map[PullTime]int{}
	t := Table{Condition: condition}
	for _, a := range of {
		for i := range a.Samples {
			at := TimeOf(&a.Samples[i])
			if _, seen := column[at]; !seen {
				column[at] = 0
				t.Times = append(t.Times, at)
			}
		}
	}
	slices.SortFunc(t.Times, byTime)
	for i, at := range t.Times {
		column[at] = i
	}
	for _, a := range of {
		rows := make([]Row, batches)
		for i := range a.Samples {
			s := &a.Samples[i]
			r := &rows[s.Batch]
			if r.Shown == nil {
				*r = Row{Pack: a.Pack, Orientation: a.Orientation, Batch: s.Batch, Shown: make([]Shown, len(t.Times))}
			}
			at := &r.Shown[column[TimeOf(s)]]
			at.Samples = append(at.Samples, s)
			at.Suspect = at.Suspect || a.Diagnostics.Suspect(i)
		}
		t.Rows = append(t.Rows, slices.DeleteFunc(rows, func(r Row) bool { return r.Shown == nil })...)
	}
	return t
}

// The signs in the tables of results.
const (
	SignOutside = "†" // outside the acceptance criterion
	SignLate    = "‡" // pulled outside its window
	SignSuspect = "§" // warned of as an outlier or out of trend
)

// Cell is what one batch showed at one pull.
type Cell struct {
	Text                   string // the mean, the grades, the values where some are censored; "–" where there is none
	Under                  string // the lowest and highest reading, where they differ in print
	Units                  string // each unit's own value, where neither text nor range shows it
	Outside, Late, Suspect bool
}

// Signed is the text with its signs.
func (c Cell) Signed() string {
	t := c.Text
	if c.Outside {
		t += "\u00a0" + SignOutside
	}
	if c.Late {
		t += "\u00a0" + SignLate
	}
	if c.Suspect {
		t += "\u00a0" + SignSuspect
	}
	return t
}

// Signs remembers which signs tables use, to explain those alone.
type Signs struct{ ranged, single, outside, late, suspect, empty bool }

// Notes explains the signs used; "" where there is nothing to explain.
func (u Signs) Notes(at *study.Attribute) string {
	var t []string
	if u.ranged {
		t = append(t, "Mean, and below it the lowest and highest reading.")
	}
	if at.Kind == study.Weighing {
		t = append(t, "Percent of each unit's own net mass lost since time zero.")
	}
	if u.outside {
		t = append(t, SignOutside+" outside the acceptance criterion, judged on the value rounded as reported (USP General Notices 7.20).")
	}
	if u.late {
		t = append(t, SignLate+" pulled outside its window.")
	}
	if u.suspect {
		t = append(t, SignSuspect+" out of trend or an outlier: see the warnings.")
	}
	if u.empty {
		t = append(t, "– no result.")
	}
	return strings.Join(t, " ")
}

// Marks explains the signs used of those that mark a result; "" where none is.
func (u Signs) Marks() string {
	var t []string
	for _, m := range []struct {
		used bool
		text string
	}{
		{u.outside, SignOutside + " outside the acceptance criterion."},
		{u.late, SignLate + " pulled outside its window."},
		{u.suspect, SignSuspect + " out of trend or an outlier: see the warnings."},
	} {
		if m.used {
			t = append(t, m.text)
		}
	}
	return strings.Join(t, " ")
}

// CellOf says what one batch showed at one pull.
func CellOf(at *study.Attribute, shown Shown, used *Signs) Cell {
	samples := shown.Samples
	if len(samples) == 0 {
		used.empty = true
		return Cell{Text: "–"}
	}
	c := Cell{Suspect: shown.Suspect}
	switch at.Kind {
	case study.Grade, study.PassFail:
		c.Text = counted(at, samples)
	default:
		c.Text, c.Under = averaged(at, samples, used)
		c.Units = single(at, samples, used)
	}
	for _, s := range samples {
		c.Outside = c.Outside || s.OutOfCriterion
		c.Late = c.Late || !s.InWindow
	}
	used.outside, used.late, used.suspect = used.outside || c.Outside, used.late || c.Late, used.suspect || c.Suspect
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
func averaged(at *study.Attribute, samples []*analysis.Sample, used *Signs) (mean, spread string) {
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
	least, most := words.Value(at, low), words.Value(at, high)
	if least == most {
		return mean, ""
	}
	used.ranged = true
	return mean, least + "–" + most
}

// single lists the units' own values, in the order of the units; "" where the mean
// and the range show them all: of one unit, of two read once each, and of
// units that are alike in print.
func single(at *study.Attribute, samples []*analysis.Sample, used *Signs) string {
	if len(samples) < 2 {
		return ""
	}
	var parts []string
	readings, alike := 0, true
	for _, s := range samples {
		if s.Censor != study.Exact {
			return ""
		}
		parts = append(parts, words.Value(at, s.Value))
		alike = alike && parts[len(parts)-1] == parts[0]
		readings += max(1, s.Readings)
	}
	if alike || len(parts) == 2 && readings == 2 {
		return ""
	}
	used.single = true
	return strings.Join(parts, " ")
}

func censored(at *study.Attribute, samples []*analysis.Sample) string {
	var parts []string
	for _, s := range samples {
		parts = append(parts, words.Measured(at, s))
	}
	slices.Sort(parts)
	return strings.Join(slices.Compact(parts), ", ")
}
