package tolerance

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/regression"
)

func below(level float64) kinetics.Limit { return kinetics.Limit{Level: level} }

var at9595 = Level{Coverage: 0.95, Confidence: 0.95}

// With the mean of n units that do not change, h = 1/n, k is the tolerance
// factor of one sample.
func TestPublishedFactor(t *testing.T) {
	got := Level{Coverage: 0.9, Confidence: 0.99}.Factor(1.0/43, 42)
	if math.Abs(got-1.8740) > 5e-5 {
		t.Errorf("factor %.5f, want 1.8740 (NIST/SEMATECH e-Handbook 7.2.6.3)", got)
	}
	// A known mean leaves only the error of the standard deviation: z·√(ν/χ²),
	// with z = 1.644853627 and χ² at 5 % on 10 degrees of freedom 3.940299136 (R).
	if got, want := at9595.Factor(0, 10), 1.6448536269514729*math.Sqrt(10/3.940299136163226); math.Abs(got/want-1) > 1e-8 {
		t.Errorf("factor without leverage %.10f, want %.10f", got, want)
	}
	// Half of all units lie below the mean: Student's t, 1.812461123 on 10 (R).
	if got, want := (Level{0.5, 0.95}).Factor(0.25, 10), 1.8124611228116756*0.5; math.Abs(got/want-1) > 1e-9 {
		t.Errorf("factor of the median %.10f, want %.10f", got, want)
	}
}

func TestStatuses(t *testing.T) {
	x := []float64{0, 6, 12, 18, 24}
	batch := pooling.Batch{X: x, Y: []float64{100.2, 98.9, 97.9, 96.4, 95.6}}
	for _, c := range []struct {
		name   string
		in     Input
		status regression.Status
		code   string
	}{
		{"fitted", Input{Batches: []pooling.Batch{batch}, Limits: []kinetics.Limit{below(90)}}, regression.Fitted, "one-batch"},
		{"no limit", Input{Batches: []pooling.Batch{batch, {}}}, regression.NoCriterion, "one-batch"},
		{"no limit in the way", Input{Batches: []pooling.Batch{batch}, Limits: []kinetics.Limit{{Level: math.Inf(1), Above: true}}}, regression.NeverReached, "one-batch"},
		{"breached", Input{Batches: []pooling.Batch{batch}, Limits: []kinetics.Limit{below(100)}}, regression.BreachedAtStart, "breached-at-start"},
		{"two times", Input{Batches: []pooling.Batch{{X: []float64{0, 0, 3, 3}, Y: []float64{1, 2, 3, 4}}}, Limits: []kinetics.Limit{below(0)}}, regression.TooFewTimes, "too-few-times"},
		{"nothing", Input{Limits: []kinetics.Limit{below(0)}}, regression.TooFewTimes, "too-few-times"},
		{"one value too few", Input{Batches: []pooling.Batch{{X: x, Y: x[:4]}}}, regression.NotFitted, "not-fitted"},
		{"no number", Input{Batches: []pooling.Batch{{X: x, Y: []float64{1, 2, math.NaN(), 4, 5}}}}, regression.NotFitted, "not-fitted"},
		{"before the start", Input{Batches: []pooling.Batch{{X: []float64{-1, 2, 3}, Y: x[:3]}}}, regression.NotFitted, "not-fitted"},
		{"equal values", Input{Batches: []pooling.Batch{{X: x, Y: []float64{5, 5, 5, 5, 5}}}, Limits: []kinetics.Limit{below(4)}}, regression.NeverReached, "no-residual"},
		{"without residual", Input{Batches: []pooling.Batch{{X: x, Y: []float64{96, 90, 84, 78, 72}}}, Limits: []kinetics.Limit{below(60)}}, regression.Fitted, "no-residual"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.in.Alpha, c.in.Level = 0.25, at9595
			out, warnings := Evaluate(c.in)
			var codes []string
			for _, w := range warnings {
				codes = append(codes, w.Code)
			}
			if out.Status != c.status || !strings.Contains(strings.Join(codes, " "), c.code) {
				t.Errorf("status %s with %v, want %s with %s", out.Status, codes, c.status, c.code)
			}
			if c.name == "without residual" && math.Abs(out.ShelfLife-36) > 1e-9 {
				t.Errorf("96 − t meets 60 at %g, want 36", out.ShelfLife)
			}
		})
	}
	if out, _ := Evaluate(Input{Batches: []pooling.Batch{batch}, Alpha: 0.25, Level: Level{1, 0.95}}); out.Status != regression.NotFitted {
		t.Errorf("coverage of 1: %s", out.Status)
	}
}

