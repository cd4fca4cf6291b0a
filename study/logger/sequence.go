package logger

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"shelfspan/study/finding"
)

const (
	dayMilli  = 24 * hourMilli
	hourMilli = 60 * 60 * 1000
)

// mostPending bounds how many rows are kept while the order of day and month is
// not told: twelve days of a reading a second.
const mostPending = 12 * 24 * 60 * 60

// spike is how far, in °C, a reading stands off both its neighbours to be told.
const spike = 20

// sequence puts the readings one after the other.
type sequence struct {
	begun    bool
	instant  int64 // ms of the last row on a clock that runs on
	line     int32 // of the last row
	usual    int64 // the last step that was longer than nothing, ms
	elapsed  int64 // of the last row since the first reading
	started  bool  // there was a reading
	forward  int   // steps
	backward finding.Collector

	celsius [2]float64 // of the last two readings
	lines   [2]int32
	count   int
}

// place takes a row into the sequence, or keeps it until the order of day and
// month is told.
func (r *reader) place(x row) {
	switch {
	case r.gaveUp:
		return
	case r.dates.order != Untold:
		r.release()
	case x.day != x.other || len(r.pending) > 0:
		if r.pending = append(r.pending, x); len(r.pending) == mostPending {
			r.undecided()
		}
		return
	}
	r.next(x)
}

// release takes the kept rows into the sequence.
func (r *reader) release() {
	for _, x := range r.pending {
		r.next(x)
	}
	r.pending = nil
}

// undecided tells that the order of day and month is not.
func (r *reader) undecided() {
	for _, x := range r.pending {
		if x.day == x.other {
			continue
		}
		day := func(d int32) string { return time.Unix(int64(d)*86400, 0).UTC().Format("2 January 2006") }
		r.faultAt(int(x.line), r.head.timeName(), func() string {
			return fmt.Sprintf("this may be %s or %s, and no date that follows tells which; say --dates day-first or --dates month-first, or write dates as 2025-08-04", day(x.day), day(x.other))
		})
		break
	}
	r.gaveUp, r.pending = true, nil
}

// finish ends the sequence.
func (r *reader) finish() {
	switch {
	case len(r.pending) == 0:
	case r.dates.order == Untold && r.ambiguous():
		r.undecided()
	default:
		r.release()
	}
	if n := r.order.backward.Count(); n > 1 && n > r.order.forward {
		r.faultAt(r.head.line, r.head.timeName(), func() string {
			return "the rows run from the newest to the oldest; sort them by time, the oldest first"
		})
		return
	}
	r.faults.Join(&r.order.backward)
}

func (r *reader) ambiguous() bool {
	for _, x := range r.pending {
		if x.day != x.other {
			return true
		}
	}
	return false
}

// next takes a row into the sequence.
func (r *reader) next(x row) {
	s := &r.order
	day := x.day
	if r.dates.order == MonthFirst {
		day = x.other
	}
	at := Stamp{Milli: int64(day)*dayMilli + int64(x.milli), Offset: x.offset, Zoned: x.zoned}
	instant := at.Milli - int64(x.offset)*60_000
	step := instant - s.instant
	if !s.begun {
		step = 0
	}
	switch {
	case !s.begun:
	case step > 0:
		s.forward++
		if !x.zoned && s.isAnHour(step-s.usual) && isSundayNight(at) {
			r.notes.ahead(int(x.line))
		}
		s.usual = step
	case step == 0:
		r.notes.repeated(int(x.line))
	case !x.zoned && s.isAnHour(s.usual-step):
		// The end of summer time. The reading followed the one before as readings
		// do, though the clock says otherwise.
		step += hourMilli
		s.forward++
		r.notes.setBack(int(x.line))
	default:
		before := s.line
		s.backward.Add(r.name, int(x.line), r.head.timeName(), func() string {
			return "the time is " + span(-step) + " before that of line " + strconv.Itoa(int(before)) + "; were two logs put together? give one log, its rows in the order of time"
		})
		step = 0
	}
	s.begun, s.instant, s.line = true, instant, x.line
	if s.started {
		s.elapsed += step
	}
	if math.IsNaN(x.celsius) {
		return
	}
	s.watch(r, x)
	r.log.Readings++
	if !s.started {
		s.started, r.log.First = true, at
	}
	r.log.Last = at
	r.take(Reading{Elapsed: s.elapsed, At: at, Celsius: x.celsius})
}

// isAnHour reports whether a difference of steps is the hour of a change of the
// clock, the step itself being as long as usual, give or take a little.
func (s *sequence) isAnHour(difference int64) bool {
	tolerance := min(s.usual/2, hourMilli/6) + 1000
	return s.usual > 0 && difference >= hourMilli-tolerance && difference <= hourMilli+tolerance
}

// isSundayNight reports whether it is the time at which most countries change
// their clocks.
func isSundayNight(at Stamp) bool {
	t := time.UnixMilli(at.Milli).UTC()
	return t.Weekday() == time.Sunday && t.Hour() < 5
}

// watch tells of readings far off both their neighbours.
func (s *sequence) watch(r *reader, x row) {
	if s.count >= 2 {
		before, after := s.celsius[1]-s.celsius[0], s.celsius[1]-x.celsius
		if math.Min(before, after) > spike || math.Max(before, after) < -spike {
			r.notes.spike(s.celsius[1], int(s.lines[1]))
		}
	}
	s.count++
	s.celsius = [2]float64{s.celsius[1], x.celsius}
	s.lines = [2]int32{s.lines[1], x.line}
}

// span writes a length of time in words.
func span(milli int64) string {
	switch d := time.Duration(milli) * time.Millisecond; {
	case d < time.Minute:
		return strconv.FormatFloat(d.Seconds(), 'f', -1, 64) + " s"
	case d < time.Hour:
		return strconv.FormatFloat(math.Round(d.Minutes()*10)/10, 'f', -1, 64) + " min"
	case d < 48*time.Hour:
		return strconv.FormatFloat(math.Round(d.Hours()*10)/10, 'f', -1, 64) + " h"
	default:
		return strconv.FormatFloat(math.Round(d.Hours()/24*10)/10, 'f', -1, 64) + " days"
	}
}
