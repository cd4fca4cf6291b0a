package intake

import (
	"math"
	"slices"
	"strings"

	"shelfspan/study"
	"shelfspan/study/unitid"
)

// readUnitID reads a unit's label that may be one of the ids on the study's own
// labels, and refuses one that is mistyped or belongs elsewhere than its row
// says. What the row leaves open at time zero, the id says. It reports whether
// the row can stand. A lab's own labels are not looked into.
func (r *reader) readUnitID(w *row, b []byte) bool {
	id, form := unitid.Parse(string(b))
	s := r.study
	bad := func(text string) bool {
		r.fault("unit", func() string { return quote(b) + " " + text })
		return false
	}
	switch {
	case form == unitid.Own && r.beginsAsID(string(b)):
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
	c := slices.IndexFunc(s.Conditions, func(c study.Condition) bool { return strings.EqualFold(c.ID, id.Condition) })
	switch {
	case w.condition >= 0 && c != w.condition:
		return bad("is stored at " + id.Condition + ", and the row says " + s.Conditions[w.condition].ID)
	case c < 0:
		return bad("is stored at " + id.Condition + ", which is no condition of the study")
	}
	o := slices.Index(pack.Orientations, id.Orientation)
	switch {
	case w.unoriented && o < 0:
		return bad("is stored " + string(id.Orientation) + ", and pack " + pack.ID + " " + enumerate(orientationNames(pack.Orientations)))
	case !w.unoriented && o != w.orientation:
		return bad("is stored " + string(id.Orientation) + ", and the row says " + string(pack.Orientations[w.orientation]))
	}
	what, ok := r.unitUse(id.For, c, w)
	if !ok {
		return bad("is for " + id.For + ", and the row's time is " + w.planned.String())
	}
	w.condition, w.orientation, w.unoriented = c, o, false
	id.Condition, id.For = s.Conditions[c].ID, what
	w.unitID = r.texts.intern([]byte(id.String()))
	return true
}

// unitUse gives what a unit is for as ids have it, and whether that goes with the
// row's time: a unit that is put back goes with every time, one of the reserve
// stands in at any time of its arm.
func (r *reader) unitUse(what string, condition int, w *row) (string, bool) {
	if strings.EqualFold(what, unitid.Reserve) {
		return unitid.Reserve, !w.planned.IsZero()
	}
	for i := range r.study.Attributes {
		if a := &r.study.Attributes[i]; a.Sampling == study.Returned && strings.EqualFold(a.ID, what) {
			return a.ID, true
		}
	}
	at, err := study.ParseDuration(what)
	if err != nil || at.IsZero() || w.planned.IsZero() {
		return what, false
	}
	hours := r.study.Conditions[condition].CycleHours
	return at.String(), w.offPlan || math.Abs(at.Months(hours)-w.planned.Months(hours)) < 1e-9
}

// beginsAsID reports whether a label begins with the study and one of its
// batches, as ids do. One that only begins with the study may well be a lab's own.
func (r *reader) beginsAsID(label string) bool {
	parts := strings.SplitN(label, "/", 3)
	return len(parts) > 1 && strings.EqualFold(parts[0], r.study.ID) &&
		slices.ContainsFunc(r.study.Batches, func(b study.Batch) bool { return strings.EqualFold(b.ID, parts[1]) })
}
