package csv

import (
	"cmp"
	"io"
	"math"
	"slices"

	"shelfspan/reports/words"
	"shelfspan/study"
)

type datasetRow struct {
	Study           string `csv:"study"`
	Batch           string `csv:"batch"`
	Condition       string `csv:"condition"`
	Pack            string `csv:"pack"`
	Orientation     string `csv:"orientation"`
	Time            string `csv:"time"`
	Pulled          string `csv:"pulled"`
	Elapsed         Number `csv:"elapsed_months"`
	Attribute       string `csv:"attribute"`
	Value           string `csv:"value"`
	Measure         string `csv:"unit_of_measure"`
	Unit            string `csv:"unit"`
	Replicate       string `csv:"replicate"`
	Tare            Number `csv:"tare"`
	Tested          string `csv:"tested"`
	Analyst         string `csv:"analyst"`
	Method          string `csv:"method"`
	Comment         string `csv:"comment"`
	ResultID        string `csv:"result_id"`
	AmendedFrom     string `csv:"amended_from"`
	AmendedBecause  string `csv:"amended_because"`
	AmendedBy       string `csv:"amended_by"`
	PulledFrom      string `csv:"pulled_from"`
	PulledBecause   string `csv:"pulled_because"`
	PulledBy        string `csv:"pulled_by"`
	TestedFrom      string `csv:"tested_from"`
	TestedBecause   string `csv:"tested_because"`
	TestedBy        string `csv:"tested_by"`
	TareFrom        string `csv:"tare_from"`
	TareBecause     string `csv:"tare_because"`
	TareBy          string `csv:"tare_by"`
	ExcludedBecause string `csv:"excluded_because"`
	ExcludedBy      string `csv:"excluded_by"`
}

// DatasetHead is what the first line of a table of Dataset begins with.
const DatasetHead = "study,batch,condition,pack,orientation,time,pulled,elapsed_months,"

// Dataset writes every result of a dataset as one table in the long form, those
// out of the analysis among them with the reason, in the order of their tables
// and lines. Package intake reads it back to the same dataset, apart from where
// the results came from.
func Dataset(w io.Writer, d *study.Dataset) error {
	type cell struct {
		input     uint16
		line      uint32
		attribute uint16
	}
	at := func(r *study.Result) cell { return cell{r.Input, r.Line, r.Attribute} }
	changed := make(map[cell]datasetRow) // what became of a result
	for i := range d.Changes {
		c := &d.Changes[i]
		k := at(&c.Result)
		row := changed[k]
		row.ResultID = c.ID
		switch c.Kind {
		case study.Amended:
			from, because, by := row.amendment(c.Part)
			if *from == "" && *because == "" {
				*from = c.Before // what the table had
			}
			*because = joined(*because, c.Reason)
			*by = joined(*by, words.Author(c))
		case study.Excluded:
			row.ExcludedBecause, row.ExcludedBy = oneLine(c.Reason), oneLine(words.Author(c))
		case study.Restored:
			row.ExcludedBecause, row.ExcludedBy = "", ""
		}
		changed[k] = row
	}
	all := make([]*study.Result, 0, len(d.Results)+len(d.Excluded))
	for i := range d.Results {
		all = append(all, &d.Results[i])
	}
	for i := range d.Excluded {
		r := &d.Excluded[i]
		all = append(all, r)
		row := changed[at(r)]
		row.ExcludedBecause = cmp.Or(row.ExcludedBecause, "no reason stated")
		changed[at(r)] = row
	}
	slices.SortStableFunc(all, func(a, b *study.Result) int {
		return cmp.Or(cmp.Compare(a.Input, b.Input), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Attribute, b.Attribute))
	})
	s := d.Study
	stands := standing(s, all)
	rows := make([]datasetRow, 0, len(all))
	for _, r := range all {
		a := &s.Attributes[r.Attribute]
		row := changed[at(r)]
		row.Study, row.Batch, row.Pack, row.Attribute = s.ID, s.Batches[r.Batch].ID, s.Packs[r.Pack].ID, a.ID
		row.Time, row.Pulled, row.Elapsed = planned(s, r), r.Pulled.String(), Number(r.Elapsed)
		row.Value, row.Measure, row.Tare = study.ValueText(s, r), a.Unit, Number(math.NaN())
		if a.Kind == study.Weighing {
			row.Measure, row.Tare = "g", Number(r.Tare)
		}
		if r.Condition >= 0 {
			row.Condition = s.Conditions[r.Condition].ID
		}
		if stands(r) {
			row.Orientation = orientation(s, int(r.Pack), int(r.Orientation))
		}
		row.Unit, row.Replicate, row.Tested = d.Text(r.Unit), d.Text(r.Replicate), r.Tested.String()
		row.Analyst, row.Method, row.Comment = d.Text(r.Analyst), d.Text(r.Method), d.Text(r.Comment)
		rows = append(rows, row)
	}
	return write(w, rows)
}

// amendment gives the columns of what was amended of a part.
func (row *datasetRow) amendment(p study.Part) (from, because, by *string) {
	switch p {
	case study.PartPulled:
		return &row.PulledFrom, &row.PulledBecause, &row.PulledBy
	case study.PartTested:
		return &row.TestedFrom, &row.TestedBecause, &row.TestedBy
	case study.PartTare:
		return &row.TareFrom, &row.TareBecause, &row.TareBy
	}
	return &row.AmendedFrom, &row.AmendedBecause, &row.AmendedBy
}

// standing tells whether the orientation of a result is to be written. At time
// zero a sample stands in storage in no way yet; a mass belongs to the unit of its
// label that was weighed there again, where one was, and may name how that stands.
func standing(s *study.Study, all []*study.Result) func(*study.Result) bool {
	type unit struct {
		attribute, batch, pack uint16
		condition              int16
		label                  uint32
	}
	of := func(r *study.Result) unit { return unit{r.Attribute, r.Batch, r.Pack, r.Condition, r.Unit} }
	known := make(map[unit]bool)
	weighed := func(r *study.Result) bool {
		return s.Attributes[r.Attribute].Kind == study.Weighing && len(s.Packs[r.Pack].Orientations) > 1
	}
	for _, r := range all {
		if weighed(r) && (r.Orientation > 0 || !r.Planned.IsZero()) {
			known[of(r)] = true
		}
	}
	return func(r *study.Result) bool {
		if weighed(r) && r.Planned.IsZero() {
			return known[of(r)]
		}
		return r.Condition >= 0 || r.Orientation > 0
	}
}

// planned is the planned pull of a result; empty where the day it was pulled lies
// in no pull's window and nobody named a pull, so that a reader finds that again.
func planned(s *study.Study, r *study.Result) string {
	days := study.Duration{N: int32(r.Pulled - s.TimeZero(int(r.Batch))), Unit: study.Days}
	if r.OffPlan && !r.InWindow && r.Pulled != study.NoDate && r.Planned == days {
		return ""
	}
	return r.Planned.String()
}

// joined adds a text to what was said of earlier changes.
func joined(before, text string) string {
	if text = oneLine(text); before == "" || text == "" {
		return before + text
	}
	return before + "; " + text
}

// oneLine writes a text without line ends and tabs.
func oneLine(text string) string {
	b := []byte(text)
	for i, c := range b {
		if c == '\n' || c == '\r' || c == '\t' {
			b[i] = ' '
		}
	}
	return string(b)
}
