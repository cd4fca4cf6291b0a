package intake

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"shelfspan/study"
)

// groupOf packs all that identifies a result but its unit and replicate. The
// planned time counts less than 2^24 days or months (16 million), the letters of
// its units differ in their last four bits, and a pack stands in three ways at
// most.
func groupOf(x *study.Result) key {
	return key{
		uint64(x.Batch)<<48 | uint64(x.Pack)<<32 | uint64(x.Attribute)<<16 | uint64(uint16(x.Condition)),
		uint64(uint32(x.Pulled))<<32 | uint64(uint32(x.Planned.N))<<8 | uint64(x.Planned.Unit&15)<<4 | uint64(x.Orientation&15),
	}
}

// undated leaves the day out of what groupOf packs.
func undated(k key) key {
	none := study.NoDate
	return key{k[0], k[1]&math.MaxUint32 | uint64(uint32(none))<<32}
}

// group is the results of one attribute on the samples of one pull.
type group struct {
	first     uint32 // its first result
	count     uint32
	labels    uint64 // the highest unit and replicate so far
	unlabeled bool   // its results have neither unit nor replicate
	unordered bool   // some labels do not ascend, so that one may stand twice
}

// labelsOf orders results within a group.
func labelsOf(x *study.Result) uint64 { return uint64(x.Unit)<<32 | uint64(x.Replicate) }

// join puts a result into its group: numbers it where it has no label, and
// marks the group for the search for duplicates where its label does not ascend.
func (r *reader) join(i uint32) {
	x := &r.results[i]
	k := groupOf(x)
	if r.options.Repeats {
		k = undated(k)
	}
	at, isNew := r.groups.find(k)
	r.of[i] = at
	g := &r.groups.list[at].value
	labels := labelsOf(x)
	if isNew {
		*g = group{first: i, count: 1, labels: labels, unlabeled: labels == 0}
		return
	}
	g.count++
	if labels != 0 && !g.unlabeled {
		g.unordered = g.unordered || labels <= g.labels
		g.labels = max(g.labels, labels)
		return
	}
	first := &r.results[g.first]
	if (labels == 0) != g.unlabeled {
		r.fault(r.valueColumn(x), func() string {
			which := "has a unit or replicate, and that on " + r.lineOf(first, x.Input) + " has none"
			if labels == 0 {
				which = "has neither unit nor replicate, and that on " + r.lineOf(first, x.Input) + " has"
			}
			return r.describe(x) + ": this result " + which + "; label all results of a pull, or none"
		})
		return
	}
	if first.Input != x.Input && r.options.Repeats {
		g.count--
		r.joinOther(at, i)
		return
	}
	if first.Input != x.Input {
		r.fault(r.valueColumn(x), func() string {
			return r.describe(x) + ": " + r.lineOf(first, x.Input) + " has a result of the same key; results in another file need a unit or replicate to be told from it"
		})
		return
	}
	if g.count == 2 {
		r.giveNumber(first, 1)
		r.notes.add(note{code: "unlabelled-repeats", attribute: int(x.Attribute), input: int(first.Input), line: int(first.Line)})
	}
	r.giveNumber(x, int(g.count))
}

// giveNumber gives a result without labels its number among those of its pull.
func (r *reader) giveNumber(x *study.Result, n int) {
	var label [12]byte
	t := r.texts.intern(strconv.AppendInt(label[:0], int64(n), 10))
	x.Numbered = true
	if a := &r.study.Attributes[x.Attribute]; a.Units > 1 && a.Replicates <= 1 {
		x.Unit = t
	} else {
		x.Replicate = t
	}
}

