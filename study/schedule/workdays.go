package schedule

import (
	"slices"
	"time"

	"shelfspan/study"
)

// farthest is how many days a pull may be moved in search of a day with work.
const farthest = 366

// workdays tells the days samples can be pulled on.
type workdays struct {
	week     [7]bool
	holidays []study.Date // ascending
	how      study.Shift
}

func newWorkdays(c *study.Calendar) workdays {
	holidays := slices.Clone(c.Holidays)
	slices.Sort(holidays)
	return workdays{week: c.Workdays, holidays: holidays, how: c.Shift}
}

// works reports whether a day is neither a free day of the week nor a holiday.
func (w *workdays) works(d study.Date) bool {
	// 1970-01-01, day 0, was a Thursday.
	weekday := (int(d)%7 + 7 + int(time.Thursday)) % 7
	if !w.week[weekday] {
		return false
	}
	_, holiday := slices.BinarySearch(w.holidays, d)
	return !holiday
}

// shift gives the day a pull due on a given day is made: that day where it has
// work, else the nearest, the next earlier or the next later one that has, as
// the calendar says. It never goes before first: samples cannot come out before
// they went in; where that leaves no earlier day, the next later one is taken.
// The due day itself is given where no day within a year has work.
func (w *workdays) shift(due, first study.Date) study.Date {
	if w.how == study.ShiftNone || w.works(due) {
		return due
	}
	earlier, later := study.NoDate, study.NoDate
	for d := due - 1; d >= max(first, due-farthest); d-- {
		if w.works(d) {
			earlier = d
			break
		}
	}
	for d := due + 1; d <= due+farthest; d++ {
		if w.works(d) {
			later = d
			break
		}
	}
	switch {
	case earlier == study.NoDate && later == study.NoDate:
		return due
	case earlier == study.NoDate:
		return later
	case later == study.NoDate || w.how == study.ShiftEarlier:
		return earlier
	case w.how == study.ShiftLater || later-due < due-earlier:
		return later
	}
	return earlier
}
