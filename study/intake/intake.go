// Package intake reads results tables (CSV) for a study.
//
// A table has a header line and is either long (one result a row: columns
// attribute and value) or wide (one unit or replicate a row: a column for each
// attribute, headed by its id). Comma, semicolon and tab are told from the
// header, as is the form. A decimal comma is a decimal sign where the comma does
// not separate the columns. Blanks around a field do not count.
//
// Every row is checked against the study. Read takes in all of its sources or,
// where any has a fault, nothing, and then tells the faults of all. What is
// odd, but does not make a result doubtful in itself, is a warning.
//
// What identifies a result is its batch, condition, pack, orientation, planned
// time, day pulled, attribute, unit and replicate. Two rows alike in all of
// these are a fault. Rows of one file without unit and replicate are numbered
// in their order, as units where the attribute is measured once on each of
// several units, else as replicates, which are averaged and so never make an
// estimate look surer than it is.
//
// Time zero is measured once for each batch and pack: a time-zero result that is
// repeated under several conditions is kept once, under none. Only a weighing at
// time zero belongs to one condition, that of its unit: where the row names
// none, it is found by the unit's label, which must then stand for one unit of
// that batch and pack; the id of a unit on the study's own labels says it itself.
//
// A table that report wrote beside a summary also says what was changed of its
// results: a result with a reason in excluded_because is out of the analysis,
// and one with a value in amended_from is told as amended. A ledger takes no
// exclusion from a table, since it wants to know whose it is.
//
// ReadAll is for a ledger, whose tables overlap and are amended; see Options.
package intake

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"io/fs"
	"maps"
	"slices"

	"shelfspan/study"
)

// Source is one results table and the name that faults in it carry.
type Source struct {
	Name   string
	Reader io.Reader
	// Corrections are what was changed since the table was taken in, in the order
	// it was; see ReadAll, without which they do nothing.
	Corrections map[Cell][]Correction
	// Rows are the changes of what a row gives to all of its results, by its line.
	Rows map[int][]RowCorrection
}

// Read takes in the results of all sources, in their order. The error is a
// *finding.Faults; with it the dataset is nil.
func Read(s *study.Study, sources ...Source) (*study.Dataset, error) {
	return newReader(s).read(sources)
}

func (r *reader) read(sources []Source) (*study.Dataset, error) {
	for _, src := range sources {
		r.readSource(src)
	}
	excluded, changes := r.settle(sources)
	if err := r.faults.err(); err != nil {
		return nil, err
	}
	return &study.Dataset{
		Study:    r.study,
		Results:  slices.Clip(r.results),
		Excluded: excluded,
		Changes:  changes,
		Texts:    r.texts.list,
		Inputs:   r.inputs,
		Warnings: r.warnings(),
	}, nil
}

// reader is the state of one Read.
type reader struct {
	study      *study.Study
	names      map[string]int // of the header; see headerNames
	batches    lookup
	conditions lookup
	packs      lookup
	attributes lookup
	grades     []map[string]int // by attribute: lower-case name → grade
	allowed    []bool           // by attribute, condition (0: none) and pack: see inProtocol
	plans      [][]pull         // by batch and condition (0: none); nil until needed
	durations  map[string]study.Duration
	pulled     dateCache
	tested     dateCache

	input   int // the source being read
	rec     *records
	size    int64 // of the source in bytes; 0 where not known
	before  int   // results of earlier sources
	line    int
	head    header
	comma   bool             // a comma may be a decimal sign
	decimal [2]decimals      // the decimal point and comma
	ours    bool             // a row named a batch of the study
	last    [numColumns]text // the label each column held last

	results []study.Result
	of      []uint32 // group of each result
	texts   texts
	groups  numbering[group]
	inputs  []study.Input
	wide    []bool // by input
	faults  faultList
	notes   notes

	zeros     []uint32 // results at time zero other than weighings
	weighings []uint32 // results of weighings
	again     []uint32 // by result: one plus that which it says again, 0 where it is kept; nil where all are

	ledger      bool // read by a ledger's rules, as below
	options     Options
	corrections map[Cell][]Correction // of the source being read
	met         map[Cell]bool         // those of them that a value was found for
	metBy       []map[Cell]bool       // by input
	correcting  bool                  // the text at hand is not the table's
	history     map[uint32][]amount   // the values that amended results had
	rows        map[int][]RowCorrection
	rowsMet     []map[int]bool    // by input: the lines of those that were found
	past        map[uint32]past   // the days and tares that results of amended rows had
	excluded    map[uint32]bool   // results out of the analysis
	changes     []tableChange     // what tables say of changes of their results
	recorded    marks             // results whose day pulled is the ledger's
	daySaid     map[uint32]uint32 // results whose day pulled the row of another says: which
	others      []otherGroup
	otherAt     map[[2]uint32]int // by group and input
	pending     []pendingNote
	counts      []Count

	floating map[uint32]bool      // weighings at time zero that do not say all of their arm
	skipped  map[skippedUnit]bool // units named on faulty rows
}

