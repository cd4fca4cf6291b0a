package intake

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

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

// RowCorrection changes a day or the tare of a row after its table was taken in:
// the table is read as if the row had Text there, which may be a column it has not.
type RowCorrection struct {
	Part study.Part
	Text string
	// Had is what results of the row had before, from the row or from elsewhere. A
	// later table that repeats them may still have it.
	Had []string
}

// Options are the rules of a ledger, which reads all tables of a study together
// each time, with what was changed since.
type Options struct {
	// Repeats says that a result which another table has already, with the same
	// value, is kept once, the first, instead of being refused: a lab hands in a
	// table that grows. The same value, day or tare is one it has or ever had. What the first
	// leaves open (the day of the pull or of the test, analyst, method, comment,
	// tare) is taken from the others. What identifies a result then leaves out the
	// day pulled: two different days for the same pull, unit and replicate are a
	// fault. Results without unit and replicate are the same only where all of
	// their kind are, in their order.
	Repeats bool
	// PulledOn gives the day on which the samples of a planned pull were taken,
	// for rows that have a time and no day; NoDate where it is not known. It is
	// not asked at time zero.
	PulledOn func(batch, condition, pack, orientation int, planned study.Duration) study.Date
	// ResultID names a result of a table of an earlier index, so that a fault can
	// say how it is changed; empty where it has no name yet.
	ResultID func(input, line, attribute int) string
}

// Count is what was taken of one table. Results and Repeats together are its
// values.
type Count struct {
	Rows       int
	Results    int // values kept, those out of the analysis among them
	Repeats    int // values that are there already: in an earlier table, or at time zero under another condition
	Superseded int // of Repeats: those with a value, day or tare that was amended since, which stays amended
}

// ReadAll takes in the results of all sources by a ledger's rules. Results out of
// the analysis come in Dataset.Excluded. A correction that meets no result is a
// fault.
func ReadAll(s *study.Study, o Options, sources ...Source) (*study.Dataset, []Count, error) {
	r := newReader(s)
	r.options = o
	r.ledger = true
	r.history = make(map[uint32][]amount)
	r.past = make(map[uint32]past)
	r.daySaid = make(map[uint32]uint32)
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
	had := func(i uint32) []amount { return append(slices.Clip(r.history[i]), amountOf(&r.results[i])) }
	return slices.ContainsFunc(had(i), func(a amount) bool { return slices.Contains(had(j), a) })
}

// gone reports whether a result is not kept, since it says again what another does.
func (r *reader) gone(i uint32) bool { return r.again != nil && r.again[i] != 0 }

// kept gives the result that is kept for one that may be gone.
func (r *reader) kept(i uint32) uint32 {
	for r.gone(i) {
		i = r.again[i] - 1 // always an earlier one
	}
	return i
}

// repeat drops result i, which says again what an earlier result j says.
func (r *reader) repeat(i, j uint32) {
	if r.again == nil {
		r.again = make([]uint32, len(r.results))
	}
	r.again[i] = j + 1
	if r.ledger && r.results[i].Input != r.results[j].Input {
		r.complete(i, j)
	}
}

// complete takes from result i of a later table what result j, which is kept,
// leaves open.
func (r *reader) complete(i, j uint32) {
	x, first := &r.results[i], &r.results[j]
	if r.dated(i) && !r.dated(j) {
		first.Pulled, first.Elapsed, first.InWindow = x.Pulled, x.Elapsed, x.InWindow
		r.daySaid[j] = i
	}
	differs := ""
	if first.Tested == study.NoDate {
		first.Tested = x.Tested
	} else if x.Tested != study.NoDate && x.Tested != first.Tested && !slices.Contains(r.past[j].tested, x.Tested) {
		differs = columnNames[colTested]
	}
	for _, t := range [...]struct {
		has    *uint32
		says   uint32
		column column
	}{{&first.Analyst, x.Analyst, colAnalyst}, {&first.Method, x.Method, colMethod}, {&first.Comment, x.Comment, colComment}} {
		switch {
		case *t.has == 0:
			*t.has = t.says
		case t.says != 0 && t.says != *t.has && differs == "":
			differs = columnNames[t.column]
		}
	}
	if differs != "" {
		r.notes.add(note{code: "repeat-differs", input: int(x.Input), line: int(x.Line), text: differs})
	}
}

