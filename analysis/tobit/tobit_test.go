package tobit

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
)

var months = []float64{0, 3, 6, 9, 12, 18, 24}

// study draws batches about a mean path with an error of standard deviation sd;
// of what lies below the limit of quantitation no more is known.
func study(random *rand.Rand, batches int, mean func(float64) float64, sd, quantitation float64) []Batch {
	all := make([]Batch, batches)
	for i := range all {
		for _, x := range months {
			y, side := mean(x)+sd*random.NormFloat64(), Exact
			if y < quantitation {
				y, side = quantitation, Below
			}
			all[i].X, all[i].Y, all[i].Side = append(all[i].X, x), append(all[i].Y, y), append(all[i].Side, side)
		}
	}
	return all
}

func rising(x float64) float64 { return 0.1 * x }

// Without censored values everything is least squares: lines, errors, the tests
// of ICH Q1E, and the bound, in a part of the start Fieller's.
func TestWithoutCensoring(t *testing.T) {
	for seed := range uint64(20) {
		random := rand.New(rand.NewPCG(2026, seed))
		batches := study(random, 3, func(x float64) float64 { return 100 - 0.4*x }, 1, math.Inf(-1))
		plain := make([]pooling.Batch, len(batches))
		for i, b := range batches {
			plain[i] = pooling.Batch{X: b.X, Y: b.Y}
		}
		want, err := pooling.Fit(plain, 0.25)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Pool(batches, 0.25)
		if err != nil || got.Fit.Status != Converged || got.Fit.Decision != want.Decision {
			t.Fatalf("%v: %+v, want %v", err, got.Fit, want.Decision)
		}
		near := func(what string, got, want, tolerance float64) {
			t.Helper()
			if got != want && !(math.Abs(got-want) <= tolerance*math.Abs(want)) && !(math.IsNaN(got) && math.IsNaN(want)) {
				t.Errorf("seed %d, %s: %.12g, want %.12g", seed, what, got, want)
			}
		}
		near("F of slopes", got.SlopesF, want.SlopesF, 1e-8)
		near("p of slopes", got.SlopesP, want.SlopesP, 1e-8)
		near("F of intercepts", got.InterceptsF, want.InterceptsF, 1e-8)
		near("p of intercepts", got.InterceptsP, want.InterceptsP, 1e-8)
		near("degrees of freedom", float64(got.Fit.DF), float64(want.DF), 0)
		q := linear.StudentQuantile(0.95, want.DF)
		for i, line := range want.Lines {
			near("mean", got.Fit.Lines[i].Mean(12), line.Mean(12), 1e-10)
			near("error", got.Fit.Lines[i].SE(30), line.SE(30), 1e-8)
			for _, limit := range []kinetics.Limit{{Level: 90}, {Level: 101, Above: true}, {Share: 1, Level: -8}, {Share: 0.9}} {
				life, err := got.Fit.Meets(i, limit, 0.95)
				if err != nil {
					t.Fatal(err)
				}
				near("estimate", life.Estimate, limit.MetBy(line, 0), 1e-8)
				near("bound", life.Bound, limit.MetBy(line, q), 1e-6)
			}
			for _, above := range []bool{true, false} {
				want := line.Mean(18) - q*line.SE(18)
				if above {
					want = line.Mean(18) + q*line.SE(18)
				}
				limit, err := got.Fit.Limit(i, 18, above, 0.95)
				if err != nil {
					t.Fatal(err)
				}
				near("limit at 18", limit, want, 1e-8)
			}
		}
	}
}

