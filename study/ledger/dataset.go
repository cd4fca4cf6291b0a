package ledger

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/intake"
	"shelfspan/study/unitid"
)

// Dataset gives the results of a study as they stand, with what was changed and
// pulled.
func (x *Record) Dataset() (*study.Dataset, error) {
	d, _, err := x.read(x.Study)
	if err != nil {
		var faults *finding.Faults
		if errors.As(err, &faults) {
			return nil, unreadable(Event{Seq: x.Mark.Event}, err)
		}
		return nil, err
	}
	mark := x.Mark
	d.Ledger, d.Pulls = &mark, x.Pulls
	for _, v := range x.Versions {
		d.Protocols = append(d.Protocols, study.ProtocolVersion{
			Version: v.Number, Name: v.Name, SHA256: v.Event.File, Event: v.Event.Seq, At: v.Event.At, By: v.Event.By, Reason: v.Event.Reason,
		})
	}
	for i := range d.Changes { // those that a table tells have its ids, which may be another ledger's
		d.Changes[i].ID = x.ResultID(&d.Changes[i].Result)
	}
	results := x.changed(d)
	for _, c := range x.changes {
		k := x.cellOf(x.Study, &c.changeDetail)
		changed := study.Change{
			ID: resultID(c.Table, c.Line, c.Attribute), Before: c.Before, After: c.After,
			Reason: c.event.Reason, By: c.event.By, At: c.event.At, Event: c.event.Seq,
		}
		switch c.event.Kind {
		case study.EventAmend, study.EventAmendRows:
			changed.Kind, changed.Part = study.Amended, cmp.Or(c.part, study.PartValue)
		case study.EventExclude:
			changed.Kind = study.Excluded
		default:
			changed.Kind = study.Restored
		}
		if r := results[k]; r != nil {
			changed.Result = *r
		}
		d.Changes = append(d.Changes, changed)
	}
	return d, nil
}

// cell is a result's place: the table it came with, by its index, and where in
// it the value stands.
type cell struct {
	table int
	intake.Cell
}

// cellOf gives the cell a change is about; its table or attribute is -1 where
// there is none.
func (x *Record) cellOf(s *study.Study, c *changeDetail) cell {
	return cell{
		table: slices.IndexFunc(x.Tables, func(t Table) bool { return t.Event.Seq == c.Table }),
		Cell: intake.Cell{
			Line:      c.Line,
			Attribute: slices.IndexFunc(s.Attributes, func(a study.Attribute) bool { return a.ID == c.Attribute }),
		},
	}
}

// changed gives the results that were changed, by their cells, in one walk.
func (x *Record) changed(d *study.Dataset) map[cell]*study.Result {
	out := make(map[cell]*study.Result, len(x.changes))
	for i := range x.changes {
		out[x.cellOf(x.Study, &x.changes[i].changeDetail)] = nil
	}
	if len(out) == 0 {
		return out
	}
	for _, list := range [][]study.Result{d.Results, d.Excluded} {
		for i := range list {
			r := &list[i]
			k := cell{int(r.Input), intake.Cell{Line: int(r.Line), Attribute: int(r.Attribute)}}
			if _, ok := out[k]; ok {
				out[k] = r
			}
		}
	}
	return out
}

// find gives the result of a cell, in the analysis or out of it; nil where the
// dataset has none.
func find(d *study.Dataset, k cell) *study.Result {
	for _, list := range [][]study.Result{d.Results, d.Excluded} {
		for i := range list {
			if r := &list[i]; int(r.Input) == k.table && int(r.Line) == k.Line && int(r.Attribute) == k.Attribute {
				return r
			}
		}
	}
	return nil
}

