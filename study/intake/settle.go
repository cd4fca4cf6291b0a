package intake

import (
	"math"
	"slices"

	"shelfspan/study"
	"shelfspan/study/spelling"
)

// settle checks what can be checked only once every row is known, and leaves
// each result once and complete. It gives those that are out of the analysis, and
// what the tables say was changed.
func (r *reader) settle(sources []Source) (excluded []study.Result, changes []study.Change) {
	r.settleOthers()
	r.checkDays()
	r.findDuplicates()
	r.mergeZeros()
	if r.ledger {
		r.checkZeroLabels()
	}
	r.settleWeighings()
	r.countGroups()
	if r.ledger {
		r.checkCorrections(sources)
	}
	r.count()
	r.addPending()
	changes = r.tableChanges()
	if r.again != nil || len(r.excluded) > 0 {
		kept := r.results[:0]
		for i := range r.results {
			switch {
			case r.gone(uint32(i)):
			case r.excluded[uint32(i)]:
				excluded = append(excluded, r.results[i])
			default:
				kept = append(kept, r.results[i])
			}
		}
		r.results = kept
	}
	if r.ledger {
		for i := range r.results {
			r.noteResult(&r.results[i])
		}
	}
	if n := len(r.results); cap(r.results) > n+n/8 {
		r.results = append(make([]study.Result, 0, n), r.results...)
	}
	return excluded, changes
}

// zeroKey identifies a time-zero result: the condition and orientation its
// sample was to go to do not count, nor the day.
type zeroKey struct {
	batch, pack, attribute uint16
	unit, replicate        uint32
}

// mergeZeros keeps one of the time-zero results that are repeated under several
// conditions.
func (r *reader) mergeZeros() {
	one := r.texts.index["1"] // 0 where nothing is labelled 1
	seen := make(map[zeroKey]uint32, len(r.zeros)/2)
	for _, i := range r.zeros {
		if r.gone(i) {
			continue
		}
		x := &r.results[i]
		k := zeroKey{x.Batch, x.Pack, x.Attribute, x.Unit, x.Replicate}
		if a := &r.study.Attributes[x.Attribute]; k.unit == 0 && k.replicate == 0 && one != 0 {
			// The only one under its condition is the first of those numbered
			// under another.
			if a.Units > 1 && a.Replicates <= 1 {
				k.unit = one
			} else {
				k.replicate = one
			}
		}
		j, twice := seen[k]
		if !twice {
			seen[k] = i
			continue
		}
		first := &r.results[j]
		if math.IsNaN(x.Value) || math.IsNaN(first.Value) {
			continue // has a fault already
		}
		if r.of[i] == r.of[j] {
			r.refuseOther(i, j)
			continue // else a duplicate, and told as such
		}
		if !r.sameValue(i, j) {
			r.faultAt(int(x.Input), int(x.Line), r.valueColumn(x), func() string {
				return "another value for " + r.describe(x) + " than on " + r.lineOf(first, x.Input) +
					"; time zero is measured once for a batch and pack: repeat the same value, or tell the units or replicates apart" +
					r.amendHint(first, study.ValueText(r.study, x))
			})
			continue
		}
		r.repeat(i, j)
		first.Condition, first.Orientation = -1, 0
		if r.ledger && first.Input != x.Input {
			continue // a later table that has it again, which is counted
		}
		r.notes.add(note{code: "repeated-time-zero", attribute: int(x.Attribute), input: int(x.Input), line: int(x.Line)})
	}
}

// checkZeroLabels refuses time-zero results of several tables of which one has
// neither unit nor replicate: whether they are the same or others cannot be told,
// and they would be counted twice.
func (r *reader) checkZeroLabels() {
	type what struct{ batch, pack, attribute uint16 }
	bare := make(map[what]uint32)
	for _, i := range r.zeros {
		x := &r.results[i]
		k := what{x.Batch, x.Pack, x.Attribute}
		if _, known := bare[k]; !known && !r.gone(i) && r.groups.list[r.of[i]].value.unlabeled {
			bare[k] = i
		}
	}
	for _, i := range r.zeros {
		x := &r.results[i]
		k := what{x.Batch, x.Pack, x.Attribute}
		j, known := bare[k]
		if !known || r.gone(i) || x.Input == r.results[j].Input || r.of[i] == r.of[j] {
			continue
		}
		delete(bare, k) // one fault says it
		first, later := &r.results[j], x
		if later.Input < first.Input {
			first, later = later, first
		}
		r.faultAt(int(later.Input), int(later.Line), r.valueColumn(later), func() string {
			return r.describe(later) + ": " + r.lineOf(first, later.Input) +
				" has one of time zero too, and one of the two tables gives it neither unit nor replicate; label all results of time zero, or hand in the same ones"
		})
	}
}

