package schedule

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"shelfspan/study"
)

// monthSlack is by how many months a time planned in days or weeks may miss a
// usual one: 26 weeks are 5.98 months, 90 days 2.96.
const monthSlack = 0.1

// checkPulls warns of pulls that the calendar pushes where they should not be.
func (p *Schedule) checkPulls() {
	type place struct {
		condition    int
		placed, date study.Date
	}
	seen := make(map[place]string)
	w := newWorkdays(&p.Study.Calendar)
	for i := range p.Pulls {
		pull := &p.Pulls[i]
		if p.Study.Calendar.Shift != study.ShiftNone && !w.works(pull.Date) {
			p.warn("no-workday", pull.ID, "is due on %s, and no day within a year of it has work.", pull.Due)
		}
		switch {
		case pull.Date < pull.Earliest:
			p.warn("outside-window", pull.ID, "is due on %s and moved to %s, %s before its window (%s to %s) opens.",
				pull.Due, pull.Date, days(int(pull.Earliest-pull.Date)), pull.Earliest, pull.Latest)
		case pull.Date > pull.Latest:
			p.warn("outside-window", pull.ID, "is due on %s and moved to %s, %s after its window (%s to %s) closes.",
				pull.Due, pull.Date, days(int(pull.Date-pull.Latest)), pull.Earliest, pull.Latest)
		}
		if pull.Condition < 0 && pull.Shifted() != 0 {
			p.warn("start-not-workday", pull.ID, "samples are placed on %s, a day without work; the initial tests are planned for %s.",
				pull.Due, pull.Date)
		}
		if len(pull.Lines) == 0 {
			p.warn("nothing-tested", pull.ID, "no attribute is tested at this pull.")
		}
		key := place{pull.Condition, pull.Placed, pull.Date}
		if other, taken := seen[key]; taken {
			p.warn("pulls-coincide", pull.ID, "falls on %s, the same day as %s at the same condition.", pull.Date, other)
		} else {
			seen[key] = pull.ID
		}
	}
}

// checkDesign warns of what the plan lacks against the usual design of a
// stability study, ICH Q1A(R2) (2003) 2.2.3 and 2.2.6, and against its claim.
func (p *Schedule) checkDesign() {
	s := p.Study
	if n := len(s.Batches); n < 3 {
		p.warn("few-batches", "", "the study has %s; ICH Q1A(R2) 2.2.3 asks for at least three, since with fewer a shelf life says little about batches to come.", counted(n, "batch", "batches"))
	} else if n := bench(s); n > 1 && len(s.Batches)-n < 2 {
		p.warn("bench-batches", "", "%d of %d batches are of bench scale; ICH Q1A(R2) 2.2.3 asks for two of three batches of at least pilot scale.", n, len(s.Batches))
	}
	if x := s.Samples.ReservePercent; x > 0 && x < 1 {
		p.warn("small-reserve", "", "reserve_percent is %v, less than one percent; ten percent is written as 10.", x)
	}
	p.checkTimeZero()

	if !p.has(study.LongTerm) {
		p.warn("no-long-term", "", "no condition is long-term; a shelf life rests on long-term data.")
	}
	if !p.hasAccelerated() {
		p.warn("no-accelerated", "", "no condition is accelerated; without six months of accelerated data no claim reaches beyond the long-term data (ICH Q1E 2.4).")
	}
	for c := range s.Conditions {
		p.checkFrequency(c)
	}
	p.checkClaim()
}

// hasAccelerated reports whether the plan has accelerated data, or needs none,
// as for storage in a freezer.
func (p *Schedule) hasAccelerated() bool {
	s := p.Study
	if s.StoreAt < 0 {
		return p.has(study.Accelerated)
	}
	return len(s.AcceleratedConditions()) > 0 || study.StorageOf(s.Conditions[s.StoreAt].Temperature) == study.Freezer
}

// bench counts the batches of bench scale.
func bench(s *study.Study) (n int) {
	for i := range s.Batches {
		if strings.EqualFold(s.Batches[i].Scale, "bench") {
			n++
		}
	}
	return n
}

// checkTimeZero warns of attributes that are not measured before storage, and
// of weighings whose units would not be there to be weighed twice.
func (p *Schedule) checkTimeZero() {
	s := p.Study
	if !p.hasTimeZero() {
		p.warn("no-time-zero", "", "no condition lists the pull 0; without results at time zero no change from the start can be reckoned.")
	}
	for j := range s.Attributes {
		a := &s.Attributes[j]
		if p.hasTimeZero() && !slices.ContainsFunc(p.Pulls, func(x Pull) bool {
			return x.Condition < 0 && slices.ContainsFunc(x.Lines, func(l Line) bool { return slices.Contains(l.Attributes, j) })
		}) {
			p.warn("no-time-zero", a.ID, "is not measured at time zero, since no condition it is tested at lists the pull 0.")
		}
		if a.Kind == study.Weighing && a.Sampling != study.Returned {
			p.warn("weighing-not-returned", a.ID,
				"a loss of mass is reckoned from the same unit's mass at time zero, but with sampling = %q the plan opens other units at each pull; with sampling = \"returned\" the same units are weighed every time.", a.Sampling)
		}
	}
}

