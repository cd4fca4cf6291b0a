package chart

import (
	"fmt"
	"math"
	"time"

	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// pullMark is how a pull in a state is drawn.
type pullMark struct {
	state schedule.State
	text  string
	mark  marker
}

// pullMarks are the states by shape and filling, in the order of the legend.
var pullMarks = []pullMark{
	{schedule.Done, "done", marker{color: ink}},
	{schedule.Partial, "done in part", marker{color: ink, sides: 4, hollow: true}},
	{schedule.Missing, "missing", marker{color: limit, sides: 3, turn: -math.Pi / 2}},
	{schedule.Open, "to come", marker{color: grey, hollow: true}},
}

// window is how the window of a pull is drawn.
var window = solid(strip, 9)

// longestName is how many letters of a condition's name stand beside its row.
const longestName = 18

// Pulls draws the plan as a strip by month: a row for time zero and for each
// condition, a mark for each pull with its window, by what became of it, and the
// last day that the results speak of. ok is false where nothing is planned.
func Pulls(p *schedule.Schedule, d *study.Dataset) (*Chart, bool) {
	status := schedule.Status(p.Study, p, d)
	rows := make(map[int]float64) // by condition; -1 is time zero
	first, last := study.Date(math.MaxInt32), study.NoDate
	for i := range p.Pulls {
		x := &p.Pulls[i]
		if len(x.Lines) == 0 {
			continue
		}
		rows[x.Condition] = 0
		first, last = min(first, x.Earliest, x.Date), max(last, x.Latest, x.Date)
	}
	if len(rows) == 0 {
		return nil, false
	}
	c := &Chart{y: axis{min: -0.7}}
	n := float64(len(rows))
	for condition := -1; condition < len(p.Study.Conditions); condition++ {
		if _, ok := rows[condition]; !ok {
			continue
		}
		n--
		rows[condition] = n
		name := "time zero"
		if condition >= 0 {
			name = p.Study.Conditions[condition].ID
		}
		if letters := []rune(name); len(letters) > longestName {
			name = string(letters[:longestName-1]) + "…"
		}
		c.y.ticks = append(c.y.ticks, tick{n, name})
	}
	c.y.max = float64(len(rows)) - 0.3
	today := schedule.AsOf(p, d)
	if today != study.NoDate {
		last = max(last, today)
	}
	room := math.Max(float64(last-first)*0.015, 5)
	c.x = axis{label: "month", min: float64(first) - room, max: float64(last) + room}
	c.x.ticks = calendarTicks(first, last)
	if today != study.NoDate {
		c.events = append(c.events, event{at: float64(today), text: "results reach to " + today.String(), line: dashed(ink, 0.7, 4, 2)})
	}

	marks := make([]points, len(pullMarks))
	of := make([][]*schedule.Pull, len(pullMarks)) // by mark
	for k := range marks {
		marks[k] = points{marker: pullMarks[k].mark, size: 2.6, says: func(i int) string { return words.PullSays(p.Study, of[k][i], pullMarks[k].text) }}
	}
	for i := range p.Pulls {
		x := &p.Pulls[i]
		if len(x.Lines) == 0 {
			continue
		}
		y := rows[x.Condition]
		c.lines = append(c.lines, line{[]xy{{float64(x.Earliest), y}, {float64(x.Latest) + 1, y}}, window})
		state := schedule.Together(schedule.Of(status, i))
		for k := range pullMarks {
			if pullMarks[k].state == state {
				marks[k].at, of[k] = append(marks[k].at, xy{float64(x.Date), y}), append(of[k], x)
			}
		}
	}
	for k := range marks {
		if len(marks[k].at) > 0 {
			c.points = append(c.points, marks[k])
			m := pullMarks[k].mark
			c.legend = append(c.legend, entry{text: pullMarks[k].text, marker: &m})
		}
	}
	c.legend = append(c.legend, entry{text: "window", line: &window})
	c.Description = fmt.Sprintf("%d pulls of %d conditions from %s to %s, each with its window.", len(p.Pulls), len(p.Study.Conditions), first, last)
	return c, true
}

// calendarTicks puts ticks at the first of months: of each, each second, third or
// sixth, or of each January, so that no more than some ten have room.
func calendarTicks(first, last study.Date) (out []tick) {
	from, to := first.Time(), last.Time()
	months := (to.Year()-from.Year())*12 + int(to.Month()-from.Month()) + 1
	step := 12 * max(1, (months+119)/120)
	for _, s := range []int{6, 3, 2, 1} {
		if months <= 12*s {
			step = s
		}
	}
	for at := time.Date(from.Year(), 1, 1, 0, 0, 0, 0, time.UTC); !at.After(to); at = at.AddDate(0, step, 0) {
		if !at.Before(from) {
			out = append(out, tick{float64(study.NewDate(at.Year(), at.Month(), 1)), at.Format("2006-01")})
		}
	}
	return out
}
