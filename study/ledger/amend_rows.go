package ledger

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/intake"
)

// rowPlace is a row of the record's tables: the table by its index, and the line.
type rowPlace struct{ table, line int }

func rowOf(r *study.Result) rowPlace { return rowPlace{int(r.Input), int(r.Line)} }

// everyResult gives the results of a dataset, those out of the analysis among them.
func everyResult(d *study.Dataset) []*study.Result {
	all := make([]*study.Result, 0, len(d.Results)+len(d.Excluded))
	for _, list := range [][]study.Result{d.Results, d.Excluded} {
		for i := range list {
			all = append(all, &list[i])
		}
	}
	return all
}

// amendResultsRow amends a day or the tare in the row of a result, and in the rows
// that cannot have another.
func (w *writing) amendResultsRow(q AmendRequest, x *Record, before *study.Dataset, r *study.Result) (*AmendOutcome, error) {
	after, err := w.partValue(q)
	if err != nil {
		return nil, err
	}
	id := x.ResultID(r)
	if q.Part == study.PartTare && x.Study.Attributes[r.Attribute].Kind != study.Weighing {
		return nil, refuse("name a weighing of the unit", "%s is no weighing, and those alone have a tare", id)
	}
	if study.PartText(x.Study, r, q.Part) == after {
		return nil, refuse("", "%s %s already", id, map[study.Part]string{
			study.PartPulled: "was pulled on " + after, study.PartTested: "was tested on " + after, study.PartTare: "has a tare of " + after + " g",
		}[q.Part])
	}
	return w.amendRows(q, x, before, rowsWith(x.Study, before, r, q.Part), after, id)
}

// amendPull amends a day in all rows of a pull, or of some arms of it.
func (w *writing) amendPull(q AmendRequest, x *Record, pull int) (*AmendOutcome, error) {
	if q.Part != study.PartPulled && q.Part != study.PartTested {
		return nil, refuse("a value, a tare and an exclusion are those of one result: name it by its id", "of a whole pull only a day can be amended")
	}
	after, err := w.partValue(q)
	if err != nil {
		return nil, err
	}
	arms, err := x.armsOf(pull, q.Arms)
	if err != nil {
		return nil, err
	}
	if err := w.tables(x); err != nil {
		return nil, err
	}
	before, err := x.Dataset()
	if err != nil {
		return nil, err
	}
	p := &x.Schedule.Pulls[pull]
	rows := make(map[rowPlace]bool)
	any := false
	for _, r := range everyResult(before) {
		if r.Planned != p.Time || r.Planned.IsZero() != (p.Condition < 0) || p.Condition >= 0 && int(r.Condition) != p.Condition ||
			x.Study.TimeZero(int(r.Batch)) != p.Placed {
			continue
		}
		if arms != nil && !arms[x.armName(p.Condition, r)] {
			continue
		}
		any = true
		if study.PartText(x.Study, r, q.Part) != after {
			rows[rowOf(r)] = true
		}
	}
	switch {
	case !any:
		return nil, refuse("the day of a pull's record is corrected by shelfspan pull "+p.ID+" --withdraw and another record",
			"no results of pull %s were taken in", p.ID)
	case len(rows) == 0:
		return nil, refuse("", "every result of pull %s was %s on %s already", p.ID, q.Part, after)
	}
	return w.amendRows(q, x, before, rows, after, p.ID)
}

// armsOf reads the names of arms of a pull; nil for all.
func (x *Record) armsOf(pull int, names []string) (map[string]bool, error) {
	if len(names) == 0 {
		return nil, nil
	}
	p := &x.Schedule.Pulls[pull]
	var known []string
	for i := range p.Lines {
		known = append(known, x.Schedule.ArmName(p.Lines[i].Batch, p.Lines[i].Pack, p.Lines[i].Orientation))
	}
	chosen := make(map[string]bool)
	for _, name := range names {
		i := slices.IndexFunc(known, func(n string) bool { return strings.EqualFold(n, strings.Join(strings.Fields(name), " ")) })
		if i < 0 {
			return nil, refuse("its arms are "+list(known, 12), "pull %s takes nothing of an arm %q", p.ID, name)
		}
		chosen[known[i]] = true
	}
	return chosen, nil
}

// armName names the arm of a result; at time zero a sample stands in no way yet.
func (x *Record) armName(condition int, r *study.Result) string {
	orientation := int(r.Orientation)
	if condition < 0 {
		orientation = -1
	}
	return x.Schedule.ArmName(int(r.Batch), int(r.Pack), orientation)
}

// partValue reads the new day or tare of a request, and writes it as results do.
func (w *writing) partValue(q AmendRequest) (string, error) {
	text := strings.TrimSpace(q.Value)
	if q.Part == study.PartTare {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || !(v >= 0 && v <= 1e9) {
			return "", refuse("write it as 21.4", "%q is no tare in g", text)
		}
		return strconv.FormatFloat(v, 'f', -1, 64), nil
	}
	day, err := study.ParseDate(text)
	if err != nil {
		return "", refuse("", "%v", err)
	}
	if now := w.author.Now; day > study.NewDate(now.Year(), now.Month(), now.Day()) {
		return "", refuse("is the year right?", "%s is in the future", day)
	}
	return day.String(), nil
}

