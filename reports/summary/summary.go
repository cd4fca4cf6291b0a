// Package summary writes the stability summary: one document that says what
// the study supports, on what evidence and by which rule, for the desk of
// whoever defends the claim.
package summary

import (
	"fmt"
	"io"
	"math"
	"strings"

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

// sections are the parts of the summary in their order. One that has nothing to
// say writes nothing.
var sections = []struct {
	part  words.Section
	write func(*writer)
}{
	{words.SectionConclusion, (*writer).conclusion},
	{words.SectionProtocol, (*writer).protocol},
	{words.SectionPulls, (*writer).pulls},
	{words.SectionResults, (*writer).results},
	{words.SectionChanges, (*writer).changes},
	{words.SectionTrends, (*writer).trends},
	{words.SectionArrhenius, (*writer).arrhenius},
	{words.SectionInteractions, (*writer).interactions},
	{words.SectionWarnings, (*writer).warnings},
	{words.SectionMethods, (*writer).methods},
	{words.SectionProvenance, (*writer).provenance},
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
	for _, s := range sections {
		if in.Has(s.part) {
			s.write(x)
		}
	}
	_, err := doc.WriteTo(w)
	return err
}

// place names pack and orientation; a study with one unnamed pack has none.
func (x *writer) place(pack, orientation int) string {
	if t := words.PackName(x.s, pack, orientation); t != "" {
		return t
	}
	return "–"
}

// named is the attribute with its unit of measurement.
func (x *writer) named(attribute int) string {
	a := &x.s.Attributes[attribute]
	if u := words.MeasuredIn(a); u != "" {
		return a.ID + " (" + u + ")"
	}
	return a.ID
}

// where names an analysis: "viscosity in tube at 25C60".
func (x *writer) where(a *analysis.Analysis) string {
	return words.Place(x.s, a.Attribute, a.Pack, a.Orientation) + " at " + x.s.Conditions[a.Condition].ID
}

func dash(t string) string {
	if t == "" {
		return "–"
	}
	return t
}

func join(parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, ", ")
}

// number writes a stated number as it is; "–" where there is none.
func number(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	return words.Planned(x)
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
