package intake

import (
	"bytes"
	"math"
	"slices"
	"strconv"

	"shelfspan/study"
	"shelfspan/study/spreadsheet"
)

// row is what all results of one row share.
type row struct {
	batch, condition, pack, orientation int
	unoriented                          bool // no orientation is given though the pack has several
	planned                             study.Duration
	elapsed                             float64
	pulled, tested                      study.Date
	inWindow, offPlan                   bool
	recorded                            bool    // the day pulled is the ledger's, not the table's
	tare                                float64 // NaN where none is given
	replicate, unit                     uint32
	unitID                              uint32 // the id of the unit in its canonical form; 0 where the label is none
	analyst, method, comment            uint32
	change                              *tableChange
	past                                *past // what the row had before it was amended; nil where it was not
}

// trim takes blanks off both ends.
func trim(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t') {
		b = b[:len(b)-1]
	}
	return b
}

// field gives a column of the row; empty where the file has no such column.
func (r *reader) field(fields [][]byte, c column) []byte {
	if i := r.head.at[c]; i >= 0 {
		return trim(fields[i])
	}
	return nil
}

// takeApostrophes takes off what kept a text from being a formula in a
// spreadsheet; values never had it.
func (r *reader) takeApostrophes(fields [][]byte) {
	for _, i := range r.head.texts {
		if f := fields[i]; len(f) > 1 && f[0] == '\'' {
			fields[i] = spreadsheet.Plain(f)
		}
	}
}

func allEmpty(fields [][]byte) bool {
	for _, f := range fields {
		if len(trim(f)) > 0 {
			return false
		}
	}
	return true
}

// readRow takes in one row. It reports false for a row of empty fields, such as
// spreadsheets leave at the end.
func (r *reader) readRow(fields [][]byte) bool {
	if len(trim(fields[0])) == 0 && allEmpty(fields) {
		return false
	}
	if len(fields) != r.head.width {
		r.ours = true // for all that can be told of a row that is not read
		r.fault("", func() string { return r.wrongWidth(len(fields)) })
		return true
	}
	for _, i := range r.head.unnamed {
		if len(trim(fields[i])) > 0 {
			r.fault("", func() string {
				return "column " + strconv.Itoa(i+1) + " holds " + quote(trim(fields[i])) + " and has no name in the header"
			})
		}
	}
	r.takeApostrophes(fields)
	before, pending := r.faults.total, len(r.pending)
	w := row{tare: math.NaN()}
	if r.rows != nil {
		w.past = r.pastOf()
	}
	keyed := r.readKey(&w, fields)
	r.readStudy(fields)
	if b, corrected := r.rowText(fields, colTare, study.PartTare); len(b) > 0 {
		r.correcting = corrected
		v, ok := r.number(b, true)
		r.correcting = false
		switch {
		case !ok:
			r.fault("tare", func() string { return explainNumber(b, r.comma) })
		case v < 0:
			r.fault("tare", func() string { return "a mass of " + string(b) + " g; a tare is 0 or above" })
		default:
			w.tare = v
		}
	}
	if r.head.wide == nil {
		attribute := r.attributes.find(r.field(fields, colAttribute))
		if attribute < 0 {
			r.fault("attribute", func() string { return r.unknownAttribute(r.field(fields, colAttribute)) })
			keyed = false
		}
		if value := r.field(fields, colValue); len(value) > 0 && attribute >= 0 {
			r.labels(&w, fields)
			r.result(&w, fields, attribute, "value", value, keyed)
		}
	} else {
		labelled := false
		for _, c := range r.head.wide {
			value := trim(fields[c.at])
			if len(value) == 0 {
				continue
			}
			if !labelled {
				r.labels(&w, fields)
				labelled = true
			}
			r.result(&w, fields, c.attribute, r.study.Attributes[c.attribute].ID, value, keyed)
		}
	}
	for k := pending; k < len(r.pending); k++ {
		r.pending[k].to = uint32(len(r.results))
	}
	if r.faults.total > before && !keyed {
		r.skipped[skippedUnit{w.batch, w.pack, string(r.field(fields, colUnit))}] = true
	}
	return true
}

func (r *reader) wrongWidth(n int) string {
	text := "has " + strconv.Itoa(n) + " fields, and the header " + strconv.Itoa(r.head.width)
	if n == 1 {
		text = "has 1 field, and the header " + strconv.Itoa(r.head.width)
	}
	switch {
	case n > r.head.width && !r.comma:
		return text + "; a decimal comma, or a comma in a text without quotes, makes two fields of one"
	case n > r.head.width:
		return text + "; put a text that holds the separator in quotes"
	}
	return text + "; leave fields empty, but keep their separators"
}

func (r *reader) unknownAttribute(b []byte) string {
	if len(b) == 0 {
		return "is empty; name the attribute of the value: " + enumerate(r.attributes.names)
	}
	return unknown("attribute", b, r.attributes.names, "the study has")
}

