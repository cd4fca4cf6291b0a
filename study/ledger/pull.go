package ledger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"shelfspan/study"
	"shelfspan/study/schedule"
	"shelfspan/study/spelling"
)

// PullRequest says what was taken.
type PullRequest struct {
	Pull   string     // its id
	Day    study.Date // on which it was taken; NoDate: today
	Arms   []string   // of which arms, as the plan names them ("B1 tube upright"); none: all that are not taken yet
	Units  *int       // units opened, of those arms together; nil: those planned
	Final  bool       // nothing more will be taken of the pull; without arms and units nothing was taken now either
	Reason string     // of a deviation from the plan
	Note   string
}

// PullOutcome is what was recorded.
type PullOutcome struct {
	Record   study.PullRecord
	Study    *study.Study
	Pull     *schedule.Pull
	Complete bool
	Units    int  // still to be opened
	Returned int  // still to be measured and put back
	Behind   bool // the clock of this machine is behind the ledger's last event
}

// slipOfDate is how many days a pull can be from its planned day before it is
// a slip of the pen: the same as where results are read.
const slipOfDate = 366

// Pull records what was taken at a pull. What departs from the plan (a day
// outside the window, other units than planned, a pull ended short) needs a
// reason and is a deviation. The error is a *Refusal or a *Trouble.
func (l *Ledger) Pull(ctx context.Context, a Author, q PullRequest) (*PullOutcome, error) {
	var out *PullOutcome
	err := l.write(ctx, a, func(w *writing) (err error) {
		out, err = w.pull(q)
		return err
	})
	return out, err
}

// WithdrawPull records that the earlier records of a pull were in error; they
// stay readable, and the pull is due again.
func (l *Ledger) WithdrawPull(ctx context.Context, a Author, id, reason string) (*PullOutcome, error) {
	var out *PullOutcome
	err := l.write(ctx, a, func(w *writing) error {
		x, i, err := w.findPull(id)
		if err != nil {
			return err
		}
		p := &x.Schedule.Pulls[i]
		if err := needReason("taking back the record of a pull", reason); err != nil {
			return err
		}
		var d withdrawnDetail
		for _, r := range x.Pulls {
			if r.Pull == p.ID && !r.Withdrawn {
				d.Records = append(d.Records, r.Event)
			}
		}
		if len(d.Records) == 0 {
			return refuse("shelfspan status --study "+x.Study.ID+" shows what was pulled", "nothing is recorded of pull %s", p.ID)
		}
		e, err := w.append(Event{Kind: study.EventPullWithdrawn, Study: x.Study.ID, Subject: p.ID, Reason: reason}, d)
		if err != nil {
			return err
		}
		out = &PullOutcome{Record: study.PullRecord{Pull: p.ID, Event: e.Seq, By: e.By, At: e.At, Reason: reason, Withdrawn: true},
			Study: x.Study, Pull: p, Units: p.Units(), Returned: p.Returned(), Behind: w.behind}
		return nil
	})
	return out, err
}

// needReason refuses a blank reason.
func needReason(what, reason string) error {
	if err := checkText("the reason", reason, 1000); err != nil {
		return err
	}
	if strings.TrimSpace(reason) == "" {
		return refuse("say why with --reason TEXT; it is kept and reported", "%s needs a reason", what)
	}
	return nil
}

// findPull finds the study and the planned pull that an id names; letters may
// be typed in either case.
func (r *reading) findPull(id string) (*Record, int, error) {
	last, err := r.resolve(AsOf{})
	if err != nil {
		return nil, 0, err
	}
	ids, err := r.studies(last)
	if err != nil {
		return nil, 0, err
	}
	var near []string
	for _, s := range ids {
		if len(id) <= len(s) || !strings.EqualFold(id[:len(s)], s) || id[len(s)] != '-' {
			continue
		}
		x, err := r.record(s, last)
		if err != nil {
			return nil, 0, err
		}
		for i := range x.Schedule.Pulls {
			p := &x.Schedule.Pulls[i]
			if strings.EqualFold(p.ID, id) && len(p.Lines) > 0 {
				return x, i, nil
			}
			near = append(near, p.ID)
		}
	}
	hint := "shelfspan due lists the pulls that are due, and shelfspan status --study ID those of a study"
	stem := func(id string) string { return id[:strings.LastIndexByte(id, '-')+1] }
	alike := slices.DeleteFunc(slices.Clone(near), func(n string) bool { return !strings.EqualFold(stem(n), stem(id)) })
	if n := spelling.Nearest(id, near); len(alike) > 0 {
		hint = "there are " + list(alike, 12)
	} else if n != "" {
		hint = "did you mean " + n + "?"
	}
	return nil, 0, refuse(hint, "no study of the ledger plans a pull %q", id)
}

