package ledger

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"shelfspan/study"
	"shelfspan/study/protocol"
	"shelfspan/study/schedule"
	"shelfspan/study/spelling"
)

// Record is what a ledger holds of one study, as it stood at one event.
type Record struct {
	Study    *study.Study // by the protocol in force
	Schedule *schedule.Schedule
	Mark     study.Mark
	Protocol study.Input // the study file in force
	Versions []Version   // ascending
	Pulls    []study.PullRecord
	Tables   []Table // of results, in the order they were taken in

	// Overtaken is empty but where a day was asked for and an event behind its
	// state is dated on or before it: the first event of a later day, and that one.
	Overtaken []Event

	changes []change // of results, in their order
}

// progress is how far the plan in force has come.
func (x *Record) progress() *schedule.Progress {
	return &schedule.Progress{Schedule: x.Schedule, Records: x.Pulls}
}

// Version is one version of a study's protocol.
type Version struct {
	Number int
	Event  Event
	Name   string // of the study file, as it was registered
}

// Table is a table of results that was taken in.
type Table struct {
	Event   Event
	Name    string // of the file
	Rows    int
	Results int // values taken in
	Again   int // values that were in the ledger already
	data    []byte
}

// The details of events, as they stand in the chain.
type (
	registerDetail struct {
		Name    string `json:"name"`
		Version int    `json:"version"`
		Pulls   int    `json:"pulls"`
		Plan    string `json:"plan"` // SHA-256 of the stored plan
	}
	pullDetail struct {
		Day       string            `json:"day"`
		Condition string            `json:"condition,omitempty"` // empty at time zero
		Time      string            `json:"time"`
		Outside   int               `json:"outside,omitempty"`
		Other     bool              `json:"other_units,omitempty"`
		Note      string            `json:"note,omitempty"`
		Lines     []study.TakenLine `json:"lines,omitempty"`
	}
	withdrawnDetail struct {
		Records []int64 `json:"records,omitempty"` // numbers of the events that are taken back
	}
	intakeDetail struct {
		Rows    int `json:"rows"`
		Results int `json:"results"`
		Again   int `json:"again,omitempty"`
	}
	changeDetail struct {
		Table     int64  `json:"table"` // number of the event that took the result in
		Line      int    `json:"line"`
		Attribute string `json:"attribute"`
		Before    string `json:"before"`
		After     string `json:"after,omitempty"`
	}
	rowsDetail struct {
		Part    study.Part      `json:"part"`
		After   string          `json:"after"`
		Touched []touchedDetail `json:"touched"` // results, by table, line and attribute
	}
	touchedDetail struct {
		Table     int64  `json:"table"`
		Line      int    `json:"line"`
		Attribute string `json:"attribute"`
		Before    string `json:"before,omitempty"` // empty where it had none
		// Follows says that not the row of this result was amended, but one that it
		// has its day or tare from.
		Follows bool `json:"follows,omitempty"`
	}
)

// change is a change of a result, and the event it was made by.
type change struct {
	event Event
	changeDetail
	part    study.Part // empty: the value, or whether it is in the analysis
	follows bool       // see touchedDetail
}

// changes gives the changes of the results that an event touches.
func (d *rowsDetail) changes(e Event) []change {
	out := make([]change, len(d.Touched))
	for i, t := range d.Touched {
		out[i] = change{event: e, part: d.Part, follows: t.Follows,
			changeDetail: changeDetail{Table: t.Table, Line: t.Line, Attribute: t.Attribute, Before: t.Before, After: d.After}}
	}
	return out
}

// AsOf names a state of a ledger: its last event, or a day, which stands for the
// event before the first that was recorded on a later one. The zero value is the
// state now.
type AsOf struct {
	Event int64
	Day   study.Date // used where HasDay
	// HasDay says that Day is meant.
	HasDay bool
}

// ParseAsOf reads a day, 2026-11-25, or the number of an event.
func ParseAsOf(s string) (AsOf, error) {
	if n, err := strconv.ParseInt(strings.TrimPrefix(s, "#"), 10, 64); err == nil && n > 0 {
		return AsOf{Event: n}, nil
	}
	day, err := study.ParseDate(s)
	if err != nil {
		return AsOf{}, refuse("write a day, as 2026-11-25, or the number of an event, as shelfspan audit lists them", "%q names no state of a ledger", s)
	}
	return AsOf{Day: day, HasDay: true}, nil
}