// skippedUnit is a unit that a row with a fault speaks of.
type skippedUnit struct {
	batch, pack int
	unit        string
}

func newReader(s *study.Study) *reader {
	r := &reader{
		study:      s,
		names:      headerNames(s),
		batches:    newLookup(len(s.Batches), func(i int) string { return s.Batches[i].ID }),
		conditions: newLookup(len(s.Conditions), func(i int) string { return s.Conditions[i].ID }),
		packs:      newLookup(len(s.Packs), func(i int) string { return s.Packs[i].ID }),
		attributes: newLookup(len(s.Attributes), func(i int) string { return s.Attributes[i].ID }),
		grades:     make([]map[string]int, len(s.Attributes)),
		plans:      make([][]pull, len(s.Batches)*(len(s.Conditions)+1)),
		durations:  make(map[string]study.Duration),
		pulled:     dateCache{known: make(map[string]study.Date)},
		tested:     dateCache{known: make(map[string]study.Date)},
		texts:      newTexts(),
		notes:      newNotes(),
		floating:   make(map[uint32]bool),
		skipped:    make(map[skippedUnit]bool),
		excluded:   make(map[uint32]bool),
	}
	for i := range s.Attributes {
		r.grades[i] = gradeNames(s.Attributes[i].Grades)
		for c := -1; c < len(s.Conditions); c++ {
			for p := range s.Packs {
				r.allowed = append(r.allowed, s.Attributes[i].At(c, p) || c < 0 && s.Attributes[i].Packs == nil ||
					c < 0 && slices.Contains(s.Attributes[i].Packs, p))
			}
		}
	}
	return r
}

// inProtocol reports whether the study file has an attribute tested there. At
// time zero the condition does not count.
func (r *reader) inProtocol(attribute, condition, pack int) bool {
	return r.allowed[(attribute*(len(r.study.Conditions)+1)+condition+1)*len(r.study.Packs)+pack]
}

// fault notes a fault on the line being read; text is not called where the
// fault is only counted.
func (r *reader) fault(column string, text func() string) {
	r.faultAt(r.input, r.line, column, text)
}

func (r *reader) faultAt(input, line int, column string, text func() string) {
	if r.faults.full() {
		r.faults.count()
		return
	}
	r.faults.add(input, r.inputs[input].Path, line, column, text())
}

// readSource reads one table.
func (r *reader) readSource(src Source) {
	r.input = len(r.inputs)
	r.inputs = append(r.inputs, study.Input{Path: src.Name})
	r.wide = append(r.wide, false)
	r.corrections = nil
	if r.ledger {
		r.corrections = src.Corrections
	}
	r.met = make(map[Cell]bool, len(r.corrections))
	r.metBy = append(r.metBy, r.met)
	r.rows = nil
	if r.ledger {
		r.rows = src.Rows
	}
	r.rowsMet = append(r.rowsMet, make(map[int]bool, len(r.rows)))
	in := &r.inputs[r.input]
	faultsBefore, listedBefore := r.faults.total, len(r.faults.list)
	r.before, r.size = len(r.results), sizeOf(src.Reader)

	sum := sha256.New()
	r.rec = newRecords(src.Reader, sum)
	r.readTable(r.rec)
	in.SHA256 = hex.EncodeToString(sum.Sum(nil))

	for i := range r.input {
		if r.rec.eof && r.inputs[i].SHA256 == in.SHA256 && in.Rows > 0 {
			// One fault says more than one for each of its rows.
			r.faults.total, r.faults.list = faultsBefore, r.faults.list[:listedBefore]
			r.results, r.of = r.results[:r.before], r.of[:r.before]
			r.forget(r.before)
			r.faultAt(r.input, 0, "", func() string {
				return "the same bytes as " + r.inputs[i].Path + "; name each file once"
			})
			return
		}
	}
}

