package lifetime

import (
	"math/rand/v2"
	"testing"
)

// 1,000 units at four temperatures, opened once or returned.
func BenchmarkFit(b *testing.B) {
	for _, distribution := range []Distribution{Lognormal, Weibull} {
		for _, returned := range []bool{false, true} {
			d := design{truth: distribution, celsius: []float64{25, 30, 40, 50}, each: 250, looks: []float64{1, 2, 3, 6, 9, 12, 18, 24}, returned: returned, scale: 0.5}
			in := Input{Observations: d.study(rand.New(rand.NewPCG(1, 2)), nil), Distribution: distribution, Arrhenius: true, Confidence: 0.95}
			name := string(distribution) + ", opened once"
			if returned {
				name = string(distribution) + ", returned"
			}
			b.Run(name, func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if r := Fit(in); r.Status != Fitted {
						b.Fatal(r.Reason)
					}
				}
			})
			b.Run(name+", with a quantile", func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if q, err := Fit(in).Quantile(0.05, 25, 0.95); err != nil || q.Open {
						b.Fatal(q, err)
					}
				}
			})
		}
	}
}