// resolve gives the number of the last event of a state; of a ledger without
// events 0.
func (r *reading) resolve(at AsOf) (int64, error) {
	var last int64
	if err := r.tx.QueryRowContext(r.ctx, `SELECT coalesce(max(seq), 0) FROM event`).Scan(&last); err != nil {
		return 0, err
	}
	switch {
	case at.HasDay:
		// What stands behind an event of a later day came later, whatever its own
		// clock said: a clock set back must not change what stood on a day that is
		// over. The first ten letters of a time are its day.
		var later int64
		err := r.tx.QueryRowContext(r.ctx, `SELECT coalesce(min(seq), 0) FROM event WHERE substr(at, 1, 10) > $1`, at.Day.String()).Scan(&later)
		switch {
		case err != nil:
			return 0, err
		case later == 1:
			return 0, refuse("shelfspan audit lists the events with their days; name one by its number", "the ledger has nothing as of %s: its first event is dated later", at.Day)
		case last == 0:
			return 0, refuse("shelfspan register STUDY.toml begins it", "the ledger has no event yet")
		case later == 0:
			return last, nil
		}
		return later - 1, nil
	case at.Event > last:
		return 0, refuse("shelfspan audit lists the events", "the ledger has no event %d; its last is %d", at.Event, last)
	case at.Event > 0:
		return at.Event, nil
	}
	return last, nil
}

// overtaken gives the first event that is dated on or before a day and stands
// behind the state of that day, with the event of a later day before it; none where
// the clocks never went back.
func (r *reading) overtaken(at AsOf, last int64) ([]Event, error) {
	if !at.HasDay {
		return nil, nil
	}
	found, err := r.events(`WHERE seq > $1 AND substr(at, 1, 10) <= $2 ORDER BY seq LIMIT 1`, last, at.Day.String())
	if err != nil || len(found) == 0 {
		return nil, err
	}
	later, err := r.events(`WHERE seq = $1`, last+1)
	return append(later, found...), err
}

// Study gives what a ledger holds of a study at a state.
func (l *Ledger) Study(ctx context.Context, id string, at AsOf) (*Record, error) {
	var out *Record
	err := l.read(ctx, func(r *reading) error {
		last, err := r.resolve(at)
		if err != nil {
			return err
		}
		if out, err = r.record(id, last); err != nil {
			return err
		}
		if out.Overtaken, err = r.overtaken(at, last); err != nil {
			return err
		}
		return r.tables(out)
	})
	return out, err
}

// Studies gives the ids of the studies in the ledger, ascending.
func (l *Ledger) Studies(ctx context.Context, at AsOf) (ids []string, err error) {
	err = l.read(ctx, func(r *reading) error {
		last, err := r.resolve(at)
		if err != nil {
			return err
		}
		ids, err = r.studies(last)
		return err
	})
	return ids, err
}

func (r *reading) studies(upTo int64) (ids []string, err error) {
	rows, err := r.tx.QueryContext(r.ctx, `SELECT DISTINCT study FROM event WHERE kind = $1 AND seq <= $2`, string(study.EventRegister), upTo)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	slices.Sort(ids)
	return ids, rows.Err()
}

// record reads a study's events up to one, and the protocol in force with them.
func (r *reading) record(id string, upTo int64) (*Record, error) {
	events, err := r.events(`WHERE study = $1 AND seq <= $2 ORDER BY seq`, id, upTo)
	if err != nil {
		return nil, err
	}
	if len(events) == 0 {
		return nil, r.unknownStudy(id, upTo)
	}
	x := &Record{}
	for _, e := range events {
		if err := x.add(e); err != nil {
			return nil, err
		}
	}
	return x, r.complete(x)
}

// complete reads the protocol in force of a record whose events are all there.
func (r *reading) complete(x *Record) error {
	current := x.Versions[len(x.Versions)-1]
	data, err := r.file(current.Event.File)
	if err != nil {
		return err
	}
	if x.Study, err = protocol.Read(current.Name, data); err != nil {
		return unreadable(current.Event, err)
	}
	x.Protocol = study.Input{Path: current.Name, SHA256: current.Event.File}
	x.Schedule = schedule.Plan(x.Study)
	return nil
}

