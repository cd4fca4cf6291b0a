package ledger

import (
	"slices"

	"shelfspan/study"
)

// takenKey is an arm of the study in force, or a batch and pack at time zero
// (condition and orientation -1), and a planned time.
type takenKey struct {
	condition, batch, pack, orientation int
	time                                study.Duration
}

// days gives the day on which samples were taken, by arm and planned time: the
// first where it took several. They are found by what the records say of
// condition and time, so that a pull made under an earlier version of the
// protocol counts too.
func (x *Record) days(s *study.Study) map[takenKey]study.Date {
	out := make(map[takenKey]study.Date)
	for i := range x.Pulls {
		r := &x.Pulls[i]
		if r.Withdrawn {
			continue
		}
		k := takenKey{condition: -1, orientation: -1, time: r.Time}
		if r.Condition != "" {
			if k.condition = slices.IndexFunc(s.Conditions, func(c study.Condition) bool { return c.ID == r.Condition }); k.condition < 0 {
				continue
			}
		}
		for _, t := range r.Lines {
			k.batch = slices.IndexFunc(s.Batches, func(b study.Batch) bool { return b.ID == t.Batch })
			k.pack = slices.IndexFunc(s.Packs, func(p study.Pack) bool { return p.ID == t.Pack })
			if k.batch < 0 || k.pack < 0 {
				continue
			}
			if k.condition >= 0 {
				if k.orientation = slices.Index(s.Packs[k.pack].Orientations, study.Orientation(t.Orientation)); k.orientation < 0 {
					continue
				}
			}
			if day, ok := out[k]; !ok || r.Day < day {
				out[k] = r.Day
			}
		}
	}
	return out
}