// rowsWith gives the row of a result and those that share the part with it: of a
// tare, all that weigh the unit; of the day pulled, those that are told from it by
// their order alone. What else stands in a row brings further ones.
func rowsWith(s *study.Study, d *study.Dataset, r *study.Result, part study.Part) map[rowPlace]bool {
	type shared struct {
		attribute, batch, pack uint16
		condition              int16
		orientation            uint8
		unit                   uint32
		planned                study.Duration
	}
	sharedBy := func(r *study.Result) (k shared, ok bool) {
		k = shared{attribute: r.Attribute, batch: r.Batch, pack: r.Pack, condition: r.Condition, orientation: r.Orientation}
		switch part {
		case study.PartTare:
			k.unit = r.Unit
			return k, s.Attributes[r.Attribute].Kind == study.Weighing
		case study.PartPulled:
			k.planned = r.Planned
			return k, r.Numbered
		}
		return k, false
	}
	all := everyResult(d)
	of := make(map[rowPlace][]shared)
	at := make(map[shared][]rowPlace)
	for _, r := range all {
		if k, ok := sharedBy(r); ok {
			of[rowOf(r)] = append(of[rowOf(r)], k)
			at[k] = append(at[k], rowOf(r))
		}
	}
	rows := map[rowPlace]bool{rowOf(r): true}
	for open := []rowPlace{rowOf(r)}; len(open) > 0; open = open[1:] {
		for _, k := range of[open[0]] {
			for _, row := range at[k] {
				if !rows[row] {
					rows[row] = true
					open = append(open, row)
				}
			}
			delete(at, k)
		}
	}
	return rows
}

// amendRows amends a day or the tare of rows by one event, and says which results
// it touches.
func (w *writing) amendRows(q AmendRequest, x *Record, before *study.Dataset, rows map[rowPlace]bool, after, subject string) (*AmendOutcome, error) {
	s := x.Study
	was := make(map[cell]*study.Result)
	d := rowsDetail{Part: q.Part, After: after}
	touch := func(r *study.Result, follows bool) {
		d.Touched = append(d.Touched, touchedDetail{
			Table: x.Tables[r.Input].Event.Seq, Line: int(r.Line), Attribute: s.Attributes[r.Attribute].ID,
			Before: study.PartText(s, r, q.Part), Follows: follows,
		})
	}
	for _, r := range everyResult(before) {
		was[cell{int(r.Input), intake.Cell{Line: int(r.Line), Attribute: int(r.Attribute)}}] = r
		if rows[rowOf(r)] && (q.Part != study.PartTare || s.Attributes[r.Attribute].Kind == study.Weighing) && study.PartText(s, r, q.Part) != after {
			touch(r, false)
		}
	}
	kept := len(x.changes)
	draft := Event{Kind: study.EventAmendRows, Reason: q.Reason, Seq: w.head.Seq + 1}
	x.changes = append(x.changes, d.changes(draft)...)
	changed, err := x.readChanged()
	if err != nil {
		return nil, err
	}
	for _, r := range everyResult(changed) {
		old := was[cell{int(r.Input), intake.Cell{Line: int(r.Line), Attribute: int(r.Attribute)}}]
		if old == nil {
			continue // a repeat of one that has moved, which is told below
		}
		if old.Planned != r.Planned {
			// Its key would be another, and a table that has the row again a second result.
			return nil, refuse("exclude the result, and hand in a row with the right day",
				"the row of %s names no planned time: by %s it would stand at %s and not at %s", x.ResultID(old), after, r.Planned, old.Planned)
		}
		if !rows[rowOf(r)] && study.PartText(s, old, q.Part) != study.PartText(s, r, q.Part) {
			touch(old, true)
		}
	}
	slices.SortFunc(d.Touched, func(a, b touchedDetail) int {
		return cmp.Or(cmp.Compare(a.Table, b.Table), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Attribute, b.Attribute))
	})
	e, err := w.append(Event{Kind: study.EventAmendRows, Study: s.ID, Subject: subject, Reason: q.Reason}, d)
	if err != nil {
		return nil, err
	}
	x.changes = append(x.changes[:kept], d.changes(e)...)
	out, err := w.amended(x, e, len(d.Touched))
	if err != nil {
		return nil, err
	}
	if q.Part == study.PartPulled {
		out.Warnings = x.recordedOtherwise(out.Changes, after)
	}
	return out, nil
}

// recordedOtherwise warns of pulls whose records have other days than their results
// were amended to.
func (x *Record) recordedOtherwise(changes []study.Change, day string) []finding.Warning {
	s := x.Study
	var out []finding.Warning
	told := make(map[string]bool)
	for i := range changes {
		r := &changes[i].Result
		var pull, days string
		agrees := false
		for j := range x.Pulls {
			p := &x.Pulls[j]
			if p.Withdrawn || p.Time != r.Planned || p.Condition != "" && (r.Condition < 0 || p.Condition != s.Conditions[r.Condition].ID) {
				continue
			}
			for _, t := range p.Lines {
				if t.Batch == s.Batches[r.Batch].ID && t.Pack == s.Packs[r.Pack].ID &&
					(p.Condition == "" || t.Orientation == string(s.Packs[r.Pack].Orientations[r.Orientation])) {
					pull, days = p.Pull, fmt.Sprintf("%s (event %d)", p.Day, p.Event)
					agrees = agrees || p.Day.String() == day
				}
			}
		}
		if pull != "" && !agrees && !told[pull] {
			told[pull] = true
			out = append(out, finding.Warning{Code: "recorded-otherwise", Where: pull,
				Text: "its results are amended to " + day + ", and it is recorded for " + days + "; where the record is wrong: shelfspan pull " + pull +
					" --withdraw --reason TEXT, then shelfspan pull " + pull + " --date " + day})
		}
	}
	return out
}
