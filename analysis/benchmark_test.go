package analysis_test

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
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

// BenchmarkEvaluateGrades takes 20,000 graded units of three packs at four
// temperatures through all there is.
func BenchmarkEvaluateGrades(b *testing.B) {
	toml := "[study]\nid = \"G\"\nstart = 2025-01-13\nstore_at = \"25\"\n"
	temperatures := []float64{25, 30, 40, 45}
	for _, c := range temperatures {
		toml += fmt.Sprintf("[[condition]]\nid = \"%g\"\nrole = \"long-term\"\ntemperature = %g.0\npulls = [\"3M\", \"6M\", \"9M\", \"12M\", \"18M\"]\n", c, c)
	}
	toml += batches(3)
	for p := range 3 {
		toml += fmt.Sprintf("[[pack]]\nid = \"P%d\"\n", p)
	}
	toml += "[[attribute]]\nid = \"look\"\nkind = \"grade\"\ngrades = [\"none\", \"slight\", \"marked\"]\nupper = 1\nunits = 112\n"
	var csv strings.Builder
	csv.WriteString("batch,pack,condition,time,attribute,unit,value\n")
	random := rand.New(rand.NewPCG(1, 2))
	for batch := range 3 {
		for pack := range 3 {
			for _, c := range temperatures {
				for _, months := range []float64{3, 6, 9, 12, 18} {
					for unit := range 112 {
						value := "none"
						if random.NormFloat64() < (math.Log(months/40)+0.1*(c-25))/0.6 {
							value = "marked"
						}
						fmt.Fprintf(&csv, "B%d,P%d,%g,%gM,look,%d,%s\n", batch+1, pack, c, months, unit, value)
					}
				}
			}
		}
	}
	d := dataset(b, toml, csv.String())
	for b.Loop() {
		e := analysis.Evaluate(d, analysis.Options{Trends: true, Supported: true, Arrhenius: true})
		if !e.Lifetimes[0].Joint.Fitted() {
			b.Fatal("nothing was fitted")
		}
	}
}
