package analysis_test

import (
	"bytes"
	"testing"

	"shelfspan/analysis"
	"shelfspan/analysis/simulate"
	"shelfspan/study"
	"shelfspan/study/intake"
	"shelfspan/study/protocol"
)

func simulated(b *testing.B, z simulate.Size) *study.Dataset {
	b.Helper()
	var toml, csv bytes.Buffer
	if err := z.WriteStudy(&toml); err != nil {
		b.Fatal(err)
	}
	if err := z.WriteResults(&csv, 1); err != nil {
		b.Fatal(err)
	}
	s, err := protocol.Read("study.toml", toml.Bytes())
	if err != nil {
		b.Fatal(err)
	}
	d, err := intake.Read(s, intake.Source{Name: "r.csv", Reader: &csv})
	if err != nil {
		b.Fatal(err)
	}
	return d
}

// BenchmarkEvaluate1000 takes 1,000 results of one attribute in four batches at
// four conditions through shelf-life and arrhenius.
func BenchmarkEvaluate1000(b *testing.B) {
	d := simulated(b, simulate.Thousand)
	for b.Loop() {
		e := analysis.Evaluate(d, analysis.Options{Supported: true, Arrhenius: true})
		if e.Supported.Analysis == nil || e.Arrhenius[0].Status != analysis.Fitted {
			b.Fatal("nothing was fitted")
		}
	}
}

// BenchmarkEvaluatePanel takes 200 attributes of 84 results through shelf-life.
func BenchmarkEvaluatePanel(b *testing.B) {
	d := simulated(b, simulate.Panel)
	for b.Loop() {
		analysis.Evaluate(d, analysis.Options{Supported: true})
	}
}
