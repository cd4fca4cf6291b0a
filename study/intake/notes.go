package intake

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// note is one oddity, before it becomes a warning: the first row that showed
// it, and how many did.
type note struct {
	code                       string
	attribute, condition, pack int
	at                         study.Duration
	due, pulled                study.Date
	input, line                int // of the first row
	batch                      int
	most                       int // the largest of what is odd
	text                       string

	count   int
	batches []int
}

// noteKey is what makes two oddities the same.
type noteKey struct {
	code                       string
	attribute, condition, pack int
	at                         study.Duration
	due, pulled                study.Date
	input                      int
}

// notes gathers oddities, one for all rows that share it.
type notes struct {
	index   map[noteKey]*note
	lastKey noteKey
	last    *note
}

func newNotes() notes { return notes{index: make(map[noteKey]*note)} }

// ofFile are the codes that are about a file rather than the study.
func ofFile(code string) bool {
	return code == "no-values" || code == "mixed-decimals" || code == "three-decimals" || code == "repeat-differs"
}

func (n *notes) add(x note) {
	k := noteKey{code: x.code, attribute: x.attribute, condition: x.condition, pack: x.pack, at: x.at, due: x.due, pulled: x.pulled}
	if ofFile(x.code) {
		k.input = x.input
	}
	if n.last == nil || k != n.lastKey {
		if n.index[k] == nil {
			first := x
			n.index[k] = &first
		}
		n.lastKey, n.last = k, n.index[k]
	}
	n.last.count++
	n.last.most = max(n.last.most, x.most)
	if !slices.Contains(n.last.batches, x.batch) {
		n.last.batches = append(n.last.batches, x.batch)
	}
}

// pendingNote is an oddity of a row with its results, from the one index to before
// the other.
type pendingNote struct {
	note
	from, to uint32
}

// noteRow notes an oddity of the row being read. In a ledger it waits until it is
// known whether a result of the row is kept: a table that says the same again
// makes nothing odder.
func (r *reader) noteRow(x note) {
	if !r.ledger {
		r.notes.add(x)
		return
	}
	n := uint32(len(r.results))
	r.pending = append(r.pending, pendingNote{x, n, n})
}

// addPending notes the oddities of rows of which a result is in the analysis.
func (r *reader) addPending() {
	for k := range r.pending {
		p := &r.pending[k]
		for i := p.from; i < p.to; i++ {
			if !r.gone(i) && !r.excluded[i] {
				r.notes.add(p.note)
				break
			}
		}
	}
}

// noteResult notes what is odd about one result.
func (r *reader) noteResult(x *study.Result) {
	condition := int(x.Condition)
	if x.Planned.IsZero() {
		condition = -1
	}
	if !r.inProtocol(int(x.Attribute), condition, int(x.Pack)) {
		r.notes.add(note{code: "not-in-protocol", attribute: int(x.Attribute), condition: condition, pack: int(x.Pack), input: int(x.Input), line: int(x.Line)})
	}
	if r.ledger && !x.InWindow && x.Pulled != study.NoDate {
		if p := r.pullAt(int(x.Batch), int(x.Condition), x.Planned); !p.holds(x.Pulled) { // it may be in the window of none
			r.noteDay(note{condition: int(x.Condition), at: p.at, due: p.due, pulled: x.Pulled, input: int(x.Input), line: int(x.Line), batch: int(x.Batch)})
		}
	}
	if x.Tested == study.NoDate || x.Pulled == study.NoDate {
		return
	}
	if within := r.study.Attributes[x.Attribute].TestWithin; !within.IsZero() && x.Tested > within.AddTo(x.Pulled, 0) {
		r.notes.add(note{code: "late-test", attribute: int(x.Attribute), condition: int(x.Condition), at: x.Planned,
			pulled: x.Pulled, most: int(x.Tested - x.Pulled), input: int(x.Input), line: int(x.Line)})
	}
	if x.Tested < x.Pulled { // by a day that stands elsewhere; in one row it is a fault
		r.notes.add(note{code: "tested-before-pull", attribute: int(x.Attribute), condition: int(x.Condition), at: x.Planned,
			pulled: x.Pulled, text: x.Tested.String(), input: int(x.Input), line: int(x.Line)})
	}
}