// Two limits are each judged at half of what may go wrong.
func TestTwoLimits(t *testing.T) {
	in := Input{
		Batches: []pooling.Batch{{X: []float64{0, 6, 12, 18, 24}, Y: []float64{100.2, 98.9, 97.9, 96.4, 95.6}}},
		Limits:  []kinetics.Limit{below(90), {Level: 110, Above: true}}, Alpha: 0.25, Level: at9595,
	}
	two, _ := Evaluate(in)
	in.Limits, in.Level = in.Limits[:1], Level{0.975, 0.975}
	one, _ := Evaluate(in)
	if two.ShelfLife != one.ShelfLife || two.Fits[0].LimitedBy != 0 || !(two.ShelfLife > 0) {
		t.Errorf("with two limits %+v, at half of the risks with the lower alone %+v", two, one)
	}
}

// The share of studies in which at least 95 % of units stay within the limit
// until the shelf life is the confidence stated, exactly where one batch leaves
// nothing to choose: units 100 − 0.4 t with standard deviation 1 have their 5 %
// quantile at 88 after (100 − 1.645 − 88)/0.4 months. Three standard errors of a
// binomial share are allowed.
func TestCoverage(t *testing.T) {
	const studies = 1000
	z95 := 1.6448536269514729
	for _, c := range []struct {
		name       string
		level      Level
		limit      kinetics.Limit
		slope      float64
		repeat     int
		confidence float64
	}{
		{"lower", Level{0.95, 0.95}, below(88), -0.4, 1, 0.95},
		{"lower, three a pull", Level{0.95, 0.95}, below(88), -0.4, 3, 0.95},
		{"upper at 99 %", Level{0.95, 0.99}, kinetics.Limit{Level: 112, Above: true}, 0.4, 1, 0.99},
		{"at 90 %", Level{0.95, 0.9}, below(88), -0.4, 1, 0.9},
		{"percent of the start", Level{0.95, 0.95}, kinetics.Limit{Share: 0.88}, -0.4, 1, 0.95},
	} {
		t.Run(c.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(2026, 5))
			truth := (12 - z95) / 0.4 // also where y − 0.88·100 less z meets zero
			covered := 0
			for range studies {
				var b pooling.Batch
				for _, months := range []float64{0, 3, 6, 9, 12, 18, 24} {
					for range c.repeat {
						b.X, b.Y = append(b.X, months), append(b.Y, 100+c.slope*months+random.NormFloat64())
					}
				}
				out, _ := Evaluate(Input{Batches: []pooling.Batch{b}, Limits: []kinetics.Limit{c.limit}, Alpha: 0.25, Level: c.level})
				if out.ShelfLife <= truth {
					covered++
				}
			}
			share := float64(covered) / studies
			if allowed := 3 * math.Sqrt(c.confidence*(1-c.confidence)/studies); math.Abs(share-c.confidence) > allowed {
				t.Errorf("covers in %.4f of the studies, want %.4f ± %.4f", share, c.confidence, allowed)
			}
		})
	}
}

