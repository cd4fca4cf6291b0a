package intake

import (
	"math"
	"strings"

	"shelfspan/study"
	"shelfspan/study/unitid"
)

// readUnitID reads a unit's label that may be one of the ids on the study's own
// labels, and refuses one that is mistyped or belongs elsewhere than its row
// says. It reports whether the row can stand. A lab's own labels are not looked
// into.
func (r *reader) readUnitID(w *row, b []byte) bool {
	id, form := unitid.Parse(string(b))
	s := r.study
	bad := func(text string) bool {
		r.fault("unit", func() string { return quote(b) + " " + text })
		return false
	}
	switch {
	case form == unitid.Own && strings.HasPrefix(strings.ToLower(string(b)), strings.ToLower(s.ID)+"/"):
		return bad("is no id of a unit as this study's labels have them; scan it again, or copy it from the label")
	case form == unitid.Own:
		return true
	case form == unitid.Mistyped:
		return bad("is mistyped: its last character does not fit; scan it again, or copy it from the label")
	case !strings.EqualFold(id.Study, s.ID):
		return bad("is a unit of study " + id.Study)
	}
	batch, pack := &s.Batches[w.batch], &s.Packs[w.pack]
	if !strings.EqualFold(id.Batch, batch.ID) || !strings.EqualFold(id.Pack, pack.ID) {
		where := id.Batch
		if id.Pack != "" {
			where += " in " + id.Pack
		}
		return bad("is a unit of " + where + ", and the row says " + strings.TrimSuffix(batch.ID+" in "+pack.ID, " in "))
	}
	id.Study, id.Batch, id.Pack = s.ID, batch.ID, pack.ID
	if id.For == unitid.TimeZero {
		if !w.planned.IsZero() {
			return bad("was opened at time zero, and the row's time is " + w.planned.String())
		}
		w.unitID = r.texts.intern([]byte(id.String()))
		return true
	}
	if w.condition >= 0 {
		if c := &s.Conditions[w.condition]; strings.EqualFold(id.Condition, c.ID) {
			id.Condition = c.ID
		} else {
			return bad("is stored at " + id.Condition + ", and the row says " + c.ID)
		}
		if o := orientationAt(pack, w.orientation); id.Orientation != o && !w.unoriented {
			return bad("is stored " + string(id.Orientation) + ", and the row says " + string(o))
		}
	}
	what, ok := r.unitUse(id.For, w)
	if !ok {
		return bad("is for " + id.For + ", and the row's time is " + w.planned.String())
	}
	id.For = what
	w.unitID = r.texts.intern([]byte(id.String()))
	return true
}

// orientationAt gives how a pack is stored; a pack stored in one way may leave
// it out, and then stands upright.
func orientationAt(p *study.Pack, i int) study.Orientation {
	if i < len(p.Orientations) {
		return p.Orientations[i]
	}
	return study.Upright
}

// unitUse gives what a unit is for as ids have it, and whether that goes with the
// row's time: a unit that is put back goes with every time, one of the reserve
// stands in at any time of its arm.
func (r *reader) unitUse(what string, w *row) (string, bool) {
	if strings.EqualFold(what, unitid.Reserve) {
		return unitid.Reserve, !w.planned.IsZero()
	}
	for i := range r.study.Attributes {
		if a := &r.study.Attributes[i]; a.Sampling == study.Returned && strings.EqualFold(a.ID, what) {
			return a.ID, true
		}
	}
	at, err := study.ParseDuration(what)
	hours := 0.0
	if w.condition >= 0 {
		hours = r.study.Conditions[w.condition].CycleHours
	}
	return at.String(), err == nil && (w.offPlan || math.Abs(at.Months(hours)-w.planned.Months(hours)) < 1e-9)
}
