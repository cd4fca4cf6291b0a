package schedule

import (
	"slices"

	"shelfspan/study"
)

// State is how far a planned pull has come, as the results tell it.
type State string

// The states of a pull.
const (
	Done    State = "done"    // every attribute planned has a result
	Partial State = "partial" // some have
	Missing State = "missing" // none has, and results pulled after its window closed are there
	Open    State = "open"    // none has, and nothing says that it should
)

// PullStatus is what became of one line of a pull: of one arm at one planned
// time, or of one batch and pack at time zero.
type PullStatus struct {
	Pull     int // index into Schedule.Pulls
	Line     int // index into its Lines
	State    State
	Results  int        // values taken in
	First    study.Date // first and last day its results were pulled; NoDate where no result states one
	Last     study.Date
	Outside  int   // days the pull farthest outside its window missed it by: negative too early, positive too late; 0 within
	Untested []int // attributes planned without a result
}

// AsOf gives the latest day that the results speak of, which stands in for
// today: the last day anything was pulled, or, for results that state no day,
// the planned date of their pull. NoDate without results.
func AsOf(p *Schedule, d *study.Dataset) study.Date {
	day := study.NoDate
	byKey := p.index()
	for i := range d.Results {
		r := &d.Results[i]
		if r.Pulled != study.NoDate {
			day = max(day, r.Pulled)
		} else if at, ok := byKey[keyOf(p, r)]; ok {
			day = max(day, p.Pulls[at.pull].Date)
		}
	}
	return day
}

// Status matches results with the pulls of the study's schedule and gives one
// entry for each line of each pull, in the schedule's order. A pull without
// results is missing only where its window closed before the latest day the
// results speak of; there is no clock to judge it by. Results off the plan and
// those of arms the plan does not have match no line.
func Status(s *study.Study, p *Schedule, d *study.Dataset) []PullStatus {
	byKey := p.index()
	var out []PullStatus
	first := make([]int, len(p.Pulls)) // index of a pull's first line in out
	for i := range p.Pulls {
		first[i] = len(out)
		for j := range p.Pulls[i].Lines {
			out = append(out, PullStatus{Pull: i, Line: j, First: study.NoDate, Last: study.NoDate})
		}
	}
	tested := make([]bool, len(out)*len(s.Attributes))
	for i := range d.Results {
		r := &d.Results[i]
		at, ok := byKey[keyOf(p, r)]
		if !ok {
			continue
		}
		n := first[at.pull] + at.line
		status := &out[n]
		status.Results++
		tested[n*len(s.Attributes)+int(r.Attribute)] = true
		if r.Pulled == study.NoDate {
			continue
		}
		if status.First == study.NoDate || r.Pulled < status.First {
			status.First = r.Pulled
		}
		status.Last = max(status.Last, r.Pulled)
	}
	today := AsOf(p, d)
	for n := range out {
		status := &out[n]
		pull := &p.Pulls[status.Pull]
		for _, a := range pull.Lines[status.Line].Attributes {
			if !tested[n*len(s.Attributes)+a] {
				status.Untested = append(status.Untested, a)
			}
		}
		status.Outside = outside(pull, status)
		switch {
		case status.Results > 0 && len(status.Untested) == 0:
			status.State = Done
		case status.Results > 0:
			status.State = Partial
		case pull.Latest < today:
			status.State = Missing
		default:
			status.State = Open
		}
	}
	return out
}

// outside gives the days by which a pull missed its window.
func outside(pull *Pull, status *PullStatus) int {
	if status.First == study.NoDate {
		return 0
	}
	early := max(0, int(pull.Earliest-status.First))
	late := max(0, int(status.Last-pull.Latest))
	if early > late {
		return -early
	}
	return late
}

// lineKey says which line of which pull a result belongs to.
type lineKey struct {
	condition, batch, pack, orientation int
	time                                study.Duration
}

type lineAt struct{ pull, line int }

func (p *Schedule) index() map[lineKey]lineAt {
	out := make(map[lineKey]lineAt)
	for i := range p.Pulls {
		pull := &p.Pulls[i]
		for j, l := range pull.Lines {
			key := lineKey{pull.Condition, l.Batch, l.Pack, l.Orientation, pull.Time}
			if pull.Condition < 0 {
				key.orientation = -1
			}
			out[key] = lineAt{i, j}
		}
	}
	return out
}

// keyOf gives the line a result belongs to; time zero is one for all
// conditions and orientations of a batch and pack.
func keyOf(p *Schedule, r *study.Result) lineKey {
	if r.Planned.IsZero() && !r.OffPlan {
		return lineKey{-1, int(r.Batch), int(r.Pack), -1, study.Duration{}}
	}
	return lineKey{int(r.Condition), int(r.Batch), int(r.Pack), int(r.Orientation), r.Planned}
}

// Together gives the state of a pull of those of its lines: what all are, else
// partial where something was tested, else missing.
func Together(lines []PullStatus) State {
	counts := make(map[State]int)
	for i := range lines {
		counts[lines[i].State]++
	}
	for _, s := range []State{Done, Missing, Open} {
		if counts[s] == len(lines) {
			return s
		}
	}
	if counts[Done]+counts[Partial] > 0 {
		return Partial
	}
	return Missing
}

// Of gives the statuses of one pull.
func Of(all []PullStatus, pull int) []PullStatus {
	i, _ := slices.BinarySearchFunc(all, pull, func(s PullStatus, pull int) int { return s.Pull - pull })
	j, _ := slices.BinarySearchFunc(all, pull+1, func(s PullStatus, pull int) int { return s.Pull - pull })
	return all[i:j]
}