// arm is one unit that is weighed again and again, and where it is stored.
type arm struct {
	attribute, batch, pack uint16
	condition              int16
	orientation            uint8
	unit                   uint32
}

// key packs an arm.
func (a arm) key() key {
	return key{
		uint64(a.attribute)<<48 | uint64(a.batch)<<32 | uint64(a.pack)<<16 | uint64(uint16(a.condition)),
		uint64(a.orientation)<<32 | uint64(a.unit),
	}
}

func armOf(x *study.Result) arm {
	return arm{x.Attribute, x.Batch, x.Pack, x.Condition, x.Orientation, x.Unit}
}

// weighed is what is known of a unit. Rows are those of results, from 1; 0
// stands for none.
type weighed struct {
	tare     float64 // where tareRow is set
	tareRow  uint32  // where the tare was given
	first    uint32  // its first weighing after time zero
	zero     uint32  // its first weighing at time zero
	heaviest uint32  // the largest weighing at time zero in the analysis, the first of equals

	zeros map[uint32]uint32 // other weighings at time zero, by replicate
}

// reading gives the row of a unit's reading at time zero, 0 where there is none.
func (u *weighed) reading(results []study.Result, replicate uint32) uint32 {
	if u.zero > 0 && results[u.zero-1].Replicate == replicate {
		return u.zero
	}
	return u.zeros[replicate]
}

// settleWeighings finds the unit of every weighing, its time-zero mass and its
// tare, and keeps repeated time-zero masses once.
func (r *reader) settleWeighings() {
	if len(r.weighings) == 0 {
		return
	}
	var units numbering[weighed]
	of := make([]uint32, len(r.weighings)) // the unit of each
	for n, i := range r.weighings {
		x := &r.results[i]
		if r.floating[i] {
			continue
		}
		of[n], _ = units.find(armOf(x).key())
		if u := &units.list[of[n]].value; u.first == 0 && !x.Planned.IsZero() && !r.gone(i) && !r.excluded[i] {
			u.first = i + 1
		}
	}
	if len(r.floating) > 0 {
		r.settleFloating(&units, of)
	}
	for n, i := range r.weighings {
		r.weigh(i, &units.list[of[n]].value)
	}
	for n := range units.list {
		r.closeUnit(&units.list[n].value, &units)
	}
	for n, i := range r.weighings {
		x, u := &r.results[i], &units.list[of[n]].value
		r.checkTare(i, u)
		if r.gone(i) {
			continue
		}
		r.fillTare(x, u)
		if !r.excluded[i] {
			r.compareMass(x, u)
		}
	}
}

// settleFloating finds the units of the weighings at time zero that do not say
// all of their arm, by their labels.
func (r *reader) settleFloating(units *numbering[weighed], of []uint32) {
	byLabel := make(map[arm][]arm) // condition and orientation 0
	label := func(a arm) arm { a.condition, a.orientation = 0, 0; return a }
	seen := make(map[arm]bool, len(units.list))
	for _, i := range r.weighings {
		if a := armOf(&r.results[i]); !r.floating[i] && !seen[a] {
			seen[a] = true
			byLabel[label(a)] = append(byLabel[label(a)], a)
		}
	}
	for n, i := range r.weighings {
		if !r.floating[i] {
			continue
		}
		x := &r.results[i]
		var fits []arm
		for _, a := range byLabel[label(armOf(x))] {
			if x.Condition < 0 || x.Condition == a.condition {
				fits = append(fits, a)
			}
		}
		if len(fits) > 1 {
			r.faultAt(int(x.Input), int(x.Line), "condition", func() string { return r.ambiguous(x, fits) })
			for _, a := range fits {
				at, _ := units.find(a.key())
				units.list[at].value.first = 0 // whether it has a time-zero mass is this row's question
			}
		}
		if len(fits) == 1 {
			x.Condition, x.Orientation = fits[0].condition, fits[0].orientation
		}
		of[n], _ = units.find(armOf(x).key())
	}
}

// A unit in storage loses or takes up a little. Masses beyond these multiples
// of that at time zero are told (common practice, no source): the first as a
// possible exchange of units, the others as another unit of mass.
const (
	gainTold  = 1.001
	massAbove = 100
	massBelow = 0.01
)

