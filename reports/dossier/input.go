// Package dossier holds what the documents of an evaluation share, whatever they
// are printed on: what they are written from, its fingerprint, the warnings and
// cautions gathered, and every result in tables. It sets nothing on a page.
package dossier

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/schedule"
)

// Input is what a document is written from.
type Input struct {
	Evaluation *analysis.Evaluation
	Schedule   *schedule.Schedule
	StudyFile  study.Input     // the file results are not among; see Dataset.Inputs
	Version    string          // of the program
	Options    []string        // as given on the command line, for the provenance
	Parts      []words.Section // those asked for; empty for all
}

// Has reports whether a part belongs to the document.
func (in Input) Has(s words.Section) bool {
	return len(in.Parts) == 0 || slices.Contains(in.Parts, s) || slices.Contains(words.AlwaysIn, s)
}

// LeftOut says which parts were left out; "" where none was.
func (in Input) LeftOut() string {
	if len(in.Parts) == 0 {
		return ""
	}
	return words.LeftOut(in.Parts, len(in.Warnings()))
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

// Name is what the document calls itself: the study and its product or title.
func (in Input) Name() string {
	s := in.Evaluation.Dataset.Study
	for _, t := range []string{s.Product, s.Title} {
		if t != "" {
			return s.ID + " · " + t
		}
	}
	return s.ID
}

// Claim is the shelf life sought in months, NaN where there is none.
func (in Input) Claim() float64 {
	s := in.Evaluation.Dataset.Study
	if s.Claim.IsZero() {
		return math.NaN()
	}
	return s.Claim.Months(0)
}

// Said is one text with the places it is said of, "" for a place without a name.
type Said struct {
	Code, Text string
	Where      []string
}

// Places lists the places, "–" for one without a name.
func (s Said) Places() string {
	out := slices.Clone(s.Where)
	for i := range out {
		out[i] = cmp.Or(out[i], "–")
	}
	return strings.Join(out, ", ")
}

// Warnings gathers everything that qualifies the answer, in its first order; what
// is the same for several places is said once.
func (in Input) Warnings() []Said {
	e := in.Evaluation
	var all []finding.Warning
	all = append(all, e.Dataset.Warnings...)
	all = append(all, e.Warnings...)
	for _, a := range e.Analyses {
		all = append(all, a.Warnings...)
	}
	for _, r := range e.Arrhenius {
		all = append(all, r.Warnings...)
	}
	if in.Schedule != nil {
		all = append(all, in.Schedule.Warnings...)
	}
	return gather(finding.Dedupe(all))
}

func gather(all []finding.Warning) []Said {
	type key struct{ code, text string }
	first := map[key]int{}
	var out []Said
	for _, w := range all {
		k := key{w.Code, w.Text}
		i, seen := first[k]
		if !seen {
			i = len(out)
			first[k] = i
			out = append(out, Said{Code: w.Code, Text: w.Text})
		}
		out[i].Where = append(out[i].Where, w.Where)
	}
	return out
}

// Cautions gathers what is said about hazards, by the plan and by the packs.
func (in Input) Cautions() []string {
	var out []string
	if in.Schedule != nil {
		for _, c := range gather(in.Schedule.Cautions) {
			out = append(out, strings.Join(c.Where, ", ")+": "+c.Text)
		}
	}
	return append(out, words.Cautions(in.Evaluation.Dataset.Study)...)
}

// Extrapolates reports whether any of the supported months lie beyond the data.
func Extrapolates(v *analysis.Supported) bool {
	for i := range v.Verdicts {
		if float64(v.Verdicts[i].Months) > v.Verdicts[i].Observed {
			return true
		}
	}
	return false
}

// AllAlike reports whether every unit had the same grade, which no chart needs
// to show.
func AllAlike(s *study.Study, a *analysis.Analysis) bool {
	if kind := s.Attributes[a.Attribute].Kind; kind != study.Grade && kind != study.PassFail {
		return false
	}
	for i := range a.Samples {
		if a.Samples[i].Value != a.Samples[0].Value {
			return false
		}
	}
	return true
}