// The confidence limit at the bound is the limit itself.
func TestLimitAtTheBound(t *testing.T) {
	random := rand.New(rand.NewPCG(2026, 10))
	f, err := FitLines(study(random, 3, rising, 0.5, 0.6), pooling.CommonSlope)
	if err != nil || f.Status != Converged || f.Below == 0 {
		t.Fatal(err, f)
	}
	for batch := range 3 {
		life, err := f.Meets(batch, kinetics.Limit{Level: 4, Above: true}, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		at, err := f.Limit(batch, life.Bound, true, 0.95)
		if err != nil || math.Abs(at-4) > 1e-6 || !(life.Bound < life.Estimate) {
			t.Errorf("batch %d: the limit at %v is %v, %v", batch, life, at, err)
		}
	}
}

// Turned upside down, in another unit, counted from elsewhere: the same lives.
func TestInvariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		scale, shift := rapid.Float64Range(0.01, 100).Draw(t, "scale"), rapid.Float64Range(-100, 100).Draw(t, "shift")
		decision := rapid.SampledFrom([]pooling.Decision{pooling.Separate, pooling.CommonSlope, pooling.Pooled}).Draw(t, "decision")
		plain := study(random, 2, rising, 0.5, 0.5)
		turned := make([]Batch, len(plain))
		for i, b := range plain {
			for j := range b.X {
				side := b.Side[j]
				if side == Below {
					side = Above
				}
				turned[i].X, turned[i].Y, turned[i].Side = append(turned[i].X, b.X[j]), append(turned[i].Y, shift-scale*b.Y[j]), append(turned[i].Side, side)
			}
		}
		a, errA := FitLines(plain, decision)
		b, errB := FitLines(turned, decision)
		if errA != nil || errB != nil || a.Status != b.Status || a.Status == NotConverged {
			t.Fatal(errA, errB, a.Status, b.Status)
		}
		if a.Status != Converged {
			return
		}
		x, errA := a.Meets(1, kinetics.Limit{Level: 3, Above: true}, 0.95)
		y, errB := b.Meets(1, kinetics.Limit{Level: shift - 3*scale}, 0.95)
		near := func(x, y float64) bool { return x == y || math.Abs(x-y) <= 1e-5*x }
		if errA != nil || errB != nil || !near(x.Estimate, y.Estimate) || !near(x.Bound, y.Bound) {
			t.Fatalf("%+v %v, turned %+v %v", x, errA, y, errB)
		}
	})
}

func TestStatuses(t *testing.T) {
	batch := func(y []float64, side ...Side) Batch { return Batch{X: months[:len(y)], Y: y, Side: side} }
	four := batch([]float64{1, 2, 4, 3}, Exact, Exact, Exact, Exact)
	none := batch([]float64{5, 5, 5, 5}, Below, Below, Below, Below)
	for _, c := range []struct {
		name     string
		batches  []Batch
		decision pooling.Decision
		want     Status
	}{
		{"none exact", []Batch{none}, pooling.Separate, AllCensored},
		{"two exact", []Batch{batch([]float64{1, 1, 2, 3}, Below, Below, Exact, Exact)}, pooling.Separate, TooFewExact},
		{"three exact", []Batch{batch([]float64{1, 1, 1.5, 1.8, 3}, Below, Below, Exact, Exact, Exact)}, pooling.Separate, Converged},
		// The exact ones lie on 1 + 0.1·x; the censored ones agree, or do not.
		{"exact on a line, censored in agreement", []Batch{batch([]float64{1.2, 1.5, 1.6, 1.9, 2.2}, Below, Below, Exact, Exact, Exact)}, pooling.Separate, NoResidual},
		{"exact on a line, censored off it", []Batch{batch([]float64{0.7, 1.5, 1.6, 1.9, 2.2}, Below, Below, Exact, Exact, Exact)}, pooling.Separate, Converged},
		{"equal values", []Batch{batch([]float64{0.1, 0.1, 0.1, 0.1}, Exact, Exact, Exact, Exact)}, pooling.Separate, NoResidual},
		{"one batch censored", []Batch{four, none}, pooling.Separate, TooFewExact},
		{"one batch censored, slope in common", []Batch{four, none}, pooling.CommonSlope, TooFewExact},
		{"one batch censored, pooled", []Batch{four, none}, pooling.Pooled, Converged},
		{"exact at one time", []Batch{{X: []float64{0, 3, 3, 3}, Y: []float64{1, 2, 3, 4}, Side: []Side{Below, Exact, Exact, Exact}}}, pooling.Separate, TooFewExact},
	} {
		f, err := FitLines(c.batches, c.decision)
		if err != nil || f.Status != c.want {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
			continue
		}
		if _, err := f.Meets(0, kinetics.Limit{Level: 9, Above: true}, 0.95); (err == nil) != (c.want == Converged) {
			t.Errorf("%s: a life: %v", c.name, err)
		}
	}
	for name, b := range map[string][]Batch{
		"no batches":  nil,
		"no values":   {{}},
		"uneven":      {{X: []float64{1}, Y: []float64{1}}},
		"no number":   {batch([]float64{1, 2, math.NaN()}, Exact, Exact, Exact)},
		"a side of 7": {batch([]float64{1, 2, 3}, Exact, Exact, 7)},
	} {
		if f, err := FitLines(b, pooling.Separate); err == nil {
			t.Errorf("%s: %+v without an error", name, f)
		}
		if p, err := Pool(b, 0.25); err == nil {
			t.Errorf("%s: %+v without an error", name, p)
		}
	}
}

