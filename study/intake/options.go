package intake

import (
	"shelfspan/study"
)

// Cell is where a value stands in a table: its line, from 1, and the index of its
// attribute in the study.
type Cell struct{ Line, Attribute int }

// Correction changes the result of a cell after its table was taken in.
type Correction struct {
	Value   string // in place of what the table has, written as a table would; unused where it is taken out or put back
	Exclude bool   // it is taken out of the analysis
	Restore bool   // it is put back
}

// Options are the rules of a ledger, which reads all tables of a study together
// each time, with what was changed since.
type Options struct {
	// Repeats says that a result which another table has already, with the same
	// value, is kept once, the first, instead of being refused: a lab hands in a
	// table that grows. The same value is one it has or ever had. What identifies
	// a result then leaves out the day pulled, of which one table may say more
	// than another: two different days for the same planned pull, unit and
	// replicate are a fault. Results without unit and replicate are the same only
	// where all of their kind are, in their order.
	Repeats bool
	// PulledOn gives the day on which the samples of a planned pull were taken,
	// for rows that have a time and no day; NoDate where it is not known. It is
	// not asked at time zero.
	PulledOn func(batch, condition, pack, orientation int, planned study.Duration) study.Date
	// ResultID names a result of a table of an earlier index, so that a fault can
	// say how it is changed; empty where it has no name yet.
	ResultID func(input, line, attribute int) string
}

// Count is what was taken of one table.
type Count struct {
	Rows       int
	Results    int // values kept, those out of the analysis among them
	Repeats    int // values that an earlier table has already
	Superseded int // of Repeats: those with a value that was amended since, which stays amended
}

// ReadAll takes in the results of all sources by a ledger's rules. Results out of
// the analysis come in Dataset.Excluded. A correction that meets no result is a
// fault.
func ReadAll(s *study.Study, o Options, sources ...Source) (*study.Dataset, []Count, error) {
	r := newReader(s)
	r.options = o
	r.again = make(map[uint32]uint32)
	r.history = make(map[uint32][]amount)
	r.excluded = make(map[uint32]bool)
	r.undated = make(map[uint32]bool)
	d, err := r.read(sources)
	if err != nil {
		return nil, nil, err
	}
	return d, r.counts, nil
}

// amount is a value that a result had.
type amount struct {
	value  float64
	censor study.Censor
}

func amountOf(x *study.Result) amount { return amount{x.Value, x.Censor} }

// sameValue reports whether two results have, or ever had, one value in common.
func (r *reader) sameValue(i, j uint32) bool {
	if amountOf(&r.results[i]) == amountOf(&r.results[j]) {
		return true
	}
	if len(r.history) == 0 {
		return false
	}
	has := func(i uint32, a amount) bool {
		if amountOf(&r.results[i]) == a {
			return true
		}
		for _, h := range r.history[i] {
			if h == a {
				return true
			}
		}
		return false
	}
	if has(i, amountOf(&r.results[j])) {
		return true
	}
	for _, h := range r.history[j] {
		if has(i, h) {
			return true
		}
	}
	return false
}

// repeats notes that result i says again what result j says.
func (r *reader) repeats(i, j uint32) {
	if r.again != nil {
		r.again[i] = j
	}
}

// corrected gives what a value is corrected to, and notes what it was before.
func (r *reader) corrected(w *row, attribute int, column string, b []byte) (text []byte, was []amount, exclude bool) {
	k := Cell{r.line, attribute}
	list := r.corrections[k]
	if list == nil {
		return b, nil, false
	}
	r.met[k] = true
	r.correcting = true // what a person typed later says nothing of the table's decimal sign
	defer func() { r.correcting = false }()
	for _, c := range list {
		switch {
		case c.Exclude:
			exclude = true
		case c.Restore:
			exclude = false
		default:
			if v, censor, ok := r.value(attribute, column, b); ok {
				was = append(was, amount{v, censor})
			}
			b = []byte(c.Value)
		}
	}
	return b, was, exclude
}

// amendHint says how a result that was taken in before is changed.
func (r *reader) amendHint(first *study.Result, value string) string {
	if r.options.ResultID == nil {
		return ""
	}
	id := r.options.ResultID(int(first.Input), int(first.Line), int(first.Attribute))
	if id == "" {
		return ""
	}
	return "; where it is wrong: shelfspan amend " + id + " --value " + value + " --reason TEXT"
}