func (p *Schedule) hasTimeZero() bool {
	return slices.ContainsFunc(p.Pulls, func(x Pull) bool { return x.Condition < 0 })
}

// checkFrequency compares the times of a condition with ICH Q1A(R2) 2.2.6:
// long-term every 3 months in the first year, every 6 in the second and yearly
// after, for shelf lives of at least 12 months; accelerated at least three
// points from 0 to 6 months; intermediate at least four from 0 to 12.
func (p *Schedule) checkFrequency(c int) {
	s := p.Study
	condition := &s.Conditions[c]
	type point struct {
		months float64
		name   string
	}
	var points []point
	if p.hasTimeZero() {
		points = append(points, point{0, "0"})
	}
	for _, t := range distinct(condition.Pulls) {
		if !t.IsZero() {
			points = append(points, point{condition.Months(t), t.String()})
		}
	}
	slices.SortFunc(points, func(a, b point) int { return cmp.Compare(a.months, b.months) })
	claim := s.Claim.Months(0)

	switch condition.Role {
	case study.LongTerm:
		if claim > 0 && claim < 12 {
			return // the guideline gives no frequency for shorter shelf lives
		}
		var gaps []string
		for i := 1; i < len(points); i++ {
			from, to := points[i-1], points[i]
			usual := 12.0
			switch {
			case from.months < 12-monthSlack:
				usual = 3
			case from.months < 24-monthSlack:
				usual = 6
			}
			if to.months-from.months > usual+monthSlack && (claim == 0 || from.months < claim-monthSlack) {
				gaps = append(gaps, from.name+" to "+to.name)
			}
		}
		if len(gaps) > 0 {
			p.warn("pull-gap", condition.ID, "the pulls leave gaps (%s); the usual frequency is every 3 months in the first year, every 6 in the second and yearly after (ICH Q1A(R2) 2.2.6).", strings.Join(gaps, ", "))
		}
	case study.Accelerated, study.Intermediate:
		least, final, usual := 3, 6.0, "at least three points, 0 and 6 months among them, such as 0, 3 and 6"
		if condition.Role == study.Intermediate {
			least, final, usual = 4, 12, "at least four points, 0 and 12 months among them, such as 0, 6, 9 and 12"
		}
		within := 0
		reached := false
		for _, x := range points {
			if x.months <= final+monthSlack {
				within++
			}
			reached = reached || x.months >= final-monthSlack
		}
		if within < least || !reached {
			p.warn("pull-gap", condition.ID, "has %s up to %g months%s; the usual plan for a condition of role %q has %s (ICH Q1A(R2) 2.2.6).",
				counted(within, "point", "points"), final, ending(reached, final), condition.Role, usual)
		}
	}
}

func ending(reached bool, final float64) string {
	if reached {
		return ""
	}
	return fmt.Sprintf(" and does not reach %g months", final)
}

// checkClaim warns of a claim that the plan cannot support, or that it leaves
// unverified.
func (p *Schedule) checkClaim() {
	s := p.Study
	if s.Claim.IsZero() {
		return
	}
	if s.StoreAt < 0 {
		p.warn("no-storage-condition", "", "the study claims %s but no condition stands for storage as labelled; name it with store_at.", s.Claim)
		return
	}
	condition := &s.Conditions[s.StoreAt]
	last := 0.0
	for _, t := range condition.Pulls {
		last = max(last, condition.Months(t))
	}
	if p.Claim.Support.Formula != "" && !p.Claim.Support.Reached {
		p.warn("claim-beyond-plan", condition.ID, "the claim of %s cannot be supported by this plan: its last pull, at %s months, supports %s months at most (%s).",
			s.Claim, number(last), number(p.Claim.Support.AtMost), p.Claim.Support.Rule)
	}
	if last < p.Claim.Months-monthSlack {
		p.warn("claim-past-last-pull", condition.ID, "the claim of %s is longer than the last planned pull, at %s months; a claim that reaches past the data is to be verified by long-term results up to its end (ICH Q1E 2.4).",
			s.Claim, number(last))
	}
}

// number writes months without needless decimals.
func number(x float64) string { return strconv.FormatFloat(float64(int64(x*100+0.5))/100, 'f', -1, 64) }

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func days(n int) string { return counted(n, "day", "days") }