// Where a limit stands decides whether it is met at the start, some time or never.
func TestStartAndNever(t *testing.T) {
	random := rand.New(rand.NewPCG(2026, 11))
	f, err := FitLines(study(random, 3, rising, 0.2, 0.4), pooling.Pooled)
	if err != nil || f.Status != Converged {
		t.Fatal(err)
	}
	inf := math.Inf(1)
	for _, c := range []struct {
		limit kinetics.Limit
		want  Life
	}{
		{kinetics.Limit{Level: -1, Above: true}, Life{0, 0}},
		{kinetics.Limit{Level: -2}, Life{inf, inf}}, // it rises
		{kinetics.Limit{Level: inf, Above: true}, Life{inf, inf}},
		{kinetics.Limit{Level: -inf}, Life{inf, inf}},
	} {
		if life, err := f.Meets(0, c.limit, 0.95); err != nil || life != c.want {
			t.Errorf("%+v: %+v, %v, want %+v", c.limit, life, err, c.want)
		}
	}
	// A mean that rises, but not by more than its error: the lower limit is met
	// some time.
	flat := []Batch{{X: months, Y: []float64{5, 5.3, 4.8, 5.2, 4.9, 5.1, 5.15}, Side: make([]Side, 7)}}
	f, err = FitLines(flat, pooling.Separate)
	if err != nil {
		t.Fatal(err)
	}
	life, err := f.Meets(0, kinetics.Limit{Level: 4}, 0.95)
	if want := (kinetics.Limit{Level: 4}).MetBy(f.Lines[0], linear.StudentQuantile(0.95, 5)); err != nil || !math.IsInf(life.Estimate, 1) || math.Abs(life.Bound-want) > 1e-6*want {
		t.Errorf("flat: %+v, %v, want %v", life, err, want)
	}
}