// settleOthers compares the results of an unlabelled group that later tables
// have with those of the first: they are the same where all are, in order.
func (r *reader) settleOthers(gone map[uint32]bool) {
	if len(r.others) == 0 {
		return
	}
	members := make(map[uint32][]uint32, len(r.others)) // of the first table, by group
	for _, o := range r.others {
		members[o.group] = nil
	}
	for i := range r.results {
		g := r.of[i]
		if own, ok := members[g]; ok && r.results[i].Input == r.results[r.groups.list[g].value.first].Input {
			members[g] = append(own, uint32(i))
		}
	}
	for k := range r.others {
		o := &r.others[k]
		first := members[o.group]
		same := len(first) == len(o.results)
		for n := 0; same && n < len(first); n++ {
			same = r.sameValue(o.results[n], first[n])
		}
		if same {
			for n, i := range o.results {
				gone[i] = true
				r.repeats(i, first[n])
			}
			continue
		}
		x, earlier := &r.results[o.results[0]], &r.results[first[0]]
		hint := ""
		if len(first) == 1 && len(o.results) == 1 {
			hint = r.amendHint(earlier, study.ValueText(r.study, x))
		}
		r.faultAt(int(x.Input), int(x.Line), r.valueColumn(x), func() string {
			return r.describe(x) + ": " + r.lineOf(earlier, x.Input) + " has a result of the same key and another value; results in another file need a unit or replicate to be told from it" + hint
		})
	}
}

// otherGroup is the results of one later table in an unlabelled group.
type otherGroup struct {
	group   uint32
	input   uint16
	results []uint32
}

// joinOther puts a result of a later table beside an unlabelled group.
func (r *reader) joinOther(group uint32, i uint32) {
	input := r.results[i].Input
	if r.otherAt == nil {
		r.otherAt = make(map[[2]uint32]int)
	}
	k := [2]uint32{group, uint32(input)}
	at, ok := r.otherAt[k]
	if !ok {
		at = len(r.others)
		r.otherAt[k] = at
		r.others = append(r.others, otherGroup{group: group, input: input})
	}
	r.others[at].results = append(r.others[at].results, i)
}

// checkCorrections refuses corrections that met no result which is kept, since
// they would be lost silently.
func (r *reader) checkCorrections(sources []Source, gone map[uint32]bool) {
	for i := range sources {
		if len(sources[i].Corrections) == 0 {
			continue
		}
		dropped := make(map[Cell]uint32)
		for g := range gone {
			if x := &r.results[g]; int(x.Input) == i {
				dropped[Cell{int(x.Line), int(x.Attribute)}] = g
			}
		}
		for k := range sources[i].Corrections {
			if !r.metBy[i][k] {
				r.faultAt(i, k.Line, r.study.Attributes[k.Attribute].ID, func() string { return "there is no result here to change" })
				continue
			}
			g, ok := dropped[k]
			if !ok {
				continue
			}
			r.faultAt(i, k.Line, r.study.Attributes[k.Attribute].ID, func() string {
				text := "this result repeats another, which is the one to change"
				if j, ok := r.again[g]; ok {
					kept := &r.results[j]
					text = "this result repeats that on " + r.lineOf(kept, uint16(i)) + ", which is the one to change"
					if id := r.options.ResultID; id != nil && id(int(kept.Input), int(kept.Line), int(kept.Attribute)) != "" {
						text += ": " + id(int(kept.Input), int(kept.Line), int(kept.Attribute))
					}
				}
				return text
			})
		}
	}
}

// count counts what was taken of each table.
func (r *reader) count(gone map[uint32]bool) {
	if r.again == nil {
		return // only a ledger asks
	}
	r.counts = make([]Count, len(r.inputs))
	for i := range r.inputs {
		r.counts[i].Rows = r.inputs[i].Rows
	}
	for i := range r.results {
		c := &r.counts[r.results[i].Input]
		j, again := r.again[uint32(i)]
		switch {
		case !gone[uint32(i)]:
			c.Results++
		case again && r.results[j].Input != r.results[i].Input:
			c.Repeats++
			if amountOf(&r.results[i]) != amountOf(&r.results[j]) {
				c.Superseded++
			}
		}
	}
}
