// Package summary writes the stability summary: one document that says what
// the study supports, on what evidence and by which rule, for the desk of
// whoever defends the claim.
package summary

import (
	"fmt"
	"io"
	"slices"
	"time"

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
	listed int // lines of the list of contents
}

// sections are the parts of the summary in their order, each with the number of
// its headings in the list of contents. One that has nothing to say writes nothing.
var sections = []struct {
	part  words.Section
	write func(*writer)
	heads func(*writer) int
}{
	{words.SectionConclusion, (*writer).conclusion, always},
	{words.SectionProtocol, (*writer).protocol, always},
	{words.SectionPulls, (*writer).pulls, func(x *writer) int { return oneIf(x.Schedule != nil) }},
	{words.SectionResults, (*writer).results, always},
	{words.SectionChanges, (*writer).changes, func(x *writer) int { return oneIf(len(x.d.Changes) > 0) }},
	{words.SectionTrends, (*writer).trends, func(x *writer) int {
		at := func(storage bool) bool {
			return slices.ContainsFunc(x.e.Analyses, func(a *analysis.Analysis) bool { return (a.Condition == x.s.StoreAt) == storage })
		}
		return oneIf(at(true)) + oneIf(at(false))
	}},
	{words.SectionArrhenius, (*writer).arrhenius, func(x *writer) int { return oneIf(len(x.e.Arrhenius) > 0) }},
	{words.SectionInteractions, (*writer).interactions, func(x *writer) int {
		return oneIf(x.e.Interactions != nil && len(x.e.Interactions.Comparisons) > 0)
	}},
	{words.SectionWarnings, (*writer).warnings, always},
	{words.SectionMethods, (*writer).methods, always},
	{words.SectionProvenance, (*writer).provenance, always},
}

func always(*writer) int { return 1 }

func oneIf(there bool) int {
	if there {
		return 1
	}
	return 0
}

// headings counts the lines of the list of contents.
func (x *writer) headings() (n int) {
	for _, s := range sections {
		if x.Has(s.part) {
			n += s.heads(x)
		}
	}
	return n
}

// Write writes the summary as a PDF. The same input gives the same bytes.
func Write(w io.Writer, in Input) error {
	e := in.Evaluation
	s := e.Dataset.Study
	record, err := in.Origin().Record()
	if err != nil {
		return err
	}
	// The data's own date, never the clock's: the document comes out the same later.
	date := s.Start.Time()
	if m := e.Dataset.Ledger; m != nil {
		if at, err := time.Parse(time.RFC3339, m.At); err == nil {
			date = at
		}
	}
	doc := pdf.New(pdf.Info{
		Title:  in.Name(),
		Kind:   "Stability summary",
		Footer: fmt.Sprintf("Study %s · inputs and options %s · shelfspan %s", s.ID, in.Fingerprint(), in.Version),
		Date:   date,
		Record: record,
	})
	x := &writer{Input: in, s: s, d: e.Dataset, e: e, Document: doc}
	x.listed = x.headings()
	for _, s := range sections {
		if in.Has(s.part) {
			s.write(x)
		}
	}
	_, err = doc.WriteTo(w)
	return err
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
