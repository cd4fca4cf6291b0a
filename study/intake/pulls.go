package intake

import (
	"fmt"
	"math"

	"shelfspan/study"
)

// pull is a planned pull of one batch at one condition.
type pull struct {
	at     study.Duration
	months float64
	due    study.Date // by the calendar, before any shift
	window study.Date // days either side of due
}

func (p *pull) holds(day study.Date) bool { return day >= p.due-p.window && day <= p.due+p.window }

// plan gives the planned pulls of a batch at a condition (-1: none), time zero
// always first.
func (r *reader) plan(batch, condition int) []pull {
	k := batch*(len(r.study.Conditions)+1) + condition + 1
	if r.plans[k] == nil {
		plan := []pull{r.pullAt(batch, condition, study.Duration{})}
		if condition >= 0 {
			for _, d := range r.study.Conditions[condition].Pulls {
				if !d.IsZero() {
					plan = append(plan, r.pullAt(batch, condition, d))
				}
			}
		}
		r.plans[k] = plan
	}
	return r.plans[k]
}

func (r *reader) pullAt(batch, condition int, d study.Duration) pull {
	hours := 0.0
	if condition >= 0 {
		hours = r.study.Conditions[condition].CycleHours
	}
	return pull{d, d.Months(hours), d.AddTo(r.study.TimeZero(batch), hours), study.Date(r.study.WindowOf(d, hours))}
}

// nearest gives the planned pull due nearest to a day, the earlier of two.
func nearest(plan []pull, day study.Date) *pull {
	best := &plan[0]
	for i := range plan {
		if apart(plan[i].due, day) < apart(best.due, day) {
			best = &plan[i]
		}
	}
	return best
}

func apart(a, b study.Date) study.Date { return max(a-b, b-a) }

// place finds the planned pull and the elapsed time of a row whose batch and
// condition are known. It reports whether the row can stand.
func (r *reader) place(w *row, at study.Duration, timed bool) bool {
	plan := r.plan(w.batch, w.condition)
	start := plan[0].due
	if timed {
		return r.placeTimed(w, plan, at)
	}
	// Of the pulls whose window holds the day, the one due nearest to it.
	var found *pull
	for i := range plan {
		p := &plan[i]
		if p.holds(w.pulled) && (found == nil || apart(p.due, w.pulled) < apart(found.due, w.pulled)) {
			found = p
		}
	}
	switch {
	case found != nil && found.at.IsZero():
		return r.settleDay(w, found)
	case w.pulled < start:
		r.fault("pulled", func() string { return r.beforeStart(w) })
		return false
	case w.condition < 0:
		r.fault("condition", func() string {
			return "is empty, which it may be only at time 0; " + w.pulled.String() + " is " + days(w.pulled-start) + " after it"
		})
		return false
	case found != nil:
		return r.settleDay(w, found)
	}
	w.planned = study.Duration{N: int32(w.pulled - start), Unit: study.Days}
	w.elapsed = float64(w.pulled-start) / study.DaysPerMonth
	w.offPlan, w.inWindow = true, false
	r.noteRow(note{code: "off-plan", condition: w.condition, at: w.planned, due: start, pulled: w.pulled, input: r.input, line: r.line, batch: w.batch})
	return true
}

// placeTimed places a row that names its planned pull.
func (r *reader) placeTimed(w *row, plan []pull, at study.Duration) bool {
	if at.IsZero() {
		return r.settleDay(w, &plan[0])
	}
	if w.condition < 0 {
		r.fault("condition", func() string { return "is empty, which it may be only at time 0; the row's time is " + at.String() })
		return false
	}
	c := &r.study.Conditions[w.condition]
	if at.Unit == study.Cycles && c.CycleHours == 0 {
		r.fault("time", func() string {
			return at.String() + " counts cycles, and " + c.ID + " is no cycling condition; write 10D, 2W, 3M or 2Y"
		})
		return false
	}
	for i := range plan {
		if plan[i].at == at {
			return r.settleDay(w, &plan[i])
		}
	}
	// 12M and 1Y, or 28D and 4W, are the same pull.
	own := r.pullAt(w.batch, w.condition, at)
	for i := range plan {
		if math.Abs(plan[i].months-own.months) < 1e-9 {
			return r.settleDay(w, &plan[i])
		}
	}
	w.offPlan = true
	r.noteRow(note{code: "off-plan", condition: w.condition, at: at, due: own.due, pulled: study.NoDate, input: r.input, line: r.line, batch: w.batch})
	return r.settleDay(w, &own)
}

// slipOfDate is how many days a pull can be from its planned day before it is
// a slip of the pen, such as a wrong year, and no late pull: common practice, no
// source.
const slipOfDate = 366

// settleDay puts a row at a pull, and at the day it was really pulled where
// that is given. A time-zero pull may fall a few days before time zero, where
// its window allows: the samples are not in storage yet, and no time has passed.
func (r *reader) settleDay(w *row, p *pull) bool {
	w.planned, w.elapsed, w.inWindow = p.at, p.months, true
	if w.pulled == study.NoDate {
		return true
	}
	start := r.plan(w.batch, -1)[0].due
	if w.pulled < start && !(p.at.IsZero() && p.holds(w.pulled)) {
		r.fault("pulled", func() string { return r.beforeStart(w) })
		return false
	}
	if d := w.pulled - p.due; d > slipOfDate || d < -slipOfDate {
		r.fault("pulled", func() string {
			return fmt.Sprintf("%s is more than a year from %s, the day of the pull at %s: one of the two is wrong; a pull really made then is written without its time", w.pulled, p.due, p.at)
		})
		return false
	}
	w.elapsed = float64(max(0, w.pulled-start)) / study.DaysPerMonth
	if w.inWindow = p.holds(w.pulled); !w.inWindow && !r.ledger { // there the day may come from elsewhere yet
		r.noteDay(note{condition: w.condition, at: p.at, due: p.due, pulled: w.pulled, input: r.input, line: r.line, batch: w.batch})
	}
	return true
}

// noteDay notes that a pull was made outside its window.
func (r *reader) noteDay(x note) {
	x.code = "late-pull"
	if x.pulled < x.due {
		x.code = "early-pull"
	}
	r.notes.add(x)
}

func (r *reader) beforeStart(w *row) string {
	b := &r.study.Batches[w.batch]
	text := w.pulled.String() + " is before time zero: batch " + b.ID
	if b.Placed != study.NoDate {
		return text + " was placed in storage on " + b.Placed.String()
	}
	return text + " entered storage when the study started, on " + r.study.Start.String()
}

// dateFromLedger takes the day of a pull from the ledger, where the row has none.
func (r *reader) dateFromLedger(w *row) bool {
	day := r.options.PulledOn(w.batch, w.condition, w.pack, w.orientation, w.planned)
	if day == study.NoDate {
		return true
	}
	w.pulled, w.recorded = day, true
	p := r.pullAt(w.batch, w.condition, w.planned)
	return r.settleDay(w, &p)
}