// The bound at a nominal 95 % covers the true crossing, to within three standard
// errors of 1000 studies (2.1 %); Wald's with a normal quantile does not.
func TestCoverage(t *testing.T) {
	const studies = 1000
	for _, c := range []struct {
		name         string
		batches      int
		mean         func(float64) float64
		limit        kinetics.Limit
		life         float64
		quantitation float64
		low, plain   float64
	}{
		{"rising, a third censored", 3, rising, kinetics.Limit{Level: 3, Above: true}, 30, 0.6, 0.929, 0.94},
		{"rising, 60 % censored", 3, rising, kinetics.Limit{Level: 3, Above: true}, 30, 1.2, 0.929, 0.93},
		{"rising, one batch", 1, rising, kinetics.Limit{Level: 3, Above: true}, 30, 0.6, 0.929, 0.89},
		{"falling to the limit of quantitation", 3, func(x float64) float64 { return 3 - 0.1*x }, kinetics.Limit{Level: 1.5}, 15, 1.4, 0.929, 0.935},
	} {
		random := rand.New(rand.NewPCG(2026, 12))
		covered, plain, fitted := 0, 0, 0
		for range studies {
			f, err := FitLines(study(random, c.batches, c.mean, 0.5, c.quantitation), pooling.Pooled)
			if err != nil || f.Status == NotConverged {
				t.Fatal(err)
			}
			if f.Status != Converged {
				continue
			}
			fitted++
			life, err := f.Meets(0, c.limit, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			if life.Bound <= c.life {
				covered++
			}
			wald := f.Lines[0]
			wald.S = f.Sigma
			if c.limit.MetBy(wald, 1.6448536269514722) <= c.life {
				plain++
			}
		}
		if share := float64(covered) / float64(fitted); fitted < 900 || share < c.low {
			t.Errorf("%s: covers in %.3f of %d", c.name, share, fitted)
		}
		if share := float64(plain) / float64(fitted); share > c.plain {
			t.Errorf("%s: without degrees of freedom covers in %.3f", c.name, share)
		}
	}
}

// Three batches alike are found to differ at 0.25 about as often as that, and
// not less often where values are censored.
func TestPoolingRates(t *testing.T) {
	const studies = 1000 // three standard errors at 0.25: 0.041
	for _, c := range []struct{ quantitation, low, high float64 }{{math.Inf(-1), 0.209, 0.291}, {0, 0.209, 0.291}, {0.6, 0.209, 0.32}, {1.2, 0.25, 0.45}} {
		random := rand.New(rand.NewPCG(2026, 13))
		differ, tested := 0, 0
		for range studies {
			r, err := Pool(study(random, 3, rising, 0.5, c.quantitation), 0.25)
			if err != nil {
				t.Fatal(err)
			}
			if math.IsNaN(r.SlopesP) {
				continue
			}
			tested++
			if r.SlopesP < 0.25 {
				differ++
			}
		}
		if share := float64(differ) / float64(tested); tested < 800 || share < c.low || share > c.high {
			t.Errorf("limit of quantitation %v: slopes differ in %.3f of %d", c.quantitation, share, tested)
		}
	}
}

func FuzzTobit(f *testing.F) {
	seed := func(values ...float64) (b []byte) {
		for i, v := range values {
			b = append(b, byte(i%3))
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(float64(i/2)))
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		return b
	}
	f.Add(seed(1, 2, 4, 3, 5, 5, 6, 7, 4, 2, 1, 0, 3, 9), uint8(0), 8.0, true, 0.0)
	f.Add(seed(1, 2, 4, 3, 5, 5, 6, 7, 4, 2, 1, 0, 3, 9, 1, 1, 1, 1, 1, 1), uint8(1), 0.5, false, 0.9)
	f.Add(seed(7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7), uint8(1), 7.0, false, 1.0)
	f.Fuzz(func(t *testing.T, data []byte, count uint8, level float64, above bool, share float64) {
		if len(data) > 17*40 {
			return
		}
		batches := make([]Batch, 1+count%3)
		for i := 0; len(data) >= 17; i++ {
			b := &batches[i%len(batches)]
			b.Side = append(b.Side, Side(data[0]%3))
			b.X = append(b.X, math.Float64frombits(binary.LittleEndian.Uint64(data[1:])))
			b.Y = append(b.Y, math.Float64frombits(binary.LittleEndian.Uint64(data[9:])))
			data = data[17:]
		}
		r, err := Pool(batches, 0.25)
		if err != nil || r.Fit.Status != Converged {
			return
		}
		for i, line := range r.Fit.Lines {
			if math.IsNaN(line.Mean(1)) || math.IsNaN(line.SE(1)) || math.IsNaN(r.Fit.LogLikelihood) || !(r.Fit.Sigma > 0) {
				t.Fatalf("%+v", r.Fit)
			}
			life, err := r.Fit.Meets(i, kinetics.Limit{Level: level, Above: above, Share: share}, 0.95)
			if err != nil {
				continue
			}
			if !(life.Bound >= 0 && life.Bound <= life.Estimate) {
				t.Fatalf("%+v of %+v", life, line)
			}
			if limit, err := r.Fit.Limit(i, 1, above, 0.95); err == nil && math.IsNaN(limit) {
				t.Fatalf("limit %v, %+v %+v %v", limit, batches, line, r.Fit.Sigma)
			}
		}
	})
}

func BenchmarkPool(b *testing.B) {
	batches := study(rand.New(rand.NewPCG(1, 2)), 3, rising, 0.5, 0.6)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Pool(batches, 0.25); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMeets(b *testing.B) {
	f, err := FitLines(study(rand.New(rand.NewPCG(1, 2)), 3, rising, 0.5, 0.6), pooling.Pooled)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := f.Meets(0, kinetics.Limit{Level: 3, Above: true}, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}
