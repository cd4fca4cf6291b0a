package csv

import (
	"encoding/csv"
	"io"
	"strconv"

	"github.com/gocarina/gocsv"

	"shelfspan/study/spreadsheet"
)

// write writes rows under their heads. A text that a spreadsheet would take for a
// formula is made harmless; a number is none.
func write(w io.Writer, rows any) error {
	return gocsv.MarshalCSV(rows, harmless{csv.NewWriter(w)})
}

// harmless is a writer of records none of whose fields is a formula.
type harmless struct{ *csv.Writer }

func (h harmless) Write(record []string) error {
	for i, field := range record {
		if _, err := strconv.ParseFloat(field, 64); err != nil {
			record[i] = spreadsheet.Harmless(field)
		}
	}
	return h.Writer.Write(record)
}
