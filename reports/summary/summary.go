// Package summary writes the stability summary: one document that says what
// the study supports, on what evidence and by which rule, for the desk of
// whoever defends the claim.
package summary

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// Input is what a summary is written from.
type Input struct {
	Evaluation *analysis.Evaluation
	Schedule   *schedule.Schedule
	StudyFile  study.Input // the file results are not among; see Dataset.Inputs
	Version    string      // of the program
	Options    []string    // as given on the command line, for the provenance
}

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
	title := s.ID
	for _, t := range []string{s.Product, s.Title} {
		if t != "" {
			title += " · " + t
			break
		}
	}
	doc := pdf.New(pdf.Info{
		Title:  title,
		Kind:   "Stability summary",
		Footer: fmt.Sprintf("Study %s · inputs and options %s · shelfspan %s", s.ID, in.Fingerprint(), in.Version),
		Date:   s.Start.Time(),
		Record: in.Origin().record(),
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

// Fingerprint is a short hash of everything an answer depends on: the inputs'
// own hashes, the program's version and the options. It stands on every page.
func (in Input) Fingerprint() string {
	h := sha256.New()
	fmt.Fprintf(h, "%s\n%s\n", in.Version, in.StudyFile.SHA256)
	for _, i := range in.Evaluation.Dataset.Inputs {
		fmt.Fprintln(h, i.SHA256)
	}
	if m := in.Evaluation.Dataset.Ledger; m != nil {
		fmt.Fprintln(h, m.Hash)
	}
	for _, o := range in.Options {
		fmt.Fprintf(h, "%q\n", o)
	}
	return hex.EncodeToString(h.Sum(nil))[:12]
}

// place names pack and orientation; a study with one unnamed pack has none.
func (x *writer) place(pack, orientation int) string {
	if t := words.PackName(x.s, pack, orientation); t != "" {
		return t
	}
	return "–"
}

// unit is what an attribute's results are in, whatever its limits apply to.
func unit(a *study.Attribute) string {
	plain := *a
	plain.Basis = study.BasisValue
	return words.Unit(&plain)
}

// named is the attribute with its unit of measurement.
func (x *writer) named(attribute int) string {
	a := &x.s.Attributes[attribute]
	if u := unit(a); u != "" {
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
