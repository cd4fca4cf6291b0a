package dossier

import (
	"cmp"
	"fmt"
	"strings"

	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// Pull is how far one planned pull has come, in words.
type Pull struct{ Time, Condition, Planned, Window, Pulled, Tested, State string }

// Pulls says how far the plan has come, pull by pull; the note explains it. There
// is nothing where there is no plan.
func (in Input) Pulls() (all []Pull, note string) {
	if in.Schedule == nil {
		return nil, ""
	}
	s := in.Evaluation.Dataset.Study
	status := schedule.Status(s, in.Schedule, in.Evaluation.Dataset)
	note = "A sample here is one batch in one pack and orientation. A pull is missing where results of a later day than its window are there and none of its own."
	outside := false
	for i := range in.Schedule.Pulls {
		p := &in.Schedule.Pulls[i]
		lines := schedule.Of(status, i)
		if len(lines) == 0 {
			continue
		}
		condition := "before storage"
		if p.Condition >= 0 {
			condition = s.Conditions[p.Condition].ID
		}
		counts := map[schedule.State]int{}
		for _, l := range lines {
			counts[l.State]++
		}
		pulled, missed := pulledOn(lines)
		outside = outside || missed
		all = append(all, Pull{p.Time.String(), condition, p.Date.String(), p.Earliest.String() + " to " + p.Latest.String(),
			pulled, fmt.Sprintf("%d of %d", counts[schedule.Done]+counts[schedule.Partial], len(lines)), state(counts, len(lines))})
	}
	if outside {
		note += " Late and early: beyond the end of the window; the elapsed time, not the planned one, enters the regression."
	}
	return all, note
}

// pulledOn says on which days samples were taken, and how far outside the window.
func pulledOn(lines []schedule.PullStatus) (text string, outside bool) {
	first, last, worst := study.NoDate, study.NoDate, 0
	for _, l := range lines {
		if l.First != study.NoDate && (first == study.NoDate || l.First < first) {
			first = l.First
		}
		last = max(last, l.Last)
		if max(l.Outside, -l.Outside) > max(worst, -worst) {
			worst = l.Outside
		}
	}
	text = cmp.Or(first.String(), "–")
	if last != study.NoDate && last != first {
		text += " to " + last.String()
	}
	switch {
	case worst > 0:
		text += fmt.Sprintf(" (%s late)", words.Count(worst, "day"))
	case worst < 0:
		text += fmt.Sprintf(" (%s early)", words.Count(-worst, "day"))
	}
	return text, worst != 0
}

func state(counts map[schedule.State]int, of int) string {
	for _, s := range []schedule.State{schedule.Done, schedule.Missing, schedule.Open} {
		if counts[s] == of {
			return string(s)
		}
	}
	var parts []string
	for _, s := range []schedule.State{schedule.Done, schedule.Partial, schedule.Missing, schedule.Open} {
		if n := counts[s]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, s))
		}
	}
	return strings.Join(parts, ", ")
}
