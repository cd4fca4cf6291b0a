package dossier

import (
	"cmp"
	"slices"
	"strings"

	"shelfspan/analysis"
)

// Arm is the results of one batch in one pack and orientation at one condition:
// attributes down, pulls across.
type Arm struct {
	Condition, Pack, Orientation, Batch int
	Times                               []PullTime
	Rows                                []ArmRow
}

// ArmRow is one attribute of an arm.
type ArmRow struct {
	Attribute int
	Shown     []Shown // by Times
}

// Arms tabulates every result, in the study's order of conditions, packs,
// orientations and batches. Each arm has a column for every planned pull that
// any arm at its condition has results of, so that one that is missing
// shows, and one for each of its own elapsed times that were in no plan.
func Arms(e *analysis.Evaluation) []Arm {
	planned := map[int][]PullTime{} // by condition
	byArm := map[[4]int]*Arm{}
	for _, a := range e.Analyses {
		for i := range a.Samples {
			s := &a.Samples[i]
			key := [4]int{a.Condition, a.Pack, a.Orientation, s.Batch}
			arm := byArm[key]
			if arm == nil {
				arm = &Arm{Condition: a.Condition, Pack: a.Pack, Orientation: a.Orientation, Batch: s.Batch}
				byArm[key] = arm
			}
			at := TimeOf(s)
			if s.Planned.IsZero() && s.PlannedMonths > 0 {
				arm.Times = append(arm.Times, at)
			} else if !slices.Contains(planned[a.Condition], at) {
				planned[a.Condition] = append(planned[a.Condition], at)
			}
		}
	}
	out := make([]Arm, 0, len(byArm))
	for _, arm := range byArm {
		arm.Times = append(arm.Times, planned[arm.Condition]...)
		slices.SortFunc(arm.Times, byTime)
		arm.Times = slices.Compact(arm.Times)
	}
	for _, a := range e.Analyses {
		for i := range a.Samples {
			s := &a.Samples[i]
			arm := byArm[[4]int{a.Condition, a.Pack, a.Orientation, s.Batch}]
			if n := len(arm.Rows); n == 0 || arm.Rows[n-1].Attribute != a.Attribute {
				arm.Rows = append(arm.Rows, ArmRow{a.Attribute, make([]Shown, len(arm.Times))})
			}
			k, _ := slices.BinarySearchFunc(arm.Times, TimeOf(s), byTime)
			shown := &arm.Rows[len(arm.Rows)-1].Shown[k]
			shown.Samples = append(shown.Samples, s)
			shown.Suspect = shown.Suspect || a.Diagnostics.Suspect(i)
		}
	}
	for _, arm := range byArm {
		slices.SortStableFunc(arm.Rows, func(p, q ArmRow) int { return cmp.Compare(p.Attribute, q.Attribute) })
		out = append(out, *arm)
	}
	slices.SortFunc(out, func(p, q Arm) int {
		return cmp.Or(cmp.Compare(p.Condition, q.Condition), cmp.Compare(p.Pack, q.Pack),
			cmp.Compare(p.Orientation, q.Orientation), cmp.Compare(p.Batch, q.Batch))
	})
	return out
}

// byTime orders columns of results.
func byTime(p, q PullTime) int {
	return cmp.Or(cmp.Compare(p.Months, q.Months), strings.Compare(p.Text, q.Text))
}