// dated reports whether a table says on which day the sample of a result was
// pulled; the day may be the ledger's else.
func (r *reader) dated(i uint32) bool {
	_, said := r.daySaid[i]
	return said || r.results[i].Pulled != study.NoDate && !r.recorded.has(i)
}

// dayRow gives the result whose row says the day of a dated one.
func (r *reader) dayRow(i uint32) *study.Result {
	if k, ok := r.daySaid[i]; ok {
		i = k
	}
	return &r.results[i]
}

// refuseDays refuses result i where its day is another than that of result j,
// and reports whether it did.
func (r *reader) refuseDays(i, j uint32) bool {
	x, first := r.dayRow(i), r.dayRow(j)
	if !r.dated(i) || !r.dated(j) || x.Pulled == first.Pulled || r.pulledBefore(i, j) {
		return false
	}
	r.faultAt(int(x.Input), int(x.Line), "pulled", func() string {
		return r.describe(x) + " was pulled on " + first.Pulled.String() + " (" + r.lineOf(first, x.Input) + "), and here on " +
			x.Pulled.String() + "; give the same day, or tell the units apart"
	})
	return true
}

// marks are what is so of some results.
type marks []bool

func (m marks) has(i uint32) bool { return int(i) < len(m) && m[i] }

func (m *marks) set(i uint32) {
	*m = append(*m, make([]bool, max(0, int(i)+1-len(*m)))...)
	(*m)[i] = true
}

