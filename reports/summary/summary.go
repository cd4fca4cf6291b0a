// Package summary writes the stability summary: one document that says what
// the study supports, on what evidence and by which rule, for the desk of
// whoever defends the claim.
package summary

import (
	"fmt"
	"io"

	"shelfspan/analysis"
	"shelfspan/reports/dossier"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// Input is what a summary is written from.
type Input = dossier.Input

// writer is a summary being written.
type writer struct {
	Input
	s *study.Study
	d *study.Dataset
	e *analysis.Evaluation
	*pdf.Document
}

// Write writes the summary as a PDF. The same input gives the same bytes.
func Write(w io.Writer, in Input) error {
	e := in.Evaluation
	s := e.Dataset.Study
	doc := pdf.New(pdf.Info{
		Title:  in.Name(),
		Kind:   "Stability summary",
		Footer: fmt.Sprintf("Study %s · inputs and options %s · shelfspan %s", s.ID, in.Fingerprint(), in.Version),
		Date:   s.Start.Time(),
		Record: in.Origin().Record(),
	})
	x := &writer{in, s, e.Dataset, e, doc}
	x.conclusion()
	x.protocol()
	x.pulls()
	x.results()
	x.changes()
	x.trends()
	x.arrhenius()
	x.interactions()
	x.warnings()
	x.methods()
	x.provenance()
	_, err := doc.WriteTo(w)
	return err
}

// named is the attribute with its unit of measurement.
func (x *writer) named(attribute int) string {
	a := &x.s.Attributes[attribute]
	if u := words.MeasuredIn(a); u != "" {
		return a.ID + " (" + u + ")"
	}
	return a.ID
}

func columns(left int, heads ...string) []pdf.Column {
	out := make([]pdf.Column, len(heads))
	for i, h := range heads {
		out[i].Head = h
		if i >= left {
			out[i].Align = pdf.Right
		}
	}
	return out
}
