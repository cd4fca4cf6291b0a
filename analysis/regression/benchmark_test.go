package regression

import (
	"math"
	"math/rand/v2"
	"testing"

	"shelfspan/study"
)

// 200 attributes of 84 results in three batches, one with each model: what a
// whole shelf-life run computes, chosen by auto and fitted.
func BenchmarkEvaluate(b *testing.B) {
	for _, model := range []study.Model{study.ZeroOrder, study.FirstOrder, study.Auto} {
		b.Run(string(model)+" 200×84", func(b *testing.B) { evaluateMany(b, model, 200, 28) })
	}
	b.Run("auto 12×84 (1,000 results)", func(b *testing.B) { evaluateMany(b, study.Auto, 12, 28) })
}

func evaluateMany(b *testing.B, model study.Model, attributes, perBatch int) {
	random := rand.New(rand.NewPCG(1, 2))
	inputs := make([]Input, attributes)
	for i := range inputs {
		inputs[i] = Input{Lower: 90, Upper: math.Inf(1), Model: model, Alpha: 0.25, Confidence: 0.95}
		for range 3 {
			points := make([]Point, perBatch)
			for j := range points {
				months := float64(j/4) * 3
				points[j] = Point{Months: months, Value: 100 - 0.3*months + random.NormFloat64()}
			}
			inputs[i].Batches = append(inputs[i].Batches, points)
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		for i := range inputs {
			Evaluate(inputs[i])
		}
	}
}
