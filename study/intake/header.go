package intake

import (
	"bytes"
	"slices"
	"strconv"
	"strings"

	"shelfspan/study"
	"shelfspan/study/spelling"
)

// column is a named column of the results table.
type column int

// The columns, in the order in which they are documented.
const (
	colBatch column = iota
	colCondition
	colPack
	colOrientation
	colTime
	colPulled
	colAttribute
	colValue
	colTested
	colReplicate
	colUnit
	colTare
	colUnitOfMeasure
	colAnalyst
	colMethod
	colComment

	// What a table has that report wrote beside a summary.
	colStudy          // the study's id, which is checked
	colResultID       // the id of the result in a ledger
	colAmendedFrom    // the value before it was amended
	colAmendedBecause // why
	colAmendedBy      // by whom and when
	colPulledFrom     // the day pulled, the day tested and the tare before they were amended, why, and by whom and when
	colPulledBecause
	colPulledBy
	colTestedFrom
	colTestedBecause
	colTestedBy
	colTareFrom
	colTareBecause
	colTareBy
	colExcludedBecause // why the result is out of the analysis; empty where it is in it
	colExcludedBy      // by whom and when
	colElapsed         // the elapsed time in months, passed over: the day pulled decides
	numColumns
)

// columnNames are the header names, by column.
var columnNames = [numColumns]string{"batch", "condition", "pack", "orientation", "time", "pulled",
	"attribute", "value", "tested", "replicate", "unit", "tare", "unit_of_measure", "analyst", "method", "comment",
	"study", "result_id", "amended_from", "amended_because", "amended_by",
	"pulled_from", "pulled_because", "pulled_by", "tested_from", "tested_because", "tested_by", "tare_from", "tare_because", "tare_by",
	"excluded_because", "excluded_by", "elapsed_months"}

// called are the columns by other names that labs give them.
var called = map[string]column{
	"lot": colBatch, "container": colPack, "storage": colCondition, "position": colOrientation,
	"timepoint": colTime, "time point": colTime, "month": colTime, "months": colTime, "interval": colTime,
	"date": colPulled, "pull": colPulled, "pull date": colPulled, "sampling date": colPulled, "test date": colTested,
	"test": colAttribute, "parameter": colAttribute, "property": colAttribute, "analyte": colAttribute,
	"result": colValue, "results": colValue, "reading": colValue, "sample": colUnit,
	"operator": colAnalyst, "assessor": colAnalyst, "grader": colAnalyst, "remark": colComment, "remarks": colComment, "note": colComment, "notes": colComment,
}

// meant gives the column or attribute that a name which is none was likely
// meant for: by what labs call it, by its first word (assay (%), Batch no.), or
// by its spelling; empty where there is none.
func meant(name string, known []string) string {
	if c, ok := called[strings.ToLower(name)]; ok {
		return columnNames[c]
	}
	first := strings.TrimRight(name[:strings.IndexAny(name+" ", " ([/")], ",:")
	for _, k := range known {
		if strings.EqualFold(first, k) {
			return k
		}
	}
	return spelling.Nearest(name, known)
}

// noHeader says what is wrong with the first lines of a file whose first names
// no column at all, such as a title; empty where it does name one.
func (r *reader) noHeader(top []byte) string {
	known := func(name string) bool { _, ok := r.names[name]; return ok }
	columns := func(line []byte) (n int) {
		for _, name := range bytes.Split(line, []byte{separatorOf(line, known)}) {
			// The id of an attribute stands in rows too.
			if c, ok := r.names[headerName(bytes.Trim(bytes.TrimSpace(name), `"`))]; ok && c >= 0 && c < int(numColumns) {
				n++
			}
		}
		return n
	}
	above := true
	for i, line := range bytes.Split(top, []byte("\n")) {
		switch n := columns(line); {
		case len(bytes.TrimSpace(line)) == 0:
		case above && n > 0:
			return ""
		case n >= 3:
			return "is no header line, which stands on line " + itoa(i+1) + "; delete what is above it"
		default:
			above = false
		}
	}
	first := "batch,condition,time,attribute,value"
	if len(r.study.Packs) > 1 {
		first = "batch,condition,pack,time,attribute,value"
	}
	return "is no header line; a results table begins with one, its columns separated by comma, semicolon or tab: " + first
}

// header says where in a row each column stands.
type header struct {
	at      [numColumns]int // -1 where the file has no such column
	wide    []wideColumn    // attribute columns, in the order of the file; nil in the long form
	texts   []int           // columns that hold words: of those named, neither value nor tare
	changes bool            // some column says what was changed of results
	unnamed []int           // columns without a name, which must be empty
	width   int
}

type wideColumn struct{ at, attribute int }

