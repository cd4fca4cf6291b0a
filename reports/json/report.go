package json

import "shelfspan/analysis"

// Report is the whole of one evaluation: the answer of shelf-life, the analyses of
// every condition among it, and those of arrhenius and interactions, with the options given.
type Report struct {
	ShelfLife
	Arrhenius []Arrhenius `json:"arrhenius"`

	Interactions *Compared `json:"interactions"` // null where none were asked for
	Options      []string  `json:"options"`

	Fingerprint string `json:"fingerprint"` // the short hash at the foot of the summary's pages
}

// NewReport builds it from an evaluation.
func NewReport(head Answer, e *analysis.Evaluation, options []string, fingerprint string) Report {
	r := Report{ShelfLife: NewShelfLife(head, e), Arrhenius: NewArrhenius(head, e).Analyses, Options: listed(options), Fingerprint: fingerprint}
	if e.Interactions != nil {
		compared := newCompared(e)
		r.Interactions = &compared
	}
	return r
}
