package ledger

import (
	"context"
	"errors"
	"strings"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// AmendRequest says how a result is to be changed: by a new Value, or by Exclude
// or Restore.
type AmendRequest struct {
	ID      string // of the result
	Value   string // as a table would write it
	Exclude bool   // take it out of the analysis
	Restore bool   // put it back
	Reason  string
}

// AmendOutcome is what was recorded.
type AmendOutcome struct {
	Dataset *study.Dataset // with the change
	Change  study.Change
	Behind  bool // the clock of this machine is behind the ledger's last event
}

// Amend supersedes a result, takes it out of the analysis or puts it back. What
// stood before stays readable. The error is a *Refusal, a *Trouble, or the
// *finding.Faults that the results would have with it.
func (l *Ledger) Amend(ctx context.Context, a Author, q AmendRequest) (*AmendOutcome, error) {
	table, line, attribute, err := parseResultID(q.ID)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(needReason("changing a result", q.Reason), checkText("the value", q.Value, 100)); err != nil {
		return nil, err
	}
	var out *AmendOutcome
	err = l.write(ctx, a, func(w *writing) (err error) {
		out, err = w.amend(q, table, line, attribute)
		return err
	})
	return out, err
}

func (w *writing) amend(q AmendRequest, table int64, line int, attribute string) (*AmendOutcome, error) {
	const where = "shelfspan results --study ID lists the results with their ids"
	from, err := w.events(`WHERE seq = $1 AND kind = $2`, table, string(study.EventIntake))
	if err != nil {
		return nil, err
	}
	if len(from) == 0 {
		return nil, refuse(where, "the ledger has no result %s", q.ID)
	}
	x, err := w.record(from[0].Study, w.head.Seq)
	if err != nil {
		return nil, err
	}
	if err := w.tables(x); err != nil {
		return nil, err
	}
	for i := range x.Study.Attributes {
		if id := x.Study.Attributes[i].ID; strings.EqualFold(id, attribute) {
			attribute = id
		}
	}
	d := changeDetail{Table: table, Line: line, Attribute: attribute}
	k := x.cellOf(x.Study, &d)
	before, err := x.Dataset()
	if err != nil {
		return nil, err
	}
	r := find(before, k)
	if r != nil {
		d.Before = study.ValueText(x.Study, r)
	} else if k.Attribute < 0 {
		return nil, refuse(where, "the ledger has no result %s", q.ID)
	}
	kind := study.EventAmend
	switch excluded := isExcluded(before, k); {
	case q.Exclude && excluded:
		return nil, refuse("", "%s is out of the analysis already", q.ID)
	case q.Restore && !excluded && r != nil:
		return nil, refuse("", "%s is in the analysis", q.ID)
	case q.Exclude:
		kind = study.EventExclude // of none, too: the reader says what is wrong with that
	case q.Restore:
		kind = study.EventRestore
	default:
		d.After = strings.TrimSpace(q.Value)
	}
	x.changes = append(x.changes, change{event: Event{Kind: kind, Reason: q.Reason, Seq: w.head.Seq + 1}, changeDetail: d})
	if _, _, err = x.read(x.Study); err != nil {
		var faults *finding.Faults
		if errors.As(err, &faults) && faults.Hint == "" {
			faults.Hint = "these are the tables as they would stand with the change; nothing was changed"
		}
		return nil, err
	}
	e, err := w.append(Event{Kind: kind, Study: x.Study.ID, Subject: resultID(table, line, attribute), Reason: q.Reason}, d)
	if err != nil {
		return nil, err
	}
	last := &x.changes[len(x.changes)-1]
	last.event = e
	x.Mark = study.Mark{Event: e.Seq, At: e.At, Hash: e.Hash, Version: x.Mark.Version}
	after, err := x.Dataset()
	if err != nil {
		return nil, err
	}
	r = find(after, k)
	if kind == study.EventAmend && r != nil && study.ValueText(x.Study, r) == d.Before {
		return nil, refuse("", "%s is %s already", q.ID, d.Before)
	}
	return &AmendOutcome{Dataset: after, Change: after.Changes[len(after.Changes)-1], Behind: w.behind}, nil
}

func isExcluded(d *study.Dataset, k cell) bool {
	for i := range d.Excluded {
		if r := &d.Excluded[i]; int(r.Input) == k.table && int(r.Line) == k.Line && int(r.Attribute) == k.Attribute {
			return true
		}
	}
	return false
}
