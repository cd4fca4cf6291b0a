package schedule

import (
	"slices"

	"shelfspan/study"
)

// Standing is how a study stands: by time point and by arm.
type Standing struct {
	Progress *Progress
	Dataset  *study.Dataset
	Points   []TimePoint // one for each pull of the plan at which something is tested, in its order
	Arms     []ArmState
}

// PullState is how far a pull has come, to its last result.
type PullState string

// The states of a pull, from plan to results.
const (
	Planned      PullState = "planned"       // its window has not opened
	DueNow       PullState = "due"           // its window is open
	Late         PullState = "late"          // its window closed, and not all of it is taken
	PartPulled   PullState = "part pulled"   // some of it is taken, and its window is open
	Made         PullState = "pulled"        // all of it is taken, and nothing is measured
	PartMeasured PullState = "part measured" // all of it is taken, and some results are missing
	Measured     PullState = "measured"      // all of it is taken, and every result planned is there
	NotTaken     PullState = "not taken"     // it was ended, and no unit of it was taken
	Unrecorded   PullState = "not recorded"  // results are there, and no record that it was made
)

// TimePoint is how far one pull of the plan has come.
type TimePoint struct {
	Pull        int // index into Schedule.Pulls
	State       PullState
	Late        int        // days since its window closed, where not all of it is taken
	First, Last study.Date // days on which it was made; NoDate where nothing is recorded
	Outside     int        // days by which the record farthest outside the window missed it; see PullRecord
	Taken       int        // units opened
	Expected    int        // values planned
	Measured    int        // values taken in
	Untested    int        // lines that lack a value of some attribute
}

// Missing gives the values that are planned and not there, of a pull that was
// made.
func (t *TimePoint) Missing() int {
	switch t.State {
	case Made, PartMeasured, Measured:
		return max(0, t.Expected-t.Measured)
	}
	return 0
}

// Stand gives how a study stands on a day by the records of its pulls and its
// results.
func Stand(p *Schedule, d *study.Dataset, today study.Date) *Standing {
	x := &Standing{Progress: &Progress{Schedule: p, Records: d.Pulls}, Dataset: d}
	measured := *d // what is out of the analysis was measured all the same
	measured.Results = slices.Concat(d.Results, d.Excluded)
	status := Status(p.Study, p, &measured)
	for i := range p.Pulls {
		if len(p.Pulls[i].Lines) > 0 {
			x.Points = append(x.Points, x.point(i, Of(status, i), today))
		}
	}
	x.Arms = x.Progress.Arms()
	return x
}

func (x *Standing) point(pull int, status []PullStatus, today study.Date) TimePoint {
	p := &x.Progress.Schedule.Pulls[pull]
	t := TimePoint{Pull: pull, First: study.NoDate, Last: study.NoDate}
	for i := range status {
		t.Measured += status[i].Results
		if len(status[i].Untested) > 0 {
			t.Untested++
		}
		t.Expected += x.Progress.Schedule.Values(pull, status[i].Line)
	}
	for i := range x.Progress.Records {
		r := &x.Progress.Records[i]
		if r.Pull != p.ID || r.Withdrawn {
			continue
		}
		if len(r.Lines) > 0 {
			if t.First == study.NoDate || r.Day < t.First {
				t.First = r.Day
			}
			t.Last = max(t.Last, r.Day)
		}
		if max(r.Outside, -r.Outside) > max(t.Outside, -t.Outside) {
			t.Outside = r.Outside
		}
		for _, l := range r.Lines {
			t.Taken += l.Units
		}
	}
	complete := x.Progress.Complete(p.ID)
	switch {
	case complete && t.First == study.NoDate && t.Measured == 0:
		t.State = NotTaken
	case complete && t.Untested == 0:
		t.State = Measured
	case complete && t.Measured > 0:
		t.State = PartMeasured
	case complete:
		t.State = Made
	case t.Measured > 0 && t.First == study.NoDate:
		t.State = Unrecorded
	case today > p.Latest:
		t.State, t.Late = Late, int(today-p.Latest)
	case t.First != study.NoDate:
		t.State = PartPulled
	case today >= p.Earliest:
		t.State = DueNow
	default:
		t.State = Planned
	}
	return t
}

// Values gives how many values the plan asks for of one line of a pull.
func (p *Schedule) Values(pull, line int) (n int) {
	x := &p.Pulls[pull]
	l := &x.Lines[line]
	for _, j := range l.Attributes {
		a := &p.Study.Attributes[j]
		units := a.Units
		if x.Condition < 0 && a.Sampling == study.Returned {
			// The units of every arm are read as they are placed.
			units = 0
			for i := range p.Arms {
				arm := &p.Arms[i]
				if arm.Batch == l.Batch && arm.Pack == l.Pack && a.At(arm.Condition, arm.Pack) {
					units += a.Units
				}
			}
		}
		n += units * max(1, a.Replicates)
	}
	return n
}