// warnings puts the oddities into words, in the order of the study; of each
// code the first few are told and the rest counted.
func (r *reader) warnings() []finding.Warning {
	const told = 50
	list := make([]*note, 0, len(r.notes.index))
	for _, n := range r.notes.index {
		list = append(list, n)
	}
	slices.SortFunc(list, func(a, b *note) int {
		return cmp.Or(cmp.Compare(a.code, b.code), cmp.Compare(a.input*fileOrder(a), b.input*fileOrder(b)),
			cmp.Compare(a.attribute, b.attribute), cmp.Compare(a.condition, b.condition), cmp.Compare(a.pack, b.pack),
			cmp.Compare(r.months(a), r.months(b)), cmp.Compare(a.due, b.due), cmp.Compare(a.pulled, b.pulled),
			cmp.Compare(a.at.Unit, b.at.Unit))
	})
	of := make(map[string]int) // notes by code
	for _, n := range list {
		of[n.code]++
	}
	var out []finding.Warning
	same := 0
	for i, n := range list {
		if i == 0 || list[i-1].code != n.code {
			same = 0
		}
		same++
		switch {
		case same <= told:
			out = append(out, r.warning(n))
		case same == told+1:
			out = append(out, finding.Warning{Code: n.code, Text: "and " + strconv.Itoa(of[n.code]-told) + " more warnings of this kind, not listed"})
		}
	}
	return out
}

func fileOrder(n *note) int {
	if ofFile(n.code) {
		return 1
	}
	return 0
}

func (r *reader) months(n *note) float64 {
	return n.at.Months(r.cycleHours(n.condition))
}

