package ledger

import (
	"context"
	"errors"
	"strings"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// AmendRequest says how a result is to be changed: by a new Value of a part of it,
// or by Exclude or Restore.
type AmendRequest struct {
	ID   string     // of the result
	Pull string     // in its place, for a day: the id of a pull, all of whose rows are amended
	Arms []string   // of the pull, only those of these arms, as the plan names them ("B1 tube upright"); none: all
	Part study.Part // what Value is; empty: the value

	Value   string // as a table would write it; a day as 2026-04-02
	Exclude bool   // take it out of the analysis
	Restore bool   // put it back
	Reason  string
}

// AmendOutcome is what was recorded.
type AmendOutcome struct {
	Dataset  *study.Dataset // with the change
	Changes  []study.Change // of each result that was touched
	Warnings []finding.Warning
	Behind   bool // the clock of this machine is behind the ledger's last event
}

// Amend supersedes a result or what its row says, takes it out of the analysis or puts it back. What
// stood before stays readable. The error is a *Refusal, a *Trouble, or the
// *finding.Faults that the results would have with it.
func (l *Ledger) Amend(ctx context.Context, a Author, q AmendRequest) (*AmendOutcome, error) {
	var d changeDetail
	if q.Pull == "" {
		var err error
		if d.Table, d.Line, d.Attribute, err = parseResultID(q.ID); err != nil {
			return nil, err
		}
	}
	if err := errors.Join(needReason("changing a result", q.Reason), checkText("the value", q.Value, 100)); err != nil {
		return nil, err
	}
	var out *AmendOutcome
	err := l.write(ctx, a, func(w *writing) (err error) {
		out, err = w.amend(q, d)
		return err
	})
	return out, err
}

const whereResults = "shelfspan results --study ID lists the results with their ids"

func (w *writing) amend(q AmendRequest, d changeDetail) (*AmendOutcome, error) {
	if q.Pull != "" {
		x, pull, err := w.findPull(q.Pull)
		if err != nil {
			return nil, err
		}
		return w.amendPull(q, x, pull)
	}
	x, err := w.studyOf(q.ID, d.Table)
	if err != nil {
		return nil, err
	}
	for i := range x.Study.Attributes {
		if id := x.Study.Attributes[i].ID; strings.EqualFold(id, d.Attribute) {
			d.Attribute = id
		}
	}
	k := x.cellOf(x.Study, &d)
	before, err := x.Dataset()
	if err != nil {
		return nil, err
	}
	r := find(before, k)
	if r == nil && k.Attribute < 0 {
		return nil, refuse(whereResults, "the ledger has no result %s", q.ID)
	}
	if q.Part != "" && q.Part != study.PartValue {
		if r != nil {
			return w.amendResultsRow(q, x, before, r)
		}
		q.Exclude = true // of none: the reader says what is wrong with that
	}
	return w.amendValue(q, x, d, before, r)
}

// studyOf reads the study whose result an id names, by the table in it.
func (w *writing) studyOf(id string, table int64) (*Record, error) {
	from, err := w.events(`WHERE seq = $1 AND kind = $2`, table, string(study.EventIntake))
	if err != nil {
		return nil, err
	}
	if len(from) == 0 {
		return nil, refuse(whereResults, "the ledger has no result %s", id)
	}
	x, err := w.record(from[0].Study, w.head.Seq)
	if err != nil {
		return nil, err
	}
	return x, w.tables(x)
}

// amendValue changes the value of a result, or whether it is in the analysis; r is
// nil where the dataset has none there, and the reader says what is wrong with that.
func (w *writing) amendValue(q AmendRequest, x *Record, d changeDetail, before *study.Dataset, r *study.Result) (*AmendOutcome, error) {
	k := x.cellOf(x.Study, &d)
	if r != nil {
		d.Before = study.ValueText(x.Study, r)
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
	if _, err := x.readChanged(); err != nil {
		return nil, err
	}
	e, err := w.append(Event{Kind: kind, Study: x.Study.ID, Subject: resultID(d.Table, d.Line, d.Attribute), Reason: q.Reason}, d)
	if err != nil {
		return nil, err
	}
	x.changes[len(x.changes)-1].event = e
	out, err := w.amended(x, e, 1)
	if err != nil {
		return nil, err
	}
	r = find(out.Dataset, k)
	if kind == study.EventAmend && r != nil && study.ValueText(x.Study, r) == d.Before {
		return nil, refuse("", "%s is %s already", q.ID, d.Before)
	}
	return out, nil
}

// readChanged reads the tables of a record with a change that is not kept yet.
func (x *Record) readChanged() (*study.Dataset, error) {
	d, _, err := x.read(x.Study)
	var faults *finding.Faults
	if errors.As(err, &faults) && faults.Hint == "" {
		faults.Hint = "these are the tables as they would stand with the change; nothing was changed"
	}
	return d, err
}

// amended gives the outcome of an event that made the last n changes.
func (w *writing) amended(x *Record, e Event, n int) (*AmendOutcome, error) {
	x.Mark = study.Mark{Event: e.Seq, At: e.At, Hash: e.Hash, Version: x.Mark.Version}
	after, err := x.Dataset()
	if err != nil {
		return nil, err
	}
	return &AmendOutcome{Dataset: after, Changes: after.Changes[len(after.Changes)-n:], Behind: w.behind}, nil
}

func isExcluded(d *study.Dataset, k cell) bool {
	for i := range d.Excluded {
		if r := &d.Excluded[i]; int(r.Input) == k.table && int(r.Line) == k.Line && int(r.Attribute) == k.Attribute {
			return true
		}
	}
	return false
}