// separatorOf tells the separator from the header line: the one that parts it
// into the most known names; where none parts it into any, into the most fields.
func separatorOf(line []byte, known func(string) bool) byte {
	best, bestScore := byte(','), -1
	for _, sep := range []byte{',', ';', '\t'} {
		names := bytes.Split(line, []byte{sep})
		score := len(names) - 1
		for _, n := range names {
			if known(headerName(bytes.Trim(bytes.TrimSpace(n), `"`))) {
				score += 1 << 20
			}
		}
		if score > bestScore {
			best, bestScore = sep, score
		}
	}
	return best
}

func headerName(field []byte) string { return strings.ToLower(string(bytes.TrimSpace(field))) }

// headerNames gives the column or attribute that each header name stands for:
// a column's number, or numColumns plus an attribute's index. The file's own
// columns come before attributes of the same name, and ids that differ only in
// case stand for no one attribute (-1).
func headerNames(s *study.Study) map[string]int {
	names := make(map[string]int)
	for i := range s.Attributes {
		id := strings.ToLower(s.Attributes[i].ID)
		if _, twice := names[id]; twice {
			names[id] = -1
		} else {
			names[id] = int(numColumns) + i
		}
	}
	for c, name := range columnNames {
		names[name] = c
	}
	return names
}

// readHeader makes a header of the first record; fault is called for all that
// is wrong with it.
func (r *reader) readHeader(fields [][]byte, fault func(column, text string)) header {
	h := header{width: len(fields)}
	for c := range h.at {
		h.at[c] = -1
	}
	known := columnNames[:colStudy] // what a lab writes
	ids := make([]string, len(r.study.Attributes))
	for i := range ids {
		ids[i] = r.study.Attributes[i].ID
	}
	seen := make(map[int]int) // what a name stands for → its place, from 1
	var strange []int
	for i, f := range fields {
		name := headerName(f)
		if name == "" {
			h.unnamed = append(h.unnamed, i)
			continue
		}
		what, ok := r.names[name]
		if what == -1 {
			// Ids apart only by case: here the case decides.
			if j := slices.Index(ids, strings.TrimSpace(string(f))); j >= 0 {
				what = int(numColumns) + j
			} else {
				ok = false
			}
		}
		if !ok {
			strange = append(strange, i)
			continue
		}
		if first, twice := seen[what]; twice {
			fault(name, "this column stands twice in the header, as column "+strconv.Itoa(first)+" and "+strconv.Itoa(i+1))
			continue
		}
		seen[what] = i + 1
		if what < int(numColumns) {
			h.at[what] = i
			h.changes = h.changes || column(what) >= colAmendedFrom && column(what) <= colExcludedBy
			if column(what) != colValue && column(what) != colTare {
				h.texts = append(h.texts, i)
			}
		} else {
			h.wide = append(h.wide, wideColumn{i, what - int(numColumns)})
		}
	}
	long := h.at[colAttribute] >= 0 || h.at[colValue] >= 0
	valued := false // a strange name was likely meant for a column of values
	if !long {
		known = slices.Concat(known, ids)
	}
	likely := make(map[string]bool)
	for _, i := range strange {
		name := bytes.TrimSpace(fields[i])
		text := "no such column"
		near := ""
		if len(name) <= 100 {
			near = meant(string(name), known)
			likely[near] = true
			valued = valued || near == columnNames[colAttribute] || near == columnNames[colValue] || slices.Contains(ids, near)
		}
		if near != "" {
			text += "; did you mean " + strconv.Quote(near) + "?"
		} else {
			text += "; known are " + strings.Join(columnNames[:colStudy], ", ") + ", and in the wide form " + enumerate(ids)
		}
		fault(strings.Trim(quote(name), `"`), text)
	}
	need := func(c column, why string) {
		if h.at[c] < 0 && !likely[columnNames[c]] {
			fault(columnNames[c], "the header has no column "+strconv.Quote(columnNames[c])+why)
		}
	}
	need(colBatch, "")
	need(colCondition, "")
	if len(r.study.Packs) > 1 {
		need(colPack, ", and the study has several packs")
	}
	if h.at[colTime] < 0 && h.at[colPulled] < 0 && !likely["time"] && !likely["pulled"] {
		fault("", "the header has neither a column \"time\" (the planned pull) nor \"pulled\" (its day); one is needed")
	}
	switch {
	case long:
		need(colAttribute, ", which the long form needs beside value")
		need(colValue, ", which the long form needs beside attribute")
		for _, w := range h.wide {
			fault(ids[w.attribute], "a column for one attribute beside attribute and value; a file is either long (one result a row) or wide (a column for each attribute)")
		}
		h.wide = nil
	case len(h.wide) == 0 && !valued:
		fault("", "the header has neither the columns attribute and value (long form) nor a column named for an attribute (wide form): "+enumerate(ids))
	}
	return h
}
