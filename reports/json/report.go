package json

import "shelfspan/analysis"

// Report is the whole of one evaluation: the answer of shelf-life, the analyses of
// every condition among it, and that of arrhenius, with the options given.
type Report struct {
	ShelfLife
	Arrhenius []Arrhenius `json:"arrhenius"`
	Options   []string    `json:"options"`

	Fingerprint string `json:"fingerprint"` // the short hash at the foot of the summary's pages
}

// NewReport builds it from an evaluation.
func NewReport(head Answer, e *analysis.Evaluation, options []string, fingerprint string) Report {
	return Report{NewShelfLife(head, e), NewArrhenius(head, e).Analyses, listed(options), fingerprint}
}
