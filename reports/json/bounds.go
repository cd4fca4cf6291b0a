package json

import (
	"shelfspan/analysis"
	"shelfspan/reports/words"
)

// Bound is one of the bounds of an analysis side by side; estimate and shelf life
// are null where there is no answer, for the reason given, and where no limit is
// reached.
type Bound struct {
	Kind              string `json:"kind"`
	Status            string `json:"status"`
	Reason            string `json:"reason,omitempty"`
	Estimate          Number `json:"estimate_months"`
	ShelfLife         Number `json:"shelf_life_months"`
	Coverage          Number `json:"coverage"`
	Confidence        Number `json:"confidence"`
	CoveragePerSide   Number `json:"coverage_per_side"`
	ConfidencePerSide Number `json:"confidence_per_side"`
	DF                Number `json:"df"`
	Governs           bool   `json:"governs"`
	Text              string `json:"text"`
}

func newBounds(a *analysis.Analysis) []Bound {
	out := []Bound{}
	for i := range a.Bounds {
		b := &a.Bounds[i]
		out = append(out, Bound{
			Kind: string(b.Kind), Status: string(b.Status), Reason: b.Reason, Estimate: Number(b.Estimate), ShelfLife: Number(b.ShelfLife),
			Coverage: Number(b.Coverage), Confidence: Number(b.Confidence),
			CoveragePerSide: Number(b.CoveragePerSide), ConfidencePerSide: Number(b.ConfidencePerSide),
			DF: Number(b.DF), Governs: b.Governs, Text: words.BoundSays(b),
		})
	}
	return out
}