// corrected gives what a value is corrected to, and the values it had before. The
// table's own value still says which decimal sign the table has; what a person
// typed later does not. A value it had is not told to be wrong: it is amended.
func (r *reader) corrected(attribute int, column string, b []byte) (text []byte, was []amount, exclude bool) {
	k := Cell{r.line, attribute}
	list := r.corrections[k]
	if list == nil {
		return b, nil, false
	}
	r.met[k] = true
	for _, c := range list {
		switch {
		case c.Exclude:
			exclude = true
		case c.Restore:
			exclude = false
		default:
			if len(b) > 0 {
				total, listed := r.faults.total, len(r.faults.list)
				if v, censor, ok := r.value(attribute, column, b); ok {
					was = append(was, amount{v, censor})
				}
				r.faults.total, r.faults.list = total, r.faults.list[:listed]
			}
			b, r.correcting = trim([]byte(c.Value)), true
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
	return "; where it is wrong: shelfspan amend " + id + " --value " + shellWord(value) + " --reason TEXT"
}

// shellWord writes a text so that a shell takes it as it is: <5 would read a file.
func shellWord(text string) string {
	const plain = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-+_"
	if text != "" && strings.Trim(text, plain) == "" {
		return text
	}
	return "'" + strings.ReplaceAll(text, "'", `'\''`) + "'"
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

// settleOthers compares the results of unlabelled groups that later tables have
// with those of the first: they are the same where all are, in order.
func (r *reader) settleOthers() {
	if len(r.others) == 0 {
		return
	}
	members := make([][]uint32, len(r.groups.list)) // of the first table, by group; nil where not asked
	for _, o := range r.others {
		members[o.group] = []uint32{}
	}
	for i := range r.results {
		g := r.of[i]
		if own := members[g]; own != nil && r.results[i].Input == r.results[r.groups.list[g].value.first].Input {
			members[g] = append(own, uint32(i))
		}
	}
	for k := range r.others {
		o := &r.others[k]
		r.settleOther(o, members[o.group])
	}
}

// settleOther drops the results of a later table where they are those of the
// first, and refuses them where they are not.
func (r *reader) settleOther(o *otherGroup, first []uint32) {
	unread := func(i uint32) bool { return math.IsNaN(r.results[i].Value) }
	if slices.ContainsFunc(o.results, unread) || slices.ContainsFunc(first, unread) {
		return // has a fault already
	}
	const apart = "; results in another file need a unit or replicate to be told from it"
	if len(o.results) != len(first) {
		x, earlier := &r.results[o.results[0]], &r.results[first[0]]
		r.faultAt(int(x.Input), int(x.Line), r.valueColumn(x), func() string {
			return r.describe(x) + ": " + r.inputs[earlier.Input].Path + " has " + count(len(first), "result") + " of the same key (from line " +
				itoa(int(earlier.Line)) + "), and this file has " + itoa(len(o.results)) + apart
		})
		return
	}
	var differ []int
	for n := range first {
		if !r.sameValue(o.results[n], first[n]) {
			differ = append(differ, n)
		}
	}
	if len(differ) > 0 && r.results[first[0]].Planned.IsZero() {
		// The ones to compare with may stand under another condition.
		for n, i := range o.results {
			if len(first) > 1 {
				r.giveNumber(&r.results[i], n+1)
			}
		}
		return
	}
	if len(differ) > 0 {
		x, earlier := &r.results[o.results[differ[0]]], &r.results[first[differ[0]]]
		r.faultAt(int(x.Input), int(x.Line), r.valueColumn(x), func() string {
			text := r.describe(x) + ": " + r.lineOf(earlier, x.Input) + " has a result of the same key and another value" + apart
			if len(differ) == 1 { // of several, they may come in another order
				text += r.amendHint(earlier, study.ValueText(r.study, x))
			}
			return text
		})
		return
	}
	for n, i := range o.results {
		if !r.refuseDays(i, first[n]) {
			r.repeat(i, first[n])
		}
	}
}

// checkDays refuses results without unit and replicate that say two days for one
// pull; they would be numbered as one sample.
func (r *reader) checkDays() {
	if !r.options.Repeats {
		return
	}
	said := make([]uint32, len(r.groups.list)) // the first result that says a day, from 1
	for i := range uint32(len(r.results)) {
		g := r.of[i]
		if !r.groups.list[g].value.unlabeled || r.gone(i) || !r.dated(i) {
			continue
		}
		switch j := said[g]; {
		case j == 0:
			said[g] = i + 1
		case r.results[i].Input == r.results[j-1].Input: // else they were compared
			r.refuseDays(i, j-1)
		}
	}
}

// checkCorrections refuses corrections that met no result which is kept, since
// they would be lost silently.
func (r *reader) checkCorrections(sources []Source) {
	type spot struct {
		input int
		Cell
	}
	dropped := make(map[spot]uint32)
	for i := range r.again {
		if x := &r.results[i]; r.gone(uint32(i)) && len(sources[x.Input].Corrections) > 0 {
			dropped[spot{int(x.Input), Cell{int(x.Line), int(x.Attribute)}}] = uint32(i)
		}
	}
	for i := range sources {
		if r.inputs[i].Rows == 0 {
			continue // it could not be read, and that is told
		}
		for _, line := range slices.Sorted(maps.Keys(sources[i].Rows)) {
			if !r.rowsMet[i][line] {
				r.faultAt(i, line, string(sources[i].Rows[line][0].Part), func() string { return "there is no row here to change" })
			}
		}
		for _, k := range slices.SortedFunc(maps.Keys(sources[i].Corrections), func(a, b Cell) int {
			return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Attribute, b.Attribute))
		}) {
			g, again := dropped[spot{i, k}]
			if r.metBy[i][k] && !again {
				continue
			}
			column := "" // of an attribute that the study does not have
			if k.Attribute >= 0 && k.Attribute < len(r.study.Attributes) {
				column = r.study.Attributes[k.Attribute].ID
			}
			r.faultAt(i, k.Line, column, func() string {
				if !again {
					return "there is no result here to change"
				}
				kept := &r.results[r.kept(g)]
				text := "this result repeats that on " + r.lineOf(kept, uint16(i)) + ", which is the one to change"
				if of := r.options.ResultID; of != nil {
					if id := of(int(kept.Input), int(kept.Line), int(kept.Attribute)); id != "" {
						text += ": " + id
					}
				}
				return text
			})
		}
	}
}

// count counts what was taken of each table.
func (r *reader) count() {
	if !r.ledger {
		return // only a ledger asks
	}
	r.counts = make([]Count, len(r.inputs))
	for i := range r.inputs {
		r.counts[i].Rows = r.inputs[i].Rows
	}
	for i := range uint32(len(r.results)) {
		x := &r.results[i]
		c := &r.counts[x.Input]
		if !r.gone(i) {
			c.Results++
			continue
		}
		c.Repeats++
		if k := r.kept(i); amountOf(x) != amountOf(&r.results[k]) || r.outdated(i, k) {
			c.Superseded++
		}
	}
}