func (w *writing) pull(q PullRequest) (*PullOutcome, error) {
	x, i, err := w.findPull(q.Pull)
	if err != nil {
		return nil, err
	}
	p := &x.Schedule.Pulls[i]
	if err := errors.Join(checkText("the reason", q.Reason, 1000), checkText("the note", q.Note, 1000)); err != nil {
		return nil, err
	}
	outside, err := w.checkDay(x, p, &q)
	if err != nil {
		return nil, err
	}
	lines, departs, err := x.take(i, &q)
	if err != nil {
		return nil, err
	}
	if departs != "" && strings.TrimSpace(q.Reason) == "" {
		return nil, refuse("say why with --reason TEXT; it is kept and reported as a deviation", "%s", departs)
	}
	r := study.PullRecord{Pull: p.ID, Time: p.Time, Day: q.Day, Lines: lines, Other: departs != "", Outside: outside, Reason: q.Reason, Note: q.Note}
	if p.Condition >= 0 {
		r.Condition = x.Study.Conditions[p.Condition].ID
	}
	x.Pulls = append(x.Pulls, r)
	progress := x.progress()
	units, returned, _ := progress.StillToTake(p.ID)
	r.Complete = q.Final || !slices.ContainsFunc(progress.Lines(i), func(s schedule.LineState) bool { return !s.Taken() })
	kind := study.EventPullPart
	if r.Complete {
		kind = study.EventPull
	}
	e, err := w.append(Event{Kind: kind, Study: x.Study.ID, Subject: p.ID, Reason: r.Reason}, pullDetail{
		Day: r.Day.String(), Condition: r.Condition, Time: r.Time.String(), Other: r.Other, Outside: r.Outside, Note: r.Note, Lines: r.Lines,
	})
	if err != nil {
		return nil, err
	}
	r.By, r.At, r.Event = e.By, e.At, e.Seq
	return &PullOutcome{Record: r, Study: x.Study, Pull: p, Complete: r.Complete, Units: units, Returned: returned, Behind: w.behind}, nil
}

// checkDay settles the day of a pull and gives the days by which it misses the
// window.
func (w *writing) checkDay(x *Record, p *schedule.Pull, q *PullRequest) (int, error) {
	now := w.author.Now
	today := study.NewDate(now.Year(), now.Month(), now.Day())
	if q.Day == study.NoDate {
		q.Day = today
	}
	switch {
	case q.Day > today:
		return 0, refuse("--date takes the day the samples were really taken", "%s is in the future; today is %s", q.Day, today)
	case p.Condition >= 0 && q.Day < p.Placed:
		return 0, refuse("is the year right?", "%s is before time zero of these samples, %s", q.Day, p.Placed)
	case max(q.Day-p.Due, p.Due-q.Day) > slipOfDate:
		return 0, refuse("is the year right? --date takes the day the samples were really taken", "%s is more than a year from the planned day of pull %s, %s", q.Day, p.ID, p.Date)
	}
	outside := 0
	switch {
	case q.Day < p.Earliest:
		outside = -int(p.Earliest - q.Day)
	case q.Day > p.Latest:
		outside = int(q.Day - p.Latest)
	}
	if outside != 0 && strings.TrimSpace(q.Reason) == "" {
		which := fmt.Sprintf("%s after its window closed, on %s", days(outside), p.Latest)
		if outside < 0 {
			which = fmt.Sprintf("%s before its window opens, on %s", days(-outside), p.Earliest)
		}
		return 0, refuse("say why with --reason TEXT; it is kept and reported as a deviation", "%s is %s", q.Day, which)
	}
	return outside, nil
}

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

func units(n int) string {
	if n == 1 {
		return "1 unit"
	}
	return fmt.Sprintf("%d units", n)
}

