package schedule

import (
	"slices"

	"shelfspan/study"
)

// Progress is how far a plan has come by the records of its pulls. Records made
// under an earlier version of the protocol may speak of arms and pulls that the
// plan does not have; they count where it has them.
type Progress struct {
	Schedule *Schedule
	Records  []study.PullRecord
}

// armKey names an arm, or at time zero a batch and pack, by the ids of the study
// file: those of records made under an earlier version may not be in it.
type armKey struct{ condition, batch, pack, orientation string }

// keyOf gives the key of a line of a pull of the plan.
func (x *Progress) keyOf(p *Pull, l *Line) armKey {
	var k armKey
	if p.Condition >= 0 {
		k.condition = x.Schedule.Study.Conditions[p.Condition].ID
	}
	k.batch, k.pack, k.orientation = x.Schedule.ArmIDs(p, l)
	return k
}

// ArmIDs gives the ids of what a line of a pull is taken from, as records name
// it: the orientation is empty at time zero.
func (p *Schedule) ArmIDs(pull *Pull, l *Line) (batch, pack, orientation string) {
	if pull.Condition >= 0 {
		orientation = string(p.Study.Packs[l.Pack].Orientations[l.Orientation])
	}
	return p.Study.Batches[l.Batch].ID, p.Study.Packs[l.Pack].ID, orientation
}

func keyOfTaken(r *study.PullRecord, t *study.TakenLine) armKey {
	return armKey{r.Condition, t.Batch, t.Pack, t.Orientation}
}

// LineState is how far one line of a planned pull has come.
type LineState struct {
	Line            *Line
	Units, Returned int        // taken so far
	Day             study.Date // the first on which something of it was taken; NoDate where nothing was
}

// Taken reports whether all of the line was taken.
func (s *LineState) Taken() bool {
	return s.Day != study.NoDate && s.Units >= s.Line.Units && s.Returned >= s.Line.Returned
}

// Lines gives what was taken of each line of a planned pull.
func (x *Progress) Lines(pull int) []LineState {
	p := &x.Schedule.Pulls[pull]
	out := make([]LineState, len(p.Lines))
	at := make(map[armKey]*LineState, len(out))
	for i := range p.Lines {
		out[i] = LineState{Line: &p.Lines[i], Day: study.NoDate}
		at[x.keyOf(p, &p.Lines[i])] = &out[i]
	}
	for i := range x.Records {
		r := &x.Records[i]
		if r.Pull != p.ID || r.Withdrawn {
			continue
		}
		for j := range r.Lines {
			s := at[keyOfTaken(r, &r.Lines[j])]
			if s == nil {
				continue // of an arm that the protocol does not have any more
			}
			s.Units += r.Lines[j].Units
			s.Returned += r.Lines[j].Returned
			if s.Day == study.NoDate || r.Day < s.Day {
				s.Day = r.Day
			}
		}
	}
	return out
}

// Complete reports whether a planned pull is done with: all of it was taken, or
// a record says that nothing more will be.
func (x *Progress) Complete(id string) bool {
	return slices.ContainsFunc(x.Records, func(r study.PullRecord) bool {
		return r.Pull == id && r.Complete && !r.Withdrawn
	})
}

// StillToTake gives the units of a pull that are yet to be opened and to be
// measured, and whether some of it was taken already.
func (x *Progress) StillToTake(id string) (units, returned int, part bool) {
	i := x.Index(id)
	if i < 0 {
		return 0, 0, true
	}
	for _, s := range x.Lines(i) {
		units += max(0, s.Line.Units-s.Units)
		returned += max(0, s.Line.Returned-s.Returned)
		part = part || s.Day != study.NoDate
	}
	return units, returned, part
}

// Index finds a pull of the plan in force; -1 where it has none of that id.
func (x *Progress) Index(id string) int {
	return slices.IndexFunc(x.Schedule.Pulls, func(p Pull) bool { return p.ID == id })
}

// ArmState is what an arm holds: its units are those placed in storage.
type ArmState struct {
	Arm    Arm
	Placed int // planned and in reserve
	Taken  int // opened so far
	Needed int // yet to be opened by the plan, without pulls that are done with
	Back   int // measured and put back, always there
}

// Left gives the units still in storage.
func (a *ArmState) Left() int { return a.Placed - a.Taken }

// Short gives the units that are missing for what is planned; 0 where there are
// enough.
func (a *ArmState) Short() int { return max(0, a.Needed+a.Back-a.Left()) }

// Arms gives what each arm of the plan in force holds.
func (x *Progress) Arms() []ArmState {
	out := make([]ArmState, len(x.Schedule.Arms))
	at := make(map[armKey]*ArmState, len(out))
	for i, a := range x.Schedule.Arms {
		out[i] = ArmState{Arm: a, Placed: a.Stored() + a.Reserve, Back: a.Returned}
		pack := &x.Schedule.Study.Packs[a.Pack]
		at[armKey{x.Schedule.Study.Conditions[a.Condition].ID, x.Schedule.Study.Batches[a.Batch].ID, pack.ID, string(pack.Orientations[a.Orientation])}] = &out[i]
	}
	for i := range x.Records {
		r := &x.Records[i]
		if r.Withdrawn || r.Condition == "" {
			continue
		}
		for j := range r.Lines {
			if a := at[keyOfTaken(r, &r.Lines[j])]; a != nil {
				a.Taken += r.Lines[j].Units
			}
		}
	}
	for i := range x.Schedule.Pulls {
		p := &x.Schedule.Pulls[i]
		if p.Condition < 0 || x.Complete(p.ID) {
			continue
		}
		for _, s := range x.Lines(i) {
			at[x.keyOf(p, s.Line)].Needed += max(0, s.Line.Units-s.Units)
		}
	}
	return out
}
