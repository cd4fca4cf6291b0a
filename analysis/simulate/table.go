package simulate

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Table says how a results file is written.
type Table struct {
	Separator    byte     // ',', ';' or '\t'
	DecimalComma bool     // only where the separator is no comma
	Spreadsheet  bool     // a byte-order mark first and CRLF line ends, as spreadsheets save
	Columns      []string // of the results CSV, in their order
	Wide         []string // attributes with a column each; nil: the long form, with columns attribute and value among Columns
}

// Write writes the readings as a results CSV. In the wide form the readings of
// one unit and replicate share a row, where they follow on each other or not;
// rows stand where their first reading does.
func (t *Table) Write(w io.Writer, readings []Reading) error {
	out := bufio.NewWriter(w)
	end := "\n"
	if t.Spreadsheet {
		out.WriteString("\ufeff")
		end = "\r\n"
	}
	line := func(fields []string) {
		for i, f := range fields {
			if i > 0 {
				out.WriteByte(t.Separator)
			}
			if strings.ContainsAny(f, "\"\r\n"+string(t.Separator)) {
				f = `"` + strings.ReplaceAll(f, `"`, `""`) + `"`
			}
			out.WriteString(f)
		}
		out.WriteString(end)
	}
	line(append(slices.Clone(t.Columns), t.Wide...))

	if t.Wide == nil {
		for i := range readings {
			fields, err := t.fields(&readings[i])
			if err != nil {
				return err
			}
			line(fields)
		}
		return out.Flush()
	}
	rows := map[string]int{}
	var table [][]string
	for i := range readings {
		r := readings[i]
		column := slices.Index(t.Wide, r.Attribute)
		if column < 0 {
			continue
		}
		r.Replicate = max(r.Replicate, 1)
		fields, err := t.fields(&r)
		if err != nil {
			return err
		}
		key := strings.Join(fields, "\x00")
		row, ok := rows[key]
		if !ok {
			row = len(table)
			rows[key] = row
			table = append(table, append(fields, make([]string, len(t.Wide))...))
		}
		table[row][len(t.Columns)+column] = t.value(&r)
	}
	for _, fields := range table {
		line(fields)
	}
	return out.Flush()
}

// fields gives a reading's text in each of the table's columns.
func (t *Table) fields(r *Reading) ([]string, error) {
	out := make([]string, len(t.Columns), len(t.Columns)+len(t.Wide))
	for i, c := range t.Columns {
		switch c {
		case "batch":
			out[i] = r.Batch
		case "pack":
			out[i] = r.Pack
		case "orientation":
			out[i] = string(r.Orientation)
		case "condition":
			out[i] = r.Condition
		case "time":
			out[i] = r.Time.String()
		case "pulled":
			out[i] = r.Pulled.String()
		case "tested":
			out[i] = r.Tested.String()
		case "attribute":
			out[i] = r.Attribute
		case "unit":
			out[i] = r.Unit
		case "replicate":
			if r.Replicate > 0 {
				out[i] = strconv.Itoa(r.Replicate)
			}
		case "tare":
			if !math.IsNaN(r.Tare) {
				out[i] = t.number(r.Tare, r.Decimals)
			}
		case "value":
			out[i] = t.value(r)
		case "comment":
			out[i] = r.Comment
		default:
			return nil, fmt.Errorf("no column %q can be written", c)
		}
	}
	return out, nil
}

func (t *Table) value(r *Reading) string {
	if r.Grade != "" {
		return r.Grade
	}
	return t.number(r.Value, r.Decimals)
}

func (t *Table) number(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if t.DecimalComma {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}
