package ledger

import (
	"cmp"
	"slices"

	"shelfspan/study"
)

// Rows gives the results of the record's dataset for people to look up, those
// out of the analysis among them, in the order of their tables and lines.
func (x *Record) Rows(d *study.Dataset) []study.ResultRow {
	changes := make(map[string][]study.Change)
	for i := range d.Changes {
		c := &d.Changes[i]
		changes[c.ID] = append(changes[c.ID], *c)
	}
	all := make([]*study.Result, 0, len(d.Results)+len(d.Excluded))
	for _, list := range [][]study.Result{d.Results, d.Excluded} {
		for i := range list {
			all = append(all, &list[i])
		}
	}
	slices.SortStableFunc(all, func(a, b *study.Result) int {
		return cmp.Or(cmp.Compare(a.Input, b.Input), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Attribute, b.Attribute))
	})
	rows := make([]study.ResultRow, 0, len(all))
	s := x.Study
	for _, r := range all {
		a := &s.Attributes[r.Attribute]
		row := study.ResultRow{
			ID: x.ResultID(r), Batch: s.Batches[r.Batch].ID, Pack: s.Packs[r.Pack].ID, Time: r.Planned.String(),
			Pulled: r.Pulled.String(), Tested: r.Tested.String(), Attribute: a.ID, Unit: d.Text(r.Unit), Replicate: d.Text(r.Replicate),
			Value: study.ValueText(s, r), Measure: a.Unit, Table: x.Tables[r.Input].Name, Line: int(r.Line),
			Analyst: d.Text(r.Analyst), Method: d.Text(r.Method), Comment: d.Text(r.Comment),
		}
		if a.Kind == study.Weighing {
			row.Measure = "g"
		}
		orientation := int(r.Orientation)
		if r.Condition >= 0 {
			row.Condition = s.Conditions[r.Condition].ID
			row.Standing = string(s.Packs[r.Pack].Orientations[r.Orientation])
		} else {
			orientation = -1
		}
		row.Arm = x.Schedule.ArmName(int(r.Batch), int(r.Pack), orientation)
		row.Changes = changes[row.ID]
		rows = append(rows, row)
	}
	return rows
}