// warning puts one oddity into words.
func (r *reader) warning(n *note) finding.Warning {
	s := r.study
	w := finding.Warning{Code: n.code}
	first := r.inputs[n.input].Path + ":" + strconv.Itoa(n.line)
	slices.Sort(n.batches)
	batches := make([]string, len(n.batches))
	for i, b := range n.batches {
		batches[i] = s.Batches[b].ID
	}
	which := "batch " + batches[0]
	if len(batches) > 1 {
		which = "batches " + enumerate(batches)
	}
	where := func(words ...string) { w.Where = strings.TrimSpace(strings.Join(words, " ")) }
	condition := "time zero"
	if n.condition >= 0 && len(s.Conditions) > 0 {
		condition = s.Conditions[n.condition].ID
	}
	attribute := &study.Attribute{}
	if len(s.Attributes) > 0 {
		attribute = &s.Attributes[n.attribute]
	}
	switch n.code {
	case "late-pull", "early-pull":
		where(condition, n.at.String())
		plan := r.plan(n.batch, n.condition)
		window := study.Date(s.WindowOf(n.at, r.cycleHours(n.condition)))
		side := "after"
		if n.pulled < n.due {
			side = "before"
		}
		w.Text = "pulled on " + n.pulled.String() + ", " + days(apart(n.pulled, n.due)) + " " + side + " its day " + n.due.String() +
			" and " + days(apart(n.pulled, n.due)-window) + " outside its window of ±" + days(window) + " (" + which + ")"
		if near := nearest(plan, n.pulled); near.holds(n.pulled) && near.at != n.at {
			w.Text += "; that day is in the window of the pull at " + near.at.String()
		}
	case "off-plan":
		where(condition, n.at.String())
		plan := r.plan(n.batch, n.condition)
		if n.pulled == study.NoDate {
			near := nearest(plan, n.due)
			w.Text = n.at.String() + " is no planned pull; the nearest is " + near.at.String() + " (" + count(n.count, "row") + ", first " + first + ")"
			break
		}
		near := nearest(plan, n.pulled)
		w.Text = "pulled on " + n.pulled.String() + ", which is in the window of no planned pull; the nearest is " + near.at.String() +
			", due " + near.due.String() + " ±" + days(near.window) + " (" + which + "; " + count(n.count, "row") + ", first " + first + ")"
	case "late-test":
		where(attribute.ID, condition, n.at.String())
		w.Text = "tested up to " + days(study.Date(n.most)) + " after the pull of " + n.pulled.String() + ", where the study file allows " +
			attribute.TestWithin.String() + " (" + count(n.count, "result") + ", first " + first + ")"
	case "tested-before-pull":
		where(attribute.ID, condition, n.at.String())
		w.Text = "tested before the pull of " + n.pulled.String() + " (" + count(n.count, "result") + ", first " + first + ": " + n.text + "); one of the two days is wrong"
	case "not-in-protocol":
		where(attribute.ID, condition, s.Packs[n.pack].ID)
		w.Text = count(n.count, "result") + " where the study file does not have the attribute tested (first " + first + ")"
	case "unlabelled-repeats":
		where(attribute.ID)
		as := "replicates, which are averaged as readings of one sample"
		if attribute.Units > 1 && attribute.Replicates <= 1 {
			as = "units"
			if attribute.Sampling == study.Returned {
				as += ", each number being the same unit at every pull"
			}
		}
		w.Text = "several results of a pull have neither unit nor replicate; they were numbered in the order of their rows and taken as " + as +
			" (" + count(n.count, "pull") + ", first " + first + ")"
	case "more-than-planned":
		where(attribute.ID)
		w.Text = "more results at a pull than the study file plans: up to " + strconv.Itoa(n.most) + ", where units times replicates is " +
			strconv.Itoa(max(1, attribute.Units)*max(1, attribute.Replicates)) + " (" + count(n.count, "pull") + ", first " + first + ")"
	case "day-missing":
		where(attribute.ID, condition, n.at.String())
		w.Text = "some results have the day of the pull and others not; if they are the same results, they are counted twice (first without: " + first + ")"
	case "tare-unused":
		where(attribute.ID)
		w.Text = "a tare is given and not used, since the attribute is no weighing (" + count(n.count, "result") + ", first " + first + ")"
	case "repeated-time-zero":
		where(attribute.ID)
		w.Text = count(n.count, "time-zero result") + " repeated with the same value (under another condition, orientation or day) and counted once (first " + first + ")"
	case "repeat-differs":
		w.Text = count(n.count, "result") + " of " + r.inputs[n.input].Path + " that an earlier table has already come with another day of test, analyst, method or comment; what the earlier table says stands (first " +
			n.text + " on line " + strconv.Itoa(n.line) + ")"
	case "no-values":
		w.Text = r.inputs[n.input].Path + " has rows, but no values in them"
	case "three-decimals":
		w.Text = "every number with a decimal sign in " + r.inputs[n.input].Path + " has three digits behind it (" + count(n.most, "number") + ", first " +
			strconv.Quote(n.text) + " on line " + strconv.Itoa(n.line) + "); they were taken as decimals, not as thousands"
	case "mass-gain":
		where(attribute.ID, condition, s.Packs[n.pack].ID)
		w.Text = "masses above that of the unit at time zero, by up to " + strconv.FormatFloat(float64(n.most)/100, 'f', 2, 64) + " % (" +
			count(n.count, "mass", "masses") + ", first " + first + "); were units exchanged, or does the product take something up?"
	case "mixed-decimals":
		w.Text = r.inputs[n.input].Path + " has numbers with a decimal point (first on line " + strconv.Itoa(n.line) + ") and with a decimal comma (first on line " +
			strconv.Itoa(n.most) + "); neither was taken for a thousands separator"
	}
	return w
}

func (r *reader) cycleHours(condition int) float64 {
	if condition < 0 || len(r.study.Conditions) == 0 {
		return 0
	}
	return r.study.Conditions[condition].CycleHours
}

func days(n study.Date) string { return count(int(n), "day") }

// count puts a number before a word, whose plural is given where it is not made
// with s.
func count(n int, what string, plural ...string) string {
	switch {
	case n == 1:
		return "1 " + what
	case len(plural) > 0:
		return strconv.Itoa(n) + " " + plural[0]
	}
	return strconv.Itoa(n) + " " + what + "s"
}