// readKey reads where and when the samples of a row come from. It reports
// whether all of that is sure.
func (r *reader) readKey(w *row, fields [][]byte) bool {
	s, ok := r.study, true
	b := r.field(fields, colBatch)
	if w.batch = r.batches.find(b); w.batch < 0 {
		ok = false
		r.fault("batch", func() string {
			if len(b) == 0 {
				return "is empty; name the batch: " + enumerate(r.batches.names)
			}
			return unknown("batch", b, r.batches.names, "the study has")
		})
	} else {
		r.ours = true
	}
	w.condition = -1
	if b = r.field(fields, colCondition); len(b) > 0 {
		if w.condition = r.conditions.find(b); w.condition < 0 {
			ok = false
			r.fault("condition", func() string { return unknown("condition", b, r.conditions.names, "the study has") })
		}
	}
	b = r.field(fields, colPack)
	switch {
	case len(b) == 0 && len(s.Packs) == 1:
		w.pack = 0
	case len(b) == 0:
		w.pack = -1
		r.fault("pack", func() string { return "is empty, and the study has several: " + enumerate(r.packs.names) })
	default:
		if w.pack = r.packs.find(b); w.pack < 0 {
			r.fault("pack", func() string {
				if len(s.Packs) == 1 && s.Packs[0].ID == "" {
					return "the study names no packs; leave " + quote(b) + " out, or add the pack to the study file"
				}
				return unknown("pack", b, r.packs.names, "the study has")
			})
		}
	}
	ok = ok && w.pack >= 0

	at, timed := study.Duration{}, false
	if b = r.field(fields, colTime); len(b) > 0 {
		if at, timed = r.duration(b); !timed {
			ok = false
		}
	}
	w.pulled, w.tested = study.NoDate, study.NoDate
	var err error
	if b, _ = r.rowText(fields, colPulled, study.PartPulled); len(b) > 0 {
		if w.pulled, err = r.pulled.parse(b); err != nil {
			ok = false
			r.noDay("pulled", b, err)
		}
	} else if len(r.field(fields, colTime)) == 0 {
		ok = false
		column := "time"
		if r.head.at[colTime] < 0 {
			column = "pulled"
		}
		r.fault(column, func() string {
			if r.head.at[colTime] >= 0 && r.head.at[colPulled] >= 0 {
				return "is empty, and so is pulled; give the planned time, or the day of the pull"
			}
			return "is empty; give it for every row"
		})
	}
	if b, _ = r.rowText(fields, colTested, study.PartTested); len(b) > 0 {
		if w.tested, err = r.tested.parse(b); err != nil {
			r.noDay("tested", b, err)
		} else if w.pulled != study.NoDate && w.tested < w.pulled {
			r.fault("tested", func() string {
				return w.tested.String() + " is before the pull, on " + w.pulled.String() + "; one of the two days is wrong"
			})
		}
	}
	if ok {
		ok = r.place(w, at, timed)
	}
	if w.pack >= 0 && !r.readOrientation(w, r.field(fields, colOrientation), ok) {
		ok = false
	}
	if ok && w.pulled == study.NoDate && r.options.PulledOn != nil && !w.planned.IsZero() {
		ok = r.dateFromLedger(w)
	}
	if b = r.field(fields, colUnit); ok && bytes.IndexByte(b, '/') >= 0 {
		ok = r.readUnitID(w, b)
	}
	return ok
}

// noDay refuses a day, and says how a spreadsheet is kept from rewriting those
// that are typed into it.
func (r *reader) noDay(column string, b []byte, err error) {
	r.fault(column, err.Error)
	const iso = len("2025-01-31")
	if r.faults.hint == "" && bytes.ContainsAny(b, "0123456789") && !(len(b) == iso && b[4] == '-') {
		r.faults.hint = "spreadsheets rewrite days as they are typed; give the column the format text, or YYYY-MM-DD, and type them again"
	}
}

// readOrientation reads how the pack stood. At time zero it stood in storage in
// no way yet, so it may be left empty.
func (r *reader) readOrientation(w *row, b []byte, placed bool) bool {
	stands := r.study.Packs[w.pack].Orientations
	if len(b) == 0 {
		w.unoriented = len(stands) > 1
		if w.unoriented && placed && !w.planned.IsZero() {
			r.fault("orientation", func() string {
				return "is empty, and pack " + r.study.Packs[w.pack].ID + " is stored in several: " + enumerate(orientationNames(stands))
			})
			return false
		}
		return true
	}
	for i := range stands {
		if string(stands[i]) == string(b) {
			w.orientation = i
			return true
		}
	}
	// A pack stored in one way only may still have it stated, by default upright.
	r.fault("orientation", func() string {
		names := orientationNames(stands)
		if len(names) == 0 {
			names = []string{string(study.Upright)}
		}
		return unknown("orientation", b, names, "the pack is stored")
	})
	return false
}

func orientationNames(list []study.Orientation) []string {
	names := make([]string, len(list))
	for i := range list {
		names[i] = string(list[i])
	}
	return names
}

// labels reads the texts of a row.
func (r *reader) labels(w *row, fields [][]byte) {
	if w.unit = w.unitID; w.unit == 0 {
		w.unit = r.label(fields, colUnit)
	}
	w.replicate = r.label(fields, colReplicate)
	w.analyst = r.label(fields, colAnalyst)
	w.method = r.label(fields, colMethod)
	w.comment = r.label(fields, colComment)
	w.change = r.readChange(fields)
}