// tables reads the bytes of the tables of a record.
func (r *reading) tables(x *Record) (err error) {
	for i := range x.Tables {
		if x.Tables[i].data, err = r.file(x.Tables[i].Event.File); err != nil {
			return err
		}
	}
	return nil
}

// unreadable is the Trouble of a stored file that was good when it came and is
// refused now.
func unreadable(e Event, err error) error {
	return &Trouble{
		Text: fmt.Sprintf("what event %d stored is not read any more: %v", e.Seq, err),
		Hint: "was it written by another version of shelfspan? shelfspan audit --verify says whether the ledger is sound", Err: err,
	}
}

func (r *reading) unknownStudy(id string, upTo int64) error {
	ids, err := r.studies(upTo)
	if err != nil {
		return err
	}
	hint := "it has none yet: shelfspan register STUDY.toml"
	if near := spelling.Nearest(id, ids); near != "" {
		hint = "did you mean " + near + "?"
	} else if len(ids) > 0 {
		hint = "it has " + list(ids, 12)
	}
	return refuse(hint, "the ledger has no study %q", id)
}

// list writes up to most words and counts the others.
func list(words []string, most int) string {
	if len(words) > most {
		return strings.Join(words[:most], ", ") + fmt.Sprintf(" and %d more", len(words)-most)
	}
	return strings.Join(words, ", ")
}

// add takes one event, in its order, into the record.
func (x *Record) add(e Event) error {
	bad := func(err error) error {
		return &Trouble{Text: fmt.Sprintf("event %d of the ledger is not understood", e.Seq), Hint: "shelfspan audit --verify says whether it is damaged", Err: err}
	}
	if len(x.Versions) == 0 && e.Kind != study.EventRegister {
		return bad(nil)
	}
	x.Mark.Event, x.Mark.At, x.Mark.Hash = e.Seq, e.At, e.Hash
	switch e.Kind {
	case study.EventRegister:
		var d registerDetail
		if err := json.Unmarshal([]byte(e.Detail), &d); err != nil {
			return bad(err)
		}
		x.Versions = append(x.Versions, Version{Number: d.Version, Event: e, Name: d.Name})
		x.Mark.Version = d.Version
	case study.EventPull, study.EventPullPart, study.EventPullWithdrawn:
		var d pullDetail
		if err := json.Unmarshal([]byte(e.Detail), &d); err != nil {
			return bad(err)
		}
		if e.Kind == study.EventPullWithdrawn {
			for i := range x.Pulls {
				x.Pulls[i].Withdrawn = x.Pulls[i].Withdrawn || x.Pulls[i].Pull == e.Subject
			}
			return nil
		}
		p, err := pullRecord(e, d)
		if err != nil {
			return bad(err)
		}
		x.Pulls = append(x.Pulls, p)
	case study.EventIntake:
		var d intakeDetail
		if err := json.Unmarshal([]byte(e.Detail), &d); err != nil {
			return bad(err)
		}
		x.Tables = append(x.Tables, Table{Event: e, Name: e.Subject, Rows: d.Rows, Results: d.Results, Again: d.Again})
	case study.EventAmend, study.EventExclude, study.EventRestore:
		c := change{event: e}
		if err := json.Unmarshal([]byte(e.Detail), &c.changeDetail); err != nil {
			return bad(err)
		}
		x.changes = append(x.changes, c)
	case study.EventAmendRows:
		var d rowsDetail
		if err := json.Unmarshal([]byte(e.Detail), &d); err != nil {
			return bad(err)
		}
		x.changes = append(x.changes, d.changes(e)...)
	default:
		return bad(nil) // a newer program's; leaving it out might leave out a result's correction
	}
	return nil
}

// pullRecord reads what an event says of a pull.
func pullRecord(e Event, d pullDetail) (study.PullRecord, error) {
	day, err := study.ParseDate(d.Day)
	if err != nil {
		return study.PullRecord{}, err
	}
	at, err := study.ParseDuration(d.Time)
	if err != nil {
		return study.PullRecord{}, err
	}
	return study.PullRecord{
		Pull: e.Subject, Condition: d.Condition, Time: at, Day: day, Lines: d.Lines, Other: d.Other, Outside: d.Outside,
		Complete: e.Kind == study.EventPull, Reason: e.Reason, Note: d.Note, By: e.By, At: e.At, Event: e.Seq,
	}, nil
}