// read reads the tables of the record under a study, with more behind them.
func (x *Record) read(s *study.Study, more ...intake.Source) (*study.Dataset, []intake.Count, error) {
	corrections := make([]map[intake.Cell][]intake.Correction, len(x.Tables))
	rows := make([]map[int][]intake.RowCorrection, len(x.Tables))
	var orphans finding.Faults
	for i := range x.changes {
		c := &x.changes[i]
		k := x.cellOf(s, &c.changeDetail)
		if k.table < 0 || k.Attribute < 0 {
			orphans.List = append(orphans.List, finding.Fault{
				File: "event " + fmt.Sprint(c.event.Seq),
				Text: fmt.Sprintf("changed a result of attribute %q, which the study does not have; keep the attribute", c.Attribute),
			})
			continue
		}
		if c.part != "" {
			correctRow(&rows[k.table], c)
			continue
		}
		if corrections[k.table] == nil {
			corrections[k.table] = make(map[intake.Cell][]intake.Correction)
		}
		corrections[k.table][k.Cell] = append(corrections[k.table][k.Cell], correction(c.event.Kind, c.After))
	}
	sources := make([]intake.Source, 0, len(x.Tables)+len(more))
	for i := range x.Tables {
		t := &x.Tables[i]
		sources = append(sources, intake.Source{
			Name:   fmt.Sprintf("%s (event %d)", t.Name, t.Event.Seq),
			Reader: bytes.NewReader(t.data), Corrections: corrections[i], Rows: rows[i],
		})
	}
	days := x.days(s)
	d, counts, err := intake.ReadAll(s, intake.Options{
		Repeats: true,
		PulledOn: func(batch, condition, pack, orientation int, planned study.Duration) study.Date {
			if day, ok := days[takenKey{condition, batch, pack, orientation, planned}]; ok {
				return day
			}
			return study.NoDate
		},
		ResultID: func(input, line, attribute int) string {
			if input >= len(x.Tables) {
				return ""
			}
			return resultID(x.Tables[input].Event.Seq, line, s.Attributes[attribute].ID)
		},
	}, append(sources, more...)...)
	if len(orphans.List) > 0 {
		var faults *finding.Faults
		if errors.As(err, &faults) {
			orphans.List, orphans.More = append(faults.List, orphans.List...), faults.More
		}
		return nil, nil, &orphans
	}
	return d, counts, err
}

// correctRow adds a change of a row to those of its table. Those of one event say
// of one row what each of its results had.
func correctRow(rows *map[int][]intake.RowCorrection, c *change) {
	if c.follows {
		return
	}
	if *rows == nil {
		*rows = make(map[int][]intake.RowCorrection)
	}
	list := (*rows)[c.Line]
	if n := len(list); n > 0 && list[n-1].Part == c.part && list[n-1].Text == c.After {
		list[n-1].Had = append(list[n-1].Had, c.Before)
		return
	}
	(*rows)[c.Line] = append(list, intake.RowCorrection{Part: c.part, Text: c.After, Had: []string{c.Before}})
}

func correction(kind Kind, after string) intake.Correction {
	switch kind {
	case study.EventExclude:
		return intake.Correction{Exclude: true}
	case study.EventRestore:
		return intake.Correction{Restore: true}
	}
	return intake.Correction{Value: after}
}

// ResultID gives the id of a result of the dataset: R, the number of the event
// that took its table in, its line there, its attribute and a check character,
// R4-806-viscosity-8.
func (x *Record) ResultID(r *study.Result) string {
	return resultID(x.Tables[r.Input].Event.Seq, int(r.Line), x.Study.Attributes[r.Attribute].ID)
}

func resultID(table int64, line int, attribute string) string {
	body := fmt.Sprintf("R%d-%d-%s", table, line, attribute)
	return body + "-" + string(unitid.CheckCharacter(body))
}

// parseResultID reads an id back; letters may be typed in either case.
func parseResultID(id string) (table int64, line int, attribute string, err error) {
	id = strings.TrimSpace(id)
	at := strings.LastIndexByte(id, '-')
	bad := refuse("shelfspan results --study ID lists results with their ids, as R4-806-viscosity-8", "%q is no id of a result", id)
	if at < 0 {
		return 0, 0, "", bad
	}
	body, check := id[:at], id[at+1:]
	parts := strings.SplitN(body, "-", 3)
	if len(parts) != 3 || len(parts[0]) < 2 || parts[0][0]|0x20 != 'r' || parts[2] == "" || len(check) != 1 {
		return 0, 0, "", bad
	}
	table, err = strconv.ParseInt(parts[0][1:], 10, 64)
	line, lineErr := strconv.Atoi(parts[1])
	if err != nil || lineErr != nil || table < 1 || line < 1 || !strings.EqualFold(body, fmt.Sprintf("R%d-%d-%s", table, line, parts[2])) {
		return 0, 0, "", bad
	}
	if !strings.EqualFold(string(unitid.CheckCharacter(body)), check) {
		return 0, 0, "", refuse("copy it from where it is printed; shelfspan results --study ID lists them", "the id %q is mistyped: its check character does not fit", id)
	}
	return table, line, parts[2], nil
}
