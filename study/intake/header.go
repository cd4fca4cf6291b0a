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
	numColumns
)

// columnNames are the header names, by column.
var columnNames = [numColumns]string{"batch", "condition", "pack", "orientation", "time", "pulled",
	"attribute", "value", "tested", "replicate", "unit", "tare", "unit_of_measure", "analyst", "method", "comment"}

// header says where in a row each column stands.
type header struct {
	at      [numColumns]int // -1 where the file has no such column
	wide    []wideColumn    // attribute columns, in the order of the file; nil in the long form
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
	known := columnNames[:]
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
		} else {
			h.wide = append(h.wide, wideColumn{i, what - int(numColumns)})
		}
	}
	long := h.at[colAttribute] >= 0 || h.at[colValue] >= 0
	if !long {
		known = slices.Concat(known, ids)
	}
	for _, i := range strange {
		name := bytes.TrimSpace(fields[i])
		text := "no such column"
		near := ""
		if len(name) <= 100 {
			near = spelling.Nearest(string(name), known)
		}
		if near != "" {
			text += "; did you mean " + strconv.Quote(near) + "?"
		} else {
			text += "; known are " + strings.Join(columnNames[:], ", ") + ", and in the wide form the ids of the attributes"
		}
		fault(strings.Trim(quote(name), `"`), text)
	}
	need := func(c column, why string) {
		if h.at[c] < 0 {
			fault(columnNames[c], "the header has no column "+strconv.Quote(columnNames[c])+why)
		}
	}
	need(colBatch, "")
	need(colCondition, "")
	if len(r.study.Packs) > 1 {
		need(colPack, ", and the study has several packs")
	}
	if h.at[colTime] < 0 && h.at[colPulled] < 0 {
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
	case len(h.wide) == 0:
		fault("", "the header has neither the columns attribute and value (long form) nor a column named for an attribute (wide form): "+enumerate(ids))
	}
	return h
}
