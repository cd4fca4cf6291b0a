package intake

import (
	"strconv"

	"shelfspan/study"
)

// tableChange is what a table itself says was changed of a result; texts, 0 where
// it says nothing.
type tableChange struct {
	result               uint32 // its index
	id                   uint32
	amended              [len(amendments)]tableAmendment
	excluded, excludedBy uint32
}

// tableAmendment is what a table says was amended of a part of a result: what it
// was, why, and by whom and when.
type tableAmendment struct{ from, because, by uint32 }

// amendments are the parts that a table tells of, each with its columns.
var amendments = [...]struct {
	part              study.Part
	from, because, by column
}{
	{study.PartValue, colAmendedFrom, colAmendedBecause, colAmendedBy},
	{study.PartPulled, colPulledFrom, colPulledBecause, colPulledBy},
	{study.PartTested, colTestedFrom, colTestedBecause, colTestedBy},
	{study.PartTare, colTareFrom, colTareBecause, colTareBy},
}

// readStudy refuses a row that says it belongs to another study.
func (r *reader) readStudy(fields [][]byte) {
	if b := r.field(fields, colStudy); len(b) > 0 && string(b) != r.study.ID {
		r.fault("study", func() string { return quote(b) + " is another study than this one, " + r.study.ID })
	}
}

// readChange reads what the row says was changed of its result; nil for nothing.
func (r *reader) readChange(fields [][]byte) *tableChange {
	if !r.head.changes {
		return nil
	}
	var c tableChange
	for i, a := range amendments {
		if r.head.at[a.from] >= 0 || r.head.at[a.because] >= 0 {
			c.amended[i] = tableAmendment{r.label(fields, a.from), r.label(fields, a.because), 0}
		}
	}
	c.excluded = r.label(fields, colExcludedBecause)
	if c == (tableChange{}) {
		return nil
	}
	for i, a := range amendments {
		c.amended[i].by = r.label(fields, a.by)
	}
	c.id, c.excludedBy = r.label(fields, colResultID), r.label(fields, colExcludedBy)
	if r.ledger && c.excluded != 0 {
		r.fault(columnNames[colExcludedBecause], func() string {
			return "a ledger takes no exclusion from a table; leave this empty, take the result in, then shelfspan amend ID --exclude --reason TEXT"
		})
	}
	return &c
}

// tableChanges gives what the tables say was changed, in the order of their rows.
func (r *reader) tableChanges() []study.Change {
	var out []study.Change
	for _, c := range r.changes {
		if r.gone(c.result) {
			continue
		}
		x := r.results[c.result]
		change := study.Change{ID: r.texts.list[c.id], Result: x}
		if c.id == 0 {
			change.ID = r.inputs[x.Input].Path + ":" + strconv.Itoa(int(x.Line))
		}
		for i, a := range c.amended {
			if a.from == 0 && (a.because == 0 || i == 0) { // a day or tare may not have been there; a value was
				continue
			}
			amended := change
			amended.Kind, amended.Part = study.Amended, amendments[i].part
			amended.Before, amended.After = r.texts.list[a.from], study.PartText(r.study, &x, amendments[i].part)
			amended.Reason, amended.By = r.texts.list[a.because], r.texts.list[a.by]
			out = append(out, amended)
		}
		change.Before = study.ValueText(r.study, &x)
		if c.excluded != 0 {
			change.Kind, change.Reason, change.By = study.Excluded, r.texts.list[c.excluded], r.texts.list[c.excludedBy]
			out = append(out, change)
		}
	}
	return out
}