// compareMass compares a weighing with the mass of its unit at time zero.
func (r *reader) compareMass(x *study.Result, u *weighed) {
	if x.Planned.IsZero() || u.heaviest == 0 || math.IsNaN(x.Value) {
		return
	}
	first := &r.results[u.heaviest-1]
	switch ratio := x.Value / first.Value; {
	case ratio > massAbove || ratio < massBelow:
		r.faultAt(int(x.Input), int(x.Line), r.valueColumn(x), func() string {
			return "a mass of " + grams(x.Value) + ", where unit " + r.texts.shown(x.Unit) + " had " + grams(first.Value) + " at time zero (" +
				r.lineOf(first, x.Input) + "); give both in g"
		})
	case ratio > gainTold:
		r.notes.add(note{code: "mass-gain", attribute: int(x.Attribute), condition: int(x.Condition), pack: int(x.Pack),
			most: int(math.Round(1e4 * (ratio - 1))), input: int(x.Input), line: int(x.Line)})
	}
}

// weigh adds one weighing to what is known of its unit.
func (r *reader) weigh(i uint32, u *weighed) {
	x := &r.results[i]
	if !math.IsNaN(x.Tare) && u.tareRow == 0 {
		u.tare, u.tareRow = x.Tare, i+1
	}
	if !x.Planned.IsZero() || r.gone(i) {
		return
	}
	j := u.reading(r.results, x.Replicate)
	switch {
	case u.zero == 0:
		u.zero = i + 1
	case j == 0:
		if u.zeros == nil {
			u.zeros = make(map[uint32]uint32)
		}
		u.zeros[x.Replicate] = i + 1
	default:
		r.weighZeroAgain(i, j-1)
		return
	}
	if !r.excluded[i] && (u.heaviest == 0 || x.Value > r.results[u.heaviest-1].Value) {
		u.heaviest = i + 1
	}
}

// checkTare refuses a second tare of a unit, but where a table repeats a weighing
// with the tare that it had before an amendment.
func (r *reader) checkTare(i uint32, u *weighed) {
	x := &r.results[i]
	if math.IsNaN(x.Tare) || x.Tare == u.tare || r.gone(i) && slices.Contains(r.past[r.kept(i)].tare, x.Tare) {
		return
	}
	r.faultAt(int(x.Input), int(x.Line), "tare", func() string {
		return "a tare of " + grams(x.Tare) + " for unit " + r.texts.shown(x.Unit) + ", and " + grams(u.tare) + " on " +
			r.lineOf(&r.results[u.tareRow-1], x.Input) + "; a unit has one tare"
	})
}

// weighZeroAgain compares a second mass at time zero of one unit and replicate
// with the first.
func (r *reader) weighZeroAgain(i, j uint32) {
	x, first := &r.results[i], &r.results[j]
	switch {
	case math.IsNaN(x.Value) || math.IsNaN(first.Value): // has a fault already
	case r.of[i] == r.of[j]:
		r.refuseOther(i, j) // else a duplicate, and told as such
	case r.sameValue(i, j):
		r.repeat(i, j)
		if r.ledger && first.Input != x.Input {
			return // a later table that has it again, which is counted
		}
		r.notes.add(note{code: "repeated-time-zero", attribute: int(x.Attribute), input: int(x.Input), line: int(x.Line)})
	default:
		r.faultAt(int(x.Input), int(x.Line), r.valueColumn(x), func() string {
			return "a mass of " + grams(x.Value) + " for " + r.describe(x) + ", and " + grams(first.Value) + " on " +
				r.lineOf(first, x.Input) + "; a unit has one mass at time zero (several readings of it are replicates)" +
				r.amendHint(first, study.ValueText(r.study, x))
		})
	}
}

