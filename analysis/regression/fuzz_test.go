package regression

import (
	"encoding/binary"
	"math"
	"testing"

	"shelfspan/study"
)

// Whatever the numbers, an evaluation ends with a status, and where it says
// that something was fitted there is a number for every number promised.
func FuzzEvaluate(f *testing.F) {
	seed := func(values ...float64) (b []byte) {
		for i, v := range values {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(3*float64(i/2)))
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		return b
	}
	f.Add(seed(100, 101, 99, 98.5, 97, 98, 96, 95.5), uint8(2), 90.0, 110.0, 0.0, 0.95, uint8(0), uint8(0), uint8(0))
	f.Add(seed(100, 101, 99, 98.5, 97, 98, 96, 95.5), uint8(1), 90.0, math.Inf(1), 0.0, 0.95, uint8(4), uint8(1), uint8(1))
	f.Add(seed(5, 5, 5, 5, 5, 5, 5, 5), uint8(2), -1.0, 1.0, 0.0, 0.95, uint8(3), uint8(2), uint8(2))
	f.Add(seed(1e-300, 1e300, 1, 0, -1e300, 2, 3, 4), uint8(2), 0.0, 0.0, 0.0, 0.5, uint8(1), uint8(1), uint8(0))
	f.Fuzz(func(t *testing.T, data []byte, batches uint8, lower, upper, baseline, confidence float64, model, basis, direction uint8) {
		if len(data) > 16*200 || math.IsNaN(lower) || math.IsNaN(upper) {
			return // limits are read from a study file, which holds no NaN
		}
		in := Input{
			Batches: make([][]Point, 1+batches%4), Lower: lower, Upper: upper, Baseline: baseline, Alpha: 0.25, Confidence: confidence,
			Model:     []study.Model{study.ZeroOrder, study.FirstOrder, study.SecondOrder, study.SquareRootTime, study.Auto}[model%5],
			Basis:     []study.Basis{study.BasisValue, study.BasisPercent, study.BasisChange}[basis%3],
			Direction: directions[direction%3],
		}
		for i := 0; len(data) >= 16; i++ {
			p := Point{
				Months: math.Float64frombits(binary.LittleEndian.Uint64(data)),
				Value:  math.Float64frombits(binary.LittleEndian.Uint64(data[8:])),
			}
			data = data[16:]
			in.Batches[i%len(in.Batches)] = append(in.Batches[i%len(in.Batches)], p)
		}
		out, warnings := Evaluate(in)
		switch out.Status {
		case NotFitted, TooFewTimes:
			if len(warnings) == 0 || len(out.Fits) > 0 {
				t.Fatalf("%s with warnings %v and %d fits", out.Status, warnings, len(out.Fits))
			}
			return
		}
		numbers := []float64{out.ShelfLife, out.Estimate, out.ResidualSD, out.Quantile}
		for _, f := range out.Fits {
			numbers = append(numbers, f.Intercept, f.Slope, f.SlopeSE, f.Estimate, f.ShelfLife)
		}
		for i, x := range numbers {
			if math.IsNaN(x) || math.IsInf(x, -1) {
				t.Fatalf("number %d is %v: %+v", i, x, out)
			}
		}
		if out.ShelfLife < 0 || out.ShelfLife > out.Estimate*(1+1e-6) {
			t.Fatalf("shelf life %v, estimate %v", out.ShelfLife, out.Estimate)
		}
	})
}
