package summary

import (
	"fmt"

	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
)

// warnings lists everything that qualifies the answer, once each.
func (x *writer) warnings() {
	all := x.Warnings()
	x.Need(160)
	x.Section(words.SectionWarnings.Title())
	if len(all) == 0 {
		x.Paragraph("None.")
		return
	}
	t := pdf.Table{Columns: columns(3, words.HeadsWarnings...), Wide: true}
	for _, w := range all {
		t.Rows = append(t.Rows, pdf.Texts(w.Places(), w.Text, w.Code))
	}
	x.Table(t)
}

// methods says how the numbers came about and from which sources.
func (x *writer) methods() {
	x.Need(160)
	x.Section(words.SectionMethods.Title())
	t := pdf.Table{Columns: columns(2, words.HeadsMethods...)}
	all, note := words.Methods(x.e)
	for _, m := range all {
		t.Rows = append(t.Rows, pdf.Texts(m.What, m.Source))
	}
	if note != "" {
		t.Notes = []string{note}
	}
	x.Table(t)
}

// provenance says what went in, so that the document can be made again.
func (x *writer) provenance() {
	x.Section(words.SectionProvenance.Title())
	t := pdf.Table{
		Caption: words.CaptionInputs,
		Columns: columns(4, words.HeadsInputs...),
	}
	t.Columns[3].Align = pdf.Right
	if x.StudyFile.Path != "" {
		t.Rows = append(t.Rows, pdf.Texts(x.StudyFile.Path, "study file", x.StudyFile.SHA256, "–"))
	}
	for _, i := range x.d.Inputs {
		t.Rows = append(t.Rows, pdf.Texts(i.Path, "results", i.SHA256, fmt.Sprint(i.Rows)))
	}
	x.Table(t)
	made := []pdf.Row{pdf.Texts("Program", "shelfspan "+x.Version)}
	if m := x.d.Ledger; m != nil {
		made = append(made, pdf.Texts("Ledger", fmt.Sprintf("as of event %d of %s, protocol version %d", m.Event, words.When(m.At), m.Version)),
			pdf.Texts("Hash of that event", m.Hash))
	}
	options := "none beyond the study file's"
	if len(x.Options) > 0 {
		options = joinBy(" ", x.Options...)
	}
	x.Table(pdf.Table{
		Caption: words.CaptionMade,
		Columns: columns(2, "", ""),
		Rows: append(made,
			pdf.Texts("Options", options),
			pdf.Texts("Results taken in", words.TakenIn(x.d)),
			pdf.Texts("Inputs and options, short hash", x.Fingerprint()),
		),
		Notes: []string{words.SameAgain + " The day it is signed is written below. The file keeps these lines for programs too, with a digest of its bytes: shelfspan report --verify reads them."},
	})
	x.narrow(x.Versions())
	sign := func(role string) pdf.Row {
		r := pdf.Texts(role)
		r.Height = 30
		return r
	}
	x.Table(pdf.Table{
		Caption: words.CaptionSignatures,
		Wide:    true,
		Columns: columns(4, words.HeadsSignatures...),
		Rows:    []pdf.Row{sign("Prepared by"), sign("Reviewed by"), sign("Approved by")},
	})
	x.Paragraph(words.Disclaimer)
	if n := x.Replaced(); n > 0 {
		x.Note(fmt.Sprintf("%d characters of the inputs are not in this document's fonts and are shown as %c.", n, pdf.Replacement))
	}
}
