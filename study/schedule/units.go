package schedule

import (
	"slices"

	"shelfspan/study"
	"shelfspan/study/unitid"
)

// Unit is one physical unit of the plan: a jar, tube or can with an id of its own.
type Unit struct {
	ID          string
	Condition   int // index into the Study; -1 where it is opened at time zero
	Batch, Pack int
	Orientation int   // index into the pack's Orientations; -1 at time zero
	Returned    bool  // measured at every pull and put back
	Attributes  []int // measured on it; empty for a unit of the reserve
}

// UnitsOf gives the units of one line of a pull: those to be opened, then those
// to be measured and put back. Destructive tests have units of their own, in the
// order of the study; shared ones are made on the first units that are opened
// anyway. Ids depend on nothing but where a unit belongs, so they stay as they
// are when the plan changes elsewhere.
func (p *Schedule) UnitsOf(pull, line int) []Unit {
	x := &p.Pulls[pull]
	l := &x.Lines[line]
	s := p.Study
	id := unitid.ID{Study: s.ID, Batch: s.Batches[l.Batch].ID, Pack: s.Packs[l.Pack].ID, For: unitid.TimeZero}
	unit := Unit{Condition: -1, Batch: l.Batch, Pack: l.Pack, Orientation: -1}
	if x.Condition >= 0 {
		id.Orientation, id.Condition, id.For = s.Packs[l.Pack].Orientations[l.Orientation], s.Conditions[x.Condition].ID, x.Time.String()
		unit.Condition, unit.Orientation = x.Condition, l.Orientation
	}
	out := make([]Unit, l.Units)
	for i := range out {
		out[i] = unit
		id.N = i + 1
		out[i].ID = id.String()
	}
	next := 0
	for _, j := range l.Attributes {
		a := &s.Attributes[j]
		from, to := 0, min(a.Units, len(out))
		switch a.Sampling {
		case study.Returned:
			continue
		case study.Destructive:
			from, to = next, min(next+a.Units, len(out))
			next = to
		}
		for i := from; i < to; i++ {
			out[i].Attributes = append(out[i].Attributes, j)
		}
	}
	for i := range p.Arms {
		arm := &p.Arms[i]
		if arm.Batch != l.Batch || arm.Pack != l.Pack || x.Condition >= 0 && (arm.Condition != x.Condition || arm.Orientation != l.Orientation) {
			continue
		}
		for _, u := range p.returnedOf(arm) {
			if slices.Contains(l.Attributes, u.Attributes[0]) {
				out = append(out, u)
			}
		}
	}
	return out
}

// returnedOf gives the units of an arm that are measured and put back.
func (p *Schedule) returnedOf(arm *Arm) []Unit {
	var out []Unit
	for j := range p.Study.Attributes {
		a := &p.Study.Attributes[j]
		if a.Sampling != study.Returned || !a.At(arm.Condition, arm.Pack) {
			continue
		}
		for n := range a.Units {
			u := p.unitOf(arm, a.ID, n+1)
			u.Returned, u.Attributes = true, []int{j}
			out = append(out, u)
		}
	}
	return out
}

// ReserveOf gives the units of an arm beyond those planned.
func (p *Schedule) ReserveOf(arm *Arm) []Unit {
	out := make([]Unit, arm.Reserve)
	for n := range out {
		out[n] = p.unitOf(arm, unitid.Reserve, n+1)
	}
	return out
}

func (p *Schedule) unitOf(arm *Arm, what string, n int) Unit {
	s := p.Study
	pack := &s.Packs[arm.Pack]
	return Unit{
		ID: unitid.ID{Study: s.ID, Batch: s.Batches[arm.Batch].ID, Pack: pack.ID, Orientation: pack.Orientations[arm.Orientation],
			Condition: s.Conditions[arm.Condition].ID, For: what, N: n}.String(),
		Condition: arm.Condition, Batch: arm.Batch, Pack: arm.Pack, Orientation: arm.Orientation,
	}
}