// Whatever the line, asking for more never lengthens the life; it is no longer
// than by the mean alone; a mirrored attribute has the same one; and what is left
// to the limit is concave in time, on which the search rests.
func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := linear.Line{
			Centre: rapid.Float64Range(1, 30).Draw(t, "centre"),
			Level:  rapid.Float64Range(91, 110).Draw(t, "level"),
			Slope:  rapid.Float64Range(-1, 0.5).Draw(t, "slope"),
			S:      math.Exp(rapid.Float64Range(-4, 2).Draw(t, "log s")),
			DF:     rapid.IntRange(2, 60).Draw(t, "df"),
		}
		line.LevelVar = rapid.Float64Range(0.01, 1).Draw(t, "level's variance")
		line.SlopeVar = rapid.Float64Range(1e-5, 0.05).Draw(t, "slope's variance")
		line.Cov = rapid.Float64Range(-0.9, 0.9).Draw(t, "correlation") * math.Sqrt(line.LevelVar*line.SlopeVar)
		level := Level{rapid.Float64Range(0.5, 0.999).Draw(t, "coverage"), rapid.Float64Range(0.7, 0.999).Draw(t, "confidence")}
		life := level.MetBy(line, below(90))
		mean := line.CrossingBelow(90, linear.StudentQuantile(level.Confidence, line.DF))
		if !(life >= 0 && life <= mean*(1+1e-9)) {
			t.Fatalf("life %v, by the mean alone %v", life, mean)
		}
		if estimate := level.EstimateMetBy(line, below(90)); !(life <= estimate*(1+1e-9)) && level.Confidence > 0.9 {
			t.Fatalf("life %v, estimate %v", life, estimate)
		}
		more := Level{(1 + level.Coverage) / 2, level.Confidence}
		surer := Level{level.Coverage, (1 + level.Confidence) / 2}
		if a, b := more.MetBy(line, below(90)), surer.MetBy(line, below(90)); a > life*(1+1e-9) || b > life*(1+1e-9) {
			t.Fatalf("life %v, with more coverage %v, with more confidence %v", life, a, b)
		}
		mirrored := line
		mirrored.Level, mirrored.Slope = -line.Level, -line.Slope
		if m := level.MetBy(mirrored, kinetics.Limit{Level: -90, Above: true}); m != life {
			t.Fatalf("life %v, mirrored %v", life, m)
		}
		if life > 0 && !math.IsInf(life, 1) {
			if lower, _ := level.Limits(line, life); math.Abs(lower-90) > 1e-6*line.S+1e-9 {
				t.Fatalf("the limit at %v is %v", life, lower)
			}
		}
		x, step := rapid.Float64Range(0, 100).Draw(t, "x"), rapid.Float64Range(0.5, 50).Draw(t, "step")
		a, _ := level.Limits(line, x)
		b, _ := level.Limits(line, x+step)
		c, _ := level.Limits(line, x+2*step)
		if bend := a - 2*b + c; bend > 1e-9*(math.Abs(a)+math.Abs(c)) {
			t.Fatalf("not concave at %v by %v: bend %v", x, step, bend)
		}
	})
}

// Whatever the numbers, an evaluation ends with a status and no NaN.
func FuzzEvaluate(f *testing.F) {
	seed := func(values ...float64) (b []byte) {
		for i, v := range values {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(3*float64(i/2)))
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		return b
	}
	f.Add(seed(100, 101, 99, 98.5, 97, 98, 96, 95.5), uint8(1), 90.0, 0.0, 0.95, 0.95)
	f.Add(seed(5, 5, 5, 5, 5, 5, 5, 5), uint8(0), 4.0, 0.0, 0.9, 0.99)
	f.Add(seed(5, 6, 5, 6), uint8(0), 4.0, 1.0, 0.9, 0.99)
	f.Add(seed(1e60, -1e60, 1e-60, 0, 1e60, 2, 3, 4), uint8(0), 0.0, 0.5, 0.5, 0.5)
	f.Add(seed(1e-300, 1e300, 1, 0, -1e300, 2, 3, 4), uint8(2), 0.0, 0.0, 0.999999999, 0.999999999)
	f.Fuzz(func(t *testing.T, data []byte, batches uint8, level, share, coverage, confidence float64) {
		if len(data) > 16*100 {
			return
		}
		in := Input{
			Batches: make([]pooling.Batch, 1+batches%4), Alpha: 0.25, Level: Level{coverage, confidence},
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
		case regression.NotFitted, regression.TooFewTimes:
			if len(warnings) == 0 || len(out.Fits) > 0 {
				t.Fatalf("%s with warnings %v and %d fits", out.Status, warnings, len(out.Fits))
			}
			return
		}
		if !(out.ShelfLife >= 0) || !(out.Estimate >= 0) {
			t.Fatalf("%+v", out)
		}
		for i, fit := range out.Fits {
			lower, upper := out.PerSide.Limits(out.Pooling.Lines[i], 12)
			if !(fit.ShelfLife >= 0) || !(fit.Estimate >= 0) || math.IsNaN(lower) || math.IsNaN(upper) {
				t.Fatalf("%+v: limits %v, %v", fit, lower, upper)
			}
		}
	})
}

func BenchmarkMetBy(b *testing.B) {
	line := linear.Line{Centre: 10, Level: 97, Slope: -0.4, LevelVar: 1.0 / 21, SlopeVar: 1.0 / 1400, S: 0.7, DF: 19}
	for b.Loop() {
		at9595.MetBy(line, below(90))
	}
}