// take settles what is taken of which arms. Departs says in what it departs from
// the plan, where it needs a reason.
func (x *Record) take(pull int, q *PullRequest) (lines []study.TakenLine, departs string, err error) {
	p := &x.Schedule.Pulls[pull]
	progress := x.progress()
	states := progress.Lines(pull)
	names := make([]string, len(states))
	for i, s := range states {
		names[i] = x.Schedule.ArmName(s.Line.Batch, s.Line.Pack, s.Line.Orientation)
	}
	var chosen []int
	for _, name := range q.Arms {
		i := slices.IndexFunc(names, func(n string) bool { return strings.EqualFold(n, strings.Join(strings.Fields(name), " ")) })
		if i < 0 {
			hint := "its arms are " + list(names, 12)
			if near := spelling.Nearest(name, names); near != "" {
				hint = "did you mean --arm \"" + near + "\"?"
			}
			return nil, "", refuse(hint, "pull %s takes nothing of an arm %q", p.ID, name)
		}
		if !slices.Contains(chosen, i) {
			chosen = append(chosen, i)
		}
	}
	slices.Sort(chosen)
	if len(q.Arms) == 0 && !(q.Final && q.Units == nil) {
		for i := range states {
			if !states[i].Taken() {
				chosen = append(chosen, i)
			}
		}
	}
	already := x.already(p.ID)
	if len(chosen) == 0 && !q.Final || progress.Complete(p.ID) && (q.Final || len(q.Arms) == 0) {
		return nil, "", refuse("more of an arm is taken with --arm, --units and --reason; a record made in error is taken back with --withdraw",
			"pull %s is recorded already: %s", p.ID, already)
	}
	planned := 0
	for _, i := range chosen {
		s := &states[i]
		t := study.TakenLine{Units: max(0, s.Line.Units-s.Units), Returned: max(0, s.Line.Returned-s.Returned)}
		t.Batch, t.Pack, t.Orientation = x.Schedule.ArmIDs(p, s.Line)
		planned += t.Units
		lines = append(lines, t)
	}
	if q.Units != nil && *q.Units != planned {
		switch {
		case *q.Units < 0:
			return nil, "", refuse("", "--units takes a number of units, 0 or more")
		case len(chosen) != 1:
			return nil, "", refuse("say of which arm with --arm NAME: "+list(names, 12),
				"%s of %d arms, of which %s are still to be taken", units(*q.Units), len(chosen), units(planned))
		}
		lines[0].Units = *q.Units
		if *q.Units > planned {
			are := "are"
			if *q.Units == 1 {
				are = "is"
			}
			departs = fmt.Sprintf("%s of %s %s more than the %d still planned", units(*q.Units), names[chosen[0]], are, planned)
			if err := x.checkReserve(p, states[chosen[0]].Line, *q.Units, names[chosen[0]]); err != nil {
				return nil, "", err
			}
		}
	}
	if !slices.ContainsFunc(lines, func(t study.TakenLine) bool { return t.Units > 0 || t.Returned > 0 }) {
		if !q.Final {
			return nil, "", refuse("--final with a reason ends a pull of which nothing more will be taken", "nothing is taken with this")
		}
		lines = nil
	}
	if q.Final {
		departs = "a pull that ends with less than planned needs a reason"
	}
	return lines, departs, nil
}

// checkReserve refuses to take more of an arm than it holds.
func (x *Record) checkReserve(p *schedule.Pull, l *schedule.Line, n int, name string) error {
	if p.Condition < 0 {
		return nil // at time zero nothing is stored yet
	}
	for _, a := range x.progress().Arms() {
		if a.Arm.Condition == p.Condition && a.Arm.Batch == l.Batch && a.Arm.Pack == l.Pack && a.Arm.Orientation == l.Orientation {
			if free := a.Left() - a.Back; n > free {
				return refuse("shelfspan status --study "+x.Study.ID+" shows what is left", "%s holds %s that may be opened, and %d were to be taken", name, units(free), n)
			}
		}
	}
	return nil
}

// already says what is recorded of a pull.
func (x *Record) already(id string) string {
	var parts []string
	for i := range x.Pulls {
		r := &x.Pulls[i]
		if r.Pull == id && !r.Withdrawn {
			parts = append(parts, fmt.Sprintf("on %s by %s (event %d)", r.Day, r.By, r.Event))
		}
	}
	return strings.Join(parts, ", ")
}

// FindPull finds the plan and the pull in it that an id names, over all studies.
func (l *Ledger) FindPull(ctx context.Context, id string) (*schedule.Schedule, int, error) {
	var plan *schedule.Schedule
	var pull int
	err := l.read(ctx, func(r *reading) error {
		x, i, err := r.findPull(id)
		if err == nil {
			plan, pull = x.Schedule, i
		}
		return err
	})
	return plan, pull, err
}
