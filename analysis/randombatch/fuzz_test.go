package randombatch

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/regression"
)

// Whatever the numbers, an evaluation ends with a status and no NaN.
func FuzzEvaluate(f *testing.F) {
	seed := func(values ...float64) (b []byte) {
		for i, v := range values {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(3*float64(i/2)))
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		return b
	}
	f.Add(seed(100, 101, 99, 98.5, 97, 98, 96, 95.5, 94, 95), uint8(0), 90.0, 0.0, 0.95, 0.95)
	f.Add(seed(100, 101, 99, 98.5, 97, 98, 96, 95.5, 94, 95, 93, 92, 91, 94), uint8(5), 90.0, 0.9, 0.95, 0.95)
	f.Add(seed(5, 5, 5, 5, 5, 5, 5, 5), uint8(0), 4.0, 0.0, 0.9, 0.99)
	f.Add(seed(5, 6, 5, 6), uint8(0), 4.0, 1.0, 0.9, 0.99)
	f.Add(seed(1e60, -1e60, 1e-60, 0, 1e60, 2, 3, 4), uint8(0), 0.0, 0.5, 0.5, 0.5)
	f.Add(seed(1e-300, 1e300, 1, 0, -1e300, 2, 3, 4), uint8(2), 0.0, 0.0, 0.999999999, 0.999999999)
	f.Fuzz(func(t *testing.T, data []byte, batches uint8, level, share, coverage, confidence float64) {
		if len(data) > 16*60 {
			return
		}
		in := Input{
			Batches: make([]pooling.Batch, 2+batches%4), Coverage: coverage, Confidence: confidence,
			Limits: []kinetics.Limit{{Share: share, Level: level}, {Share: share, Level: 2 * level, Above: true}}[:1+batches/4%2],
		}
		for i := 0; len(data) >= 16; i++ {
			b := &in.Batches[i%len(in.Batches)]
			b.X = append(b.X, math.Float64frombits(binary.LittleEndian.Uint64(data)))
			b.Y = append(b.Y, math.Float64frombits(binary.LittleEndian.Uint64(data[8:])))
			data = data[16:]
		}
		out, warnings := Evaluate(in)
		switch out.Status {
		case regression.NotFitted, regression.TooFewTimes, NotConverged:
			if len(warnings) == 0 || !math.IsNaN(out.Paths.ShelfLife) {
				t.Fatalf("%s with warnings %v, %+v", out.Status, warnings, out.Paths)
			}
			return
		}
		b := out.At(12, batches > 100)
		numbers := []float64{out.Mean.Estimate, out.Mean.ShelfLife, out.Paths.Estimate, out.Paths.ShelfLife, out.Mean.DF, out.Paths.DF, b.Mean, b.MeanBound, b.Path, b.PathBound,
			out.Fit.Intercept, out.Fit.Slope, out.Fit.InterceptSE, out.Fit.SlopeSE, out.Fit.InterceptDF, out.Fit.SlopeDF,
			out.Fit.InterceptSD, out.Fit.SlopeSD, out.Fit.ResidualSD, out.Fit.LogLikelihood}
		for i, x := range numbers {
			if math.IsNaN(x) || i < 6 && x < 0 {
				t.Fatalf("number %d is %v: %+v, fit %+v, bounds %+v", i, x, out, out.Fit, b)
			}
		}
	})
}

// However far apart the sizes of mean, variation and error are, there is an answer
// without NaN, or it is said that there is none; and there is one wherever three
// batches or more vary by less than a million times their error.
func TestSizes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		size := func(what string) float64 {
			return rapid.SampledFrom([]float64{0, 1e-9, 1e-6, 1e-3, 1, 1e3, 1e6}).Draw(t, what)
		}
		a, b, error := size("intercepts"), size("slopes"), size("error")
		level := rapid.SampledFrom([]float64{0, 1, -1e3, 1e9}).Draw(t, "level")
		unit := rapid.SampledFrom([]float64{1e-3, 1, 1e3}).Draw(t, "unit of time")
		m := rapid.IntRange(2, 6).Draw(t, "batches")
		var batches []pooling.Batch
		for range m {
			var batch pooling.Batch
			at, slope := level+a*random.NormFloat64(), b*random.NormFloat64()
			for _, x := range pulls {
				batch.X = append(batch.X, x*unit)
				batch.Y = append(batch.Y, at+slope*x+error*random.NormFloat64())
			}
			batches = append(batches, batch)
		}
		out, warnings := Evaluate(Input{Batches: batches, Limits: below(level - 1), Coverage: 0.95, Confidence: 0.95})
		if out.Status == NotConverged {
			if m > 2 && max(a, b) < 1e6*error {
				t.Fatalf("not converged: %+v", out.Fit)
			}
			return
		}
		f := out.Fit
		if f == nil {
			t.Fatalf("status %s, %v", out.Status, warnings)
		}
		for i, x := range []float64{out.Mean.ShelfLife, out.Mean.Estimate, out.Paths.ShelfLife, out.Paths.Estimate, out.Mean.DF,
			f.Intercept, f.Slope, f.InterceptSE, f.SlopeSE, f.InterceptDF, f.SlopeDF, f.InterceptSD, f.SlopeSD, f.ResidualSD, f.LogLikelihood} {
			if math.IsNaN(x) {
				t.Fatalf("number %d is NaN: %+v, fit %+v", i, out, f)
			}
		}
	})
}
