package intake

import (
	"strconv"

	"shelfspan/study"
)

// tableChange is what a table itself says was changed of a result; texts, 0 where
// it says nothing.
type tableChange struct {
	result                         uint32 // its index
	id                             uint32
	amended, amendedWhy, amendedBy uint32
	excluded, excludedBy           uint32
}

// readStudy refuses a row that says it belongs to another study.
func (r *reader) readStudy(fields [][]byte) {
	if b := r.field(fields, colStudy); len(b) > 0 && string(b) != r.study.ID {
		r.fault("study", func() string { return quote(b) + " is another study than this one, " + r.study.ID })
	}
}

// readChange reads what the row says was changed of its result.
func (r *reader) readChange(fields [][]byte) (c tableChange) {
	if r.head.at[colAmendedFrom] < 0 && r.head.at[colExcludedBecause] < 0 {
		return c
	}
	c.amended, c.excluded = r.label(fields, colAmendedFrom), r.label(fields, colExcludedBecause)
	if c == (tableChange{}) {
		return c
	}
	c.id, c.amendedWhy = r.label(fields, colResultID), r.label(fields, colAmendedBecause)
	c.amendedBy, c.excludedBy = r.label(fields, colAmendedBy), r.label(fields, colExcludedBy)
	if r.ledger && c.excluded != 0 {
		r.fault(columnNames[colExcludedBecause], func() string {
			return "a ledger takes no exclusion from a table; leave this empty, take the result in, then shelfspan amend ID --exclude --reason TEXT"
		})
	}
	return c
}

// tableChanges gives what the tables say was changed, in the order of their rows.
func (r *reader) tableChanges() []study.Change {
	var out []study.Change
	for _, c := range r.changes {
		if r.gone(c.result) {
			continue
		}
		x := r.results[c.result]
		change := study.Change{ID: r.texts.list[c.id], Result: x, Before: study.ValueText(r.study, &x)}
		if c.id == 0 {
			change.ID = r.inputs[x.Input].Path + ":" + strconv.Itoa(int(x.Line))
		}
		if c.amended != 0 {
			amended := change
			amended.Kind, amended.Before, amended.After = study.Amended, r.texts.list[c.amended], change.Before
			amended.Reason, amended.By = r.texts.list[c.amendedWhy], r.texts.list[c.amendedBy]
			out = append(out, amended)
		}
		if c.excluded != 0 {
			change.Kind, change.Reason, change.By = study.Excluded, r.texts.list[c.excluded], r.texts.list[c.excludedBy]
			out = append(out, change)
		}
	}
	return out
}