// sizeOf gives the bytes of a file or of a reader in memory, 0 of others. It
// only spares copying; nothing relies on it.
func sizeOf(src io.Reader) int64 {
	switch x := src.(type) {
	case interface{ Stat() (fs.FileInfo, error) }:
		if info, err := x.Stat(); err == nil && info.Mode().IsRegular() {
			return info.Size()
		}
	case interface{ Len() int }:
		return int64(x.Len())
	}
	return 0
}

// forget drops what is known of results from the n-th on.
func (r *reader) forget(n int) {
	gone := func(i uint32) bool { return int(i) >= n }
	r.zeros = slices.DeleteFunc(r.zeros, gone)
	r.weighings = slices.DeleteFunc(r.weighings, gone)
	maps.DeleteFunc(r.floating, func(i uint32, _ bool) bool { return gone(i) })
	maps.DeleteFunc(r.excluded, func(i uint32, _ bool) bool { return gone(i) })
	r.changes = slices.DeleteFunc(r.changes, func(c tableChange) bool { return gone(c.result) })
	if !r.ledger {
		return
	}
	maps.DeleteFunc(r.past, func(i uint32, _ past) bool { return gone(i) })
	maps.DeleteFunc(r.history, func(i uint32, _ []amount) bool { return gone(i) })
	r.recorded = r.recorded[:min(n, len(r.recorded))]
	r.others = slices.DeleteFunc(r.others, func(o otherGroup) bool { return gone(o.results[0]) })
	maps.DeleteFunc(r.otherAt, func(_ [2]uint32, at int) bool { return at >= len(r.others) })
	r.pending = slices.DeleteFunc(r.pending, func(p pendingNote) bool { return int(p.to) > n })
}

func (r *reader) readTable(rec *records) {
	in := &r.inputs[r.input]
	r.line = 0
	if err := rec.begin(); err != nil {
		r.fault("", func() string { return unreadable(err) })
		return
	}
	r.decimal, r.ours = [2]decimals{}, false
	top := bytes.Clone(rec.firstLines())
	rec.sep = separatorOf(rec.firstLine(), func(name string) bool { _, ok := r.names[name]; return ok })
	r.comma = rec.sep != ','
	headed, badText := false, false
	for {
		fields, err := rec.read()
		r.line = rec.line
		if err == io.EOF {
			break
		}
		if err != nil {
			bad, ok := err.(*badRecord)
			if !ok {
				r.line = 0
			}
			if bad != errNotUTF8 || !badText {
				r.fault("", func() string { return unreadable(err) })
			}
			badText = badText || bad == errNotUTF8
			if !ok || bad.fatal || !headed {
				return
			}
			in.Rows++
			continue
		}
		if !headed {
			headed = true
			if text := r.noHeader(top); text != "" {
				r.fault("", func() string { return text })
				return
			}
			before := r.faults.total
			r.head = r.readHeader(fields, func(column, text string) {
				r.fault(column, func() string { return text })
			})
			r.wide[r.input] = r.head.wide != nil
			if r.faults.total > before {
				return // what the columns mean is unsure, so the rows are not looked at
			}
			continue
		}
		if r.readRow(fields) {
			in.Rows++
		}
	}
	switch {
	case !headed:
		r.line = 0
		r.fault("", func() string {
			return "is empty; it needs a header line (batch, condition, time or pulled, attribute, value, …) and results below it"
		})
	case in.Rows == 0:
		r.line = 1
		r.fault("", func() string { return "has a header and no results below it" })
	case len(r.results) == r.before:
		r.notes.add(note{code: "no-values", input: r.input})
	}
	if in.Rows > 0 && !r.ours && r.faults.hint == "" {
		r.faults.hint = "no row of " + in.Path + " names a batch of study " + r.study.ID + "; is it a table of another study?"
	}
	r.checkDecimals()
}

// unreadable says in words why a file or row cannot be read.
func unreadable(err error) string {
	if _, ok := err.(*badRecord); ok {
		return err.Error()
	}
	return "cannot be read: " + err.Error()
}
