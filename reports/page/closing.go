package page

import (
	"fmt"
	"slices"
	"strconv"

	"shelfspan/reports/words"
)

// warnings lists everything that qualifies the answer, once each.
func (x *writer) warnings() {
	t := table{caption: "Warnings", columns: left("About", "Warning", "Code"), prose: true}
	for _, w := range x.Warnings() {
		t.rows = append(t.rows, cells(w.Places(), w.Text, w.Code))
	}
	if len(t.rows) == 0 {
		x.paragraph("", "None.")
	}
	x.table(t)
}

// methods says how the numbers came about and from which sources.
func (x *writer) methods() {
	all, note := words.Methods(x.e)
	t := table{caption: "What was done, and the sources it follows", columns: left("What was done", "Source"), notes: []string{note}, plain: true, prose: true, class: "methods"}
	for _, m := range all {
		t.rows = append(t.rows, cells(m.What, m.Source))
	}
	x.table(t)
}

// provenance says what went in, so that the document can be made again.
func (x *writer) provenance() {
	t := table{caption: "Inputs", columns: slices.Concat(left("Input", "What", "SHA-256"), right("Rows")), plain: true, prose: true}
	if x.StudyFile.Path != "" {
		t.rows = append(t.rows, hashed(2, cells(x.StudyFile.Path, "study file", x.StudyFile.SHA256, "–")))
	}
	for _, i := range x.d.Inputs {
		t.rows = append(t.rows, hashed(2, cells(i.Path, "results", i.SHA256, strconv.Itoa(i.Rows))))
	}
	x.table(t)
	made := table{caption: "How it was made", columns: left("What", "Which"), notes: []string{words.SameAgain}, plain: true, prose: true}
	made.rows = append(made.rows, cells("Program", "shelfspan "+x.Version))
	if m := x.d.Ledger; m != nil {
		made.rows = append(made.rows, cells("Ledger", fmt.Sprintf("as of event %d of %s, protocol version %d", m.Event, words.When(m.At), m.Version)),
			hashed(1, cells("Hash of that event", m.Hash)))
	}
	options := "none beyond the study file's"
	if len(x.Options) > 0 {
		options = join(" ", x.Options...)
	}
	made.rows = append(made.rows, cells("Options", options), cells("Results taken in", words.TakenIn(x.d)),
		hashed(1, cells("Inputs and options, short hash", x.Fingerprint())))
	x.table(made)
	x.proseGrid(x.Versions())
}

// hashed says which cell of a row is a hash.
func hashed(at int, row []cell) []cell {
	row[at].hash = true
	return row
}