func (r *reader) label(fields [][]byte, c column) uint32 {
	b := r.field(fields, c)
	if len(b) == 0 {
		return 0
	}
	if l := &r.last[c]; string(l.bytes) == string(b) {
		return l.index
	}
	i := r.texts.intern(b)
	if odd := r.texts.odd[i]; odd == controlText || odd == linedText && c < colComment {
		r.fault(columnNames[c], func() string {
			return quote(b) + " holds a control character, a line end or another character that is not seen; write it as plain text"
		})
		return i
	}
	r.last[c] = text{append(r.last[c].bytes[:0], b...), i}
	return i
}

// result takes in one value. Where the row's key is not sure, the value is
// checked and not kept. A value with a fault is kept without one, so that the
// checks across rows do not miss it; the whole file is refused anyway.
func (r *reader) result(w *row, fields [][]byte, attribute int, column string, b []byte, keyed bool) {
	a := &r.study.Attributes[attribute]
	var was []amount
	exclude := false
	if r.corrections != nil {
		b, was, exclude = r.corrected(attribute, column, b)
	}
	exclude = exclude || w.change != nil && w.change.excluded != 0 && !r.ledger
	v, censor, ok := math.NaN(), study.Exact, false
	if len(b) == 0 {
		r.fault(column, func() string { return "is amended to nothing; exclude a result that is to be out of the analysis" })
	} else if v, censor, ok = r.value(attribute, column, b); !ok {
		v = math.NaN()
	}
	r.correcting = false
	if u := r.field(fields, colUnitOfMeasure); len(u) > 0 && !unitMatches(a, u) {
		r.fault("unit_of_measure", func() string { return r.wrongUnit(a, u) })
	}
	if a.Kind == study.Weighing {
		if w.unit == 0 {
			r.fault("unit", func() string { return "is empty, and a weighing needs the label of its unit" })
			return
		}
		if ok && v <= w.tare {
			r.fault(column, func() string {
				return "a gross mass of " + string(b) + " g is not above the tare of " + grams(w.tare)
			})
		}
	}
	if !keyed {
		return
	}
	x := study.Result{
		Value: v, Elapsed: w.elapsed, Tare: math.NaN(),
		Planned: w.planned, Pulled: w.pulled, Tested: w.tested,
		Unit: w.unit, Replicate: w.replicate, Analyst: w.analyst, Method: w.method, Comment: w.comment,
		Line: uint32(r.line), Batch: uint16(w.batch), Pack: uint16(w.pack), Attribute: uint16(attribute),
		Condition: int16(w.condition), Input: uint16(r.input), Orientation: uint8(w.orientation),
		Censor: censor, InWindow: w.inWindow, OffPlan: w.offPlan,
	}
	i := uint32(len(r.results))
	if was != nil {
		r.history[i] = was
	}
	if w.past != nil {
		r.past[i] = *w.past
	}
	if exclude {
		r.excluded[i] = true
	}
	if w.recorded {
		r.recorded.set(i)
	}
	switch {
	case a.Kind == study.Weighing:
		x.Tare = w.tare
		r.weighings = append(r.weighings, i)
		if w.planned.IsZero() && (w.condition < 0 || w.unoriented) {
			r.floating[i] = true
		}
	case w.planned.IsZero():
		r.zeros = append(r.zeros, i)
	}
	if a.Kind != study.Weighing && w.tare == w.tare && r.head.wide == nil {
		r.noteRow(note{code: "tare-unused", attribute: attribute, input: r.input, line: r.line})
	}
	if !r.ledger && w.change != nil {
		w.change.result = i
		r.changes = append(r.changes, *w.change)
	}
	if !r.ledger && !exclude { // else once it is known which are kept
		r.noteResult(&x)
	}
	r.grow()
	r.results = append(r.results, x)
	r.of = append(r.of, 0)
	r.join(i)
}

// grow makes room for results where it is used up: for as many as the rest of
// the file will hold at the rate so far, where its size is known, else for twice
// as many. Append would copy them more often.
func (r *reader) grow() {
	n := len(r.results)
	if n < cap(r.results) {
		return
	}
	more := max(256, n)
	if own := n - r.before; r.size > 0 && own >= 256 {
		rest := float64(r.size)/float64(r.rec.consumed()) - 1
		// Not to be led astray by the first rows of an odd file: at most 16 times.
		more = int(min(max(256, 1.02*rest*float64(own)), 15*float64(n)))
	}
	r.results = slices.Grow(r.results, more)
	r.of = slices.Grow(r.of, more)
}

func (r *reader) wrongUnit(a *study.Attribute, b []byte) string {
	switch {
	case a.Kind == study.Weighing:
		return quote(b) + " for " + a.ID + ", which is a weighing: its values are gross masses in g"
	case a.Unit == "":
		return quote(b) + " for " + a.ID + ", which has no unit in the study file; leave it empty"
	}
	return quote(b) + " for " + a.ID + ", whose unit in the study file is " + a.Unit + "; give the value in that unit"
}

func grams(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) + " g" }
