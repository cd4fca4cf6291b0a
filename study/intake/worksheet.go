package intake

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"

	"shelfspan/study"
	"shelfspan/study/spreadsheet"
)

// WorksheetRow is one value to be measured: on which unit, and which reading.
type WorksheetRow struct {
	Batch, Pack int
	Orientation int // index into the pack's Orientations; not written at time zero without a condition
	Condition   int // index into the Study; -1 at time zero of a unit that is opened before storage
	Time        study.Duration
	Attribute   int
	Unit        string
	Replicate   int // from 1; not written where the attribute is read once
}

// byteOrderMark tells spreadsheets that a CSV file is UTF-8; without it they
// take it for a code page of their own.
const byteOrderMark = "\ufeff"

// WriteWorksheet writes a results table with the values left empty, to be filled
// in with a spreadsheet and read back as it is. The columns are separated by a
// comma, a semicolon or a tab: where numbers have decimal commas, spreadsheets
// open a table at a semicolon. It has no column for the day of
// the pull, which the ledger knows: spreadsheets rewrite days in forms of their
// own. Tare is asked for where a pack's own is not known.
func WriteWorksheet(w io.Writer, s *study.Study, separator rune, rows []WorksheetRow) error {
	type columnOf struct {
		name string
		text func(*WorksheetRow) string // as the table has it, so that a spreadsheet leaves it as it is
	}
	several := func(r *WorksheetRow) string { return string(s.Packs[r.Pack].Orientations[r.Orientation]) }
	empty := func(*WorksheetRow) string { return "" }
	columns := []columnOf{{"batch", func(r *WorksheetRow) string { return spreadsheet.Text(s.Batches[r.Batch].ID) }}}
	if len(s.Packs) > 1 || s.Packs[0].ID != "" {
		columns = append(columns, columnOf{"pack", func(r *WorksheetRow) string { return spreadsheet.Text(s.Packs[r.Pack].ID) }})
	}
	oriented, tared := false, false
	for i := range s.Packs {
		oriented = oriented || len(s.Packs[i].Orientations) > 1
	}
	for i := range rows {
		tared = tared || asksTare(s, &rows[i])
	}
	if oriented {
		columns = append(columns, columnOf{"orientation", func(r *WorksheetRow) string {
			if r.Condition < 0 {
				return ""
			}
			return several(r)
		}})
	}
	columns = append(columns,
		columnOf{"condition", func(r *WorksheetRow) string {
			if r.Condition < 0 {
				return ""
			}
			return spreadsheet.Text(s.Conditions[r.Condition].ID)
		}},
		columnOf{"time", func(r *WorksheetRow) string { return r.Time.String() }},
		columnOf{"attribute", func(r *WorksheetRow) string { return spreadsheet.Text(s.Attributes[r.Attribute].ID) }},
		columnOf{"unit_of_measure", func(r *WorksheetRow) string {
			if a := &s.Attributes[r.Attribute]; a.Kind != study.Weighing {
				return spreadsheet.Harmless(a.Unit)
			}
			return "g"
		}},
		columnOf{"unit", func(r *WorksheetRow) string { return spreadsheet.Harmless(r.Unit) }},
		columnOf{"replicate", func(r *WorksheetRow) string {
			if s.Attributes[r.Attribute].Replicates <= 1 {
				return ""
			}
			return strconv.Itoa(r.Replicate)
		}},
		columnOf{"value", empty})
	if tared {
		columns = append(columns, columnOf{"tare", empty})
	}
	for _, name := range []string{"tested", "analyst", "method", "comment"} {
		columns = append(columns, columnOf{name, empty})
	}

	if _, err := io.WriteString(w, byteOrderMark); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.Comma = separator
	out.UseCRLF = true // as RFC 4180 has it, and spreadsheets
	fields := make([]string, len(columns))
	for i, c := range columns {
		fields[i] = c.name
	}
	if err := out.Write(fields); err != nil {
		return err
	}
	for i := range rows {
		for j, c := range columns {
			fields[j] = c.text(&rows[i])
		}
		if err := out.Write(fields); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// asksTare reports whether a row is a weighing of a pack whose tare is not known.
func asksTare(s *study.Study, r *WorksheetRow) bool {
	return s.Attributes[r.Attribute].Kind == study.Weighing && math.IsNaN(s.Packs[r.Pack].Tare)
}
