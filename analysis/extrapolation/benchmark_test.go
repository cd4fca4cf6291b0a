package extrapolation_test

import (
	"math/rand/v2"
	"testing"

	"shelfspan/analysis/extrapolation"
	"shelfspan/study"
)

// BenchmarkAssess judges 200 attributes with 84 results each, in three batches
// at three conditions, and limits every one.
func BenchmarkAssess(b *testing.B) {
	s := balm(25, 30, 40)
	s.Attributes = make([]study.Attribute, 200)
	random := rand.New(rand.NewPCG(1, 2))
	var all []extrapolation.Series
	for i := range s.Attributes {
		s.Attributes[i] = study.Attribute{ID: "assay", Kind: study.Measure, Lower: 90, Upper: inf, Decimals: 1, SignificantChange: 5}
		for _, c := range []int{store, intermediate, accelerated} {
			x := samples(100, 0, 1, 2, 3, 6, 9, 12, 18, 24)
			for k := range x {
				x[k].Value += random.NormFloat64()
			}
			all = append(all, series(i, c, x))
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		a := extrapolation.Assess(s, 0, 0, all)
		for i := range s.Attributes {
			a.Limit(i, batches, true)
		}
	}
}