// findDuplicates looks for results of one key in the groups whose labels did
// not come in ascending order.
func (r *reader) findDuplicates() {
	// The results of each such group side by side, in the order of their rows.
	from, next, total := make([]uint32, len(r.groups.list)), make([]uint32, len(r.groups.list)), uint32(0)
	for i := range r.groups.list {
		if g := &r.groups.list[i].value; g.unordered {
			from[i], next[i] = total, total
			total += g.count
		}
	}
	if total == 0 {
		return
	}
	type suspect struct {
		labels uint64
		row    uint32
	}
	suspects := make([]suspect, total)
	for i := range r.results {
		if at := r.of[i]; r.groups.list[at].value.unordered {
			suspects[next[at]] = suspect{labelsOf(&r.results[i]), uint32(i)}
			next[at]++
		}
	}
	for i := range r.groups.list {
		own := suspects[from[i]:next[i]]
		slices.SortFunc(own, func(a, b suspect) int {
			return cmp.Or(cmp.Compare(a.labels, b.labels), cmp.Compare(a.row, b.row))
		})
		first, here := 0, 0 // the first of a key, and the first of it in a table that may repeat it
		for k := 1; k < len(own); k++ {
			if own[k].labels != own[first].labels {
				first, here = k, k
				continue
			}
			b := &r.results[own[k].row]
			if r.options.Repeats && r.results[own[here].row].Input != b.Input {
				here = k
				r.groups.list[i].value.count--
				r.compareRepeat(own[k].row, own[first].row)
				continue
			}
			if r.options.Repeats && r.refuseDays(own[k].row, own[here].row) {
				continue
			}
			a := &r.results[own[here].row]
			r.faultAt(int(b.Input), int(b.Line), r.valueColumn(b), func() string {
				return "a second result for " + r.describe(b) + "; " + r.lineOf(a, b.Input) + " has the first"
			})
		}
	}
}

// compareRepeat drops result i, of a later table, where it says again what result
// j says, and refuses it where it says something else.
func (r *reader) compareRepeat(i, j uint32) {
	x, first := &r.results[i], &r.results[j]
	switch {
	case math.IsNaN(x.Value) || math.IsNaN(first.Value): // has a fault already
	case !r.sameValue(i, j):
		if !x.Planned.IsZero() { // else the one to compare with may stand under another condition
			r.refuseValue(i, j)
		}
	case r.refuseDays(i, j):
	default:
		r.repeat(i, j)
	}
}

// refuseOther refuses result i at time zero where a later table has another value
// than result j of the same key.
func (r *reader) refuseOther(i, j uint32) {
	if r.options.Repeats && r.results[i].Input != r.results[j].Input && !r.sameValue(i, j) {
		r.refuseValue(i, j)
	}
}

// refuseValue refuses result i, which has another value than result j of the
// same key.
func (r *reader) refuseValue(i, j uint32) {
	x, first := &r.results[i], &r.results[j]
	r.faultAt(int(x.Input), int(x.Line), r.valueColumn(x), func() string {
		return r.describe(x) + " is " + study.ValueText(r.study, first) + " already (" + r.lineOf(first, x.Input) + "), and here " +
			study.ValueText(r.study, x) + r.amendHint(first, study.ValueText(r.study, x))
	})
}

// valueColumn names the column that a result stands in.
func (r *reader) valueColumn(x *study.Result) string {
	if r.wide[x.Input] {
		return r.study.Attributes[x.Attribute].ID
	}
	return "value"
}

// describe names a result by its key.
func (r *reader) describe(x *study.Result) string {
	s := r.study
	text := s.Attributes[x.Attribute].ID + " of batch " + s.Batches[x.Batch].ID
	if id := s.Packs[x.Pack].ID; id != "" {
		text += " in " + id
	}
	if stands := s.Packs[x.Pack].Orientations; len(stands) > 1 && int(x.Orientation) < len(stands) && !x.Planned.IsZero() {
		text += " " + string(stands[x.Orientation])
	}
	if x.Condition >= 0 {
		text += " at " + s.Conditions[x.Condition].ID
	}
	text += ", time " + x.Planned.String()
	if x.Unit != 0 {
		text += ", unit " + r.texts.shown(x.Unit)
	}
	if x.Replicate != 0 {
		text += ", replicate " + r.texts.shown(x.Replicate)
	}
	return text
}

// lineOf names the line of a result, with its file where that is not the input
// the sentence is about.
func (r *reader) lineOf(x *study.Result, input uint16) string {
	line := "line " + strconv.Itoa(int(x.Line))
	if x.Input != input {
		line += " of " + r.inputs[x.Input].Path
	}
	return line
}
