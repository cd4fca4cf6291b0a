package schedule

import (
	"cmp"
	"maps"
	"slices"

	"shelfspan/study"
)

// Load is how full a chamber is over time.
type Load struct {
	Chamber  int        // index into the Study
	Peak     int        // most units held on any day
	PeakDate study.Date // the first such day; NoDate where nothing is stored in it
	Levels   []Level    // one for each day on which something is placed or pulled, ascending
}

// Level is what a chamber holds on a day: Held once that day's samples are
// placed, Left once that day's pulls are made. Returned units go back the same
// day and the reserve stays, so a chamber never empties to less than those.
type Level struct {
	Date       study.Date
	Held, Left int
}

// On gives the units in the chamber at the end of a day.
func (l *Load) On(d study.Date) int {
	i, exact := slices.BinarySearchFunc(l.Levels, d, func(v Level, d study.Date) int { return cmp.Compare(v.Date, d) })
	if exact {
		return l.Levels[i].Left
	}
	if i == 0 {
		return 0
	}
	return l.Levels[i-1].Left
}

// loads follows what each chamber holds: an arm's stored and reserve units from
// the day its batch is placed, less what each pull opens.
func (p *Schedule) loads() {
	s := p.Study
	type change struct{ in, out int }
	changes := make([]map[study.Date]change, len(s.Chambers))
	for i := range changes {
		changes[i] = make(map[study.Date]change)
	}
	for i := range p.Arms {
		a := &p.Arms[i]
		if chamber := s.Conditions[a.Condition].Chamber; chamber >= 0 {
			day := s.TimeZero(a.Batch)
			c := changes[chamber][day]
			c.in += a.Stored() + a.Reserve
			changes[chamber][day] = c
		}
	}
	for i := range p.Pulls {
		pull := &p.Pulls[i]
		if pull.Condition < 0 {
			continue
		}
		if chamber := s.Conditions[pull.Condition].Chamber; chamber >= 0 {
			c := changes[chamber][pull.Date]
			c.out += pull.Units()
			changes[chamber][pull.Date] = c
		}
	}
	p.Chambers = make([]Load, len(s.Chambers))
	for i := range p.Chambers {
		l := &p.Chambers[i]
		*l = Load{Chamber: i, PeakDate: study.NoDate}
		held := 0
		for _, day := range slices.Sorted(maps.Keys(changes[i])) {
			c := changes[i][day]
			held += c.in
			if held > l.Peak {
				l.Peak, l.PeakDate = held, day
			}
			l.Levels = append(l.Levels, Level{Date: day, Held: held, Left: held - c.out})
			held -= c.out
		}
	}
}

// checkChambers warns of every stretch of time in which a chamber would hold
// more than its capacity.
func (p *Schedule) checkChambers() {
	for i := range p.Chambers {
		l := &p.Chambers[i]
		chamber := &p.Study.Chambers[l.Chamber]
		if chamber.Capacity <= 0 {
			continue
		}
		for j := 0; j < len(l.Levels); j++ {
			if l.Levels[j].Held <= chamber.Capacity {
				continue
			}
			from, most, on := l.Levels[j].Date, l.Levels[j].Held, l.Levels[j].Date
			for ; j < len(l.Levels); j++ {
				if l.Levels[j].Held > most {
					most, on = l.Levels[j].Held, l.Levels[j].Date
				}
				if l.Levels[j].Left <= chamber.Capacity {
					break
				}
			}
			until := "it stays over its capacity to the end of the plan"
			if j < len(l.Levels) {
				until = "it is within its capacity again after the pulls of " + l.Levels[j].Date.String()
			}
			p.warn("chamber-over-capacity", "chamber "+chamber.ID,
				"would hold %d units on %s, %d more than its capacity of %d; over it from %s, %s.",
				most, on, most-chamber.Capacity, chamber.Capacity, from, until)
		}
	}
}