// closeUnit checks that a unit has a mass at time zero; units are all of them.
func (r *reader) closeUnit(u *weighed, units *numbering[weighed]) {
	if u.first == 0 || u.heaviest > 0 {
		return
	}
	x := &r.results[u.first-1]
	name := r.texts.list[x.Unit]
	for _, k := range []skippedUnit{{int(x.Batch), int(x.Pack), name}, {-1, int(x.Pack), name}, {int(x.Batch), -1, name}, {-1, -1, name}} {
		if r.skipped[k] {
			return // its time-zero mass may stand on a row with a fault
		}
	}
	r.faultAt(int(x.Input), int(x.Line), "unit", func() string {
		text := "unit " + r.texts.shown(x.Unit) + " has no mass at time zero"
		if u.zero > 0 { // it is out of the analysis
			return text + " in the analysis (" + r.describe(x) + "); that on " + r.lineOf(&r.results[u.zero-1], x.Input) +
				" is excluded: exclude the unit's later masses first, or restore it"
		}
		meant := r.rightUnit(x, units)
		if meant == "" && r.faults.hint == "" {
			r.faults.hint = "the masses at time zero come first: hand their table in before this one, or with it"
		}
		return text + " (" + r.describe(x) + "); " + meant + "add its row with time 0, from before it was stored"
	})
}

// rightUnit asks, where a unit with a mass at time zero in the same place has a
// label much like that of a weighing, whether it is meant.
func (r *reader) rightUnit(x *study.Result, units *numbering[weighed]) string {
	place := armOf(x)
	place.unit = 0
	var labels []string
	for n := range units.list {
		u := &units.list[n].value
		if u.heaviest == 0 {
			continue
		}
		zero := &r.results[u.zero-1]
		at := armOf(zero)
		at.unit = 0
		if at == place {
			labels = append(labels, r.texts.list[zero.Unit])
		}
	}
	slices.Sort(labels)
	if near := spelling.Nearest(r.texts.list[x.Unit], labels); near != "" {
		return "is it unit " + near + "? Else "
	}
	return ""
}

// fillTare gives a weighing the tare of its unit, else of its pack.
func (r *reader) fillTare(x *study.Result, u *weighed) {
	told := !math.IsNaN(x.Tare)
	if u.tareRow > 0 {
		x.Tare = u.tare
	} else {
		x.Tare = r.study.Packs[x.Pack].Tare
	}
	if !told && x.Value <= x.Tare {
		r.faultAt(int(x.Input), int(x.Line), r.valueColumn(x), func() string {
			from := "the pack"
			if u.tareRow > 0 {
				from = "the unit, from " + r.lineOf(&r.results[u.tareRow-1], x.Input)
			}
			return "a gross mass of " + grams(x.Value) + " is not above the tare of " + from + ", " + grams(x.Tare)
		})
	}
}

func (r *reader) ambiguous(x *study.Result, fits []arm) string {
	var where []string
	for _, a := range fits {
		text := r.study.Conditions[max(0, a.condition)].ID
		if stands := r.study.Packs[a.pack].Orientations; len(stands) > 1 {
			text += " " + string(stands[a.orientation])
		}
		where = append(where, text)
	}
	slices.Sort(where)
	return "the time-zero mass of unit " + r.texts.shown(x.Unit) + " may belong to the unit of that label at " + enumerate(where) +
		"; name the condition (and orientation), or give each unit a label of its own"
}

// countGroups compares the results of each pull with those the study plans.
func (r *reader) countGroups() {
	for i := range r.excluded {
		if !r.gone(i) {
			r.groups.list[r.of[i]].value.count--
		}
	}
	dated, undated := false, false
	for i := range r.groups.list {
		g := &r.groups.list[i].value
		x := &r.results[g.first]
		dated, undated = dated || x.Pulled != study.NoDate, undated || x.Pulled == study.NoDate
		a := &r.study.Attributes[x.Attribute]
		// The units of every condition may be weighed together at time zero.
		if a.Kind == study.Weighing && x.Planned.IsZero() {
			continue
		}
		if planned := max(1, a.Units) * max(1, a.Replicates); int(g.count) > planned {
			r.notes.add(note{code: "more-than-planned", attribute: int(x.Attribute), most: int(g.count), input: int(x.Input), line: int(x.Line)})
		}
	}
	if !dated || !undated || r.options.Repeats { // where the day does not tell results apart
		return
	}
	seen := make(map[key]uint32)
	for _, on := range []bool{true, false} {
		for i := range r.groups.list {
			first := r.groups.list[i].value.first
			x := &r.results[first]
			anyDay := *x
			anyDay.Pulled = study.NoDate
			k := groupOf(&anyDay)
			if (x.Pulled != study.NoDate) != on {
				continue
			}
			if on {
				seen[k] = first
			} else if _, both := seen[k]; both {
				r.notes.add(note{code: "day-missing", attribute: int(x.Attribute), condition: int(x.Condition), at: x.Planned, input: int(x.Input), line: int(x.Line)})
			}
		}
	}
}
