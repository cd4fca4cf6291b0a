package randombatch

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/noncentral"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/regression"
	"shelfspan/study/finding"
)

func below(level float64) []kinetics.Limit { return []kinetics.Limit{{Level: level}} }

// lines makes batches that lie on lines given by intercept and slope.
func lines(times []float64, ab ...[2]float64) (batches []pooling.Batch) {
	for _, l := range ab {
		b := pooling.Batch{X: times}
		for _, t := range times {
			b.Y = append(b.Y, l[0]+l[1]*t)
		}
		batches = append(batches, b)
	}
	return batches
}

func codes(warnings []finding.Warning) string {
	var all []string
	for _, w := range warnings {
		all = append(all, w.Code)
	}
	return strings.Join(all, " ")
}

// Lines without error are a sample: of 100, 102 and 104 at the start the mean is
// 102 and the standard deviation 2, and 95 % of batches are above 102 − 7.655·2
// at 95 % (Natrella, Experimental Statistics, 1963, table A-7; from memory).
func TestLinesWithoutError(t *testing.T) {
	in := Input{
		Batches: lines([]float64{0, 8, 16, 24}, [2]float64{100, -0.5}, [2]float64{102, -0.5}, [2]float64{104, -0.5}),
		Limits:  below(80), Coverage: 0.95, Confidence: 0.95,
	}
	out, warnings := Evaluate(in)
	if c := codes(warnings); !strings.Contains(c, "no-residual") || !strings.Contains(c, "few-batches") {
		t.Errorf("warnings %s", c)
	}
	f := out.Fit
	if f.ResidualSD != 0 || math.Abs(f.InterceptSD-2) > 1e-9 || f.SlopeSD > 1e-9 || f.InterceptDF != 2 || f.Rank != 1 {
		t.Errorf("fit %+v", f)
	}
	if out.Mean.DF != 2 || out.Paths.DF != 2 {
		t.Errorf("degrees of freedom %v and %v, want 2", out.Mean.DF, out.Paths.DF)
	}
	// t at 0.95 on 2 degrees of freedom is 2.919986 (any table).
	if want := (22 - 2.919986*2/math.Sqrt(3)) / 0.5; math.Abs(out.Mean.ShelfLife-want) > 1e-5 || math.Abs(out.Mean.Estimate-44) > 1e-9 {
		t.Errorf("life of the mean %+v, want %g", out.Mean, want)
	}
	if want := (22 - 7.655*2) / 0.5; math.Abs(out.Paths.ShelfLife-want) > 0.01 || math.Abs(out.Paths.Estimate-(22-1.6448536*2)/0.5) > 1e-5 {
		t.Errorf("life of paths %+v, want %g", out.Paths, want)
	}
	if b := out.At(10, false); math.Abs(b.PathBound-(97-7.655*2)) > 0.005 || math.Abs(b.Mean-97) > 1e-9 {
		t.Errorf("at 10 months %+v", b)
	}
}

// With no variation between batches the mean is that of pooled batches, N − 2
// degrees of freedom and all: the reduced model at the boundary.
func TestBoundaryIsPooledRegression(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	seen := 0
	for range 60 {
		in := Input{Batches: draw(random, alike(4), 0, 0), Limits: below(90), Coverage: 0.95, Confidence: 0.95}
		out, warnings := Evaluate(in)
		if out.Fit.Rank > 0 {
			continue
		}
		seen++
		var x, y []float64
		for _, b := range in.Batches {
			x, y = append(x, b.X...), append(y, b.Y...)
		}
		line, _, err := linear.Straight(x, y)
		if err != nil {
			t.Fatal(err)
		}
		want := line.CrossingBelow(90, linear.StudentQuantile(0.95, line.DF))
		if math.Abs(out.Mean.ShelfLife/want-1) > 1e-8 || math.Abs(out.Fit.SlopeDF-float64(len(x)-2)) > 1e-6 || math.Abs(out.Mean.DF-float64(len(x)-2)) > 1e-6 || math.Abs(out.Fit.ResidualSD/line.S-1) > 1e-9 {
			t.Errorf("life of the mean %v, pooled %v; slope on %v degrees of freedom", out.Mean.ShelfLife, want, out.Fit.SlopeDF)
		}
		if !math.IsNaN(out.Fit.Correlation) || !strings.Contains(codes(warnings), "no-batch-variation") {
			t.Errorf("correlation %v, warnings %s", out.Fit.Correlation, codes(warnings))
		}
		if !(out.Paths.ShelfLife < out.Mean.ShelfLife) {
			t.Errorf("life of paths %v, of the mean %v: nothing is allowed for what error may hide", out.Paths.ShelfLife, out.Mean.ShelfLife)
		}
	}
	if seen < 5 {
		t.Errorf("only %d of 60 fits without variation", seen)
	}
}

// Where batches have the same times and the fit is not singular, everything rests
// on their own lines: the mean of these, with m − 1 degrees of freedom.
func TestEqualTimesAreTwoStages(t *testing.T) {
	batches := draw(rand.New(rand.NewPCG(5, 6)), alike(7), 3, 0.2)
	f, err := REML(batches)
	if err != nil || f.Rank != 2 {
		t.Fatalf("%v, %+v", err, f)
	}
	for _, at := range []float64{0, 13, 40} {
		var paths []float64
		mean, square := 0.0, 0.0
		for _, b := range batches {
			line, _, err := linear.Straight(b.X, b.Y)
			if err != nil {
				t.Fatal(err)
			}
			paths = append(paths, line.Mean(at))
			mean += line.Mean(at) / 7
		}
		for _, p := range paths {
			square += (p - mean) * (p - mean)
		}
		got, se, df := f.Mean(at)
		if want := math.Sqrt(square / 6 / 7); math.Abs(got-mean) > 1e-9*100 || math.Abs(se/want-1) > 1e-7 || math.Abs(df-6) > 1e-5 {
			t.Errorf("at %g: mean %v ± %v on %v, want %v ± %v on 6", at, got, se, df, mean, want)
		}
	}
}

// As the error within batches vanishes the generalized limit becomes the
// noncentral t; whatever the error the distribution holds all probability, and
// finer steps change nothing.
func TestGeneralizedLimits(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	for _, m := range []int{2, 3, 6, 30} {
		d := newDesign(draw(random, alike(m), 1, 0.05))
		own := d.rss
		l, z := d.at(30), 1.6448536269514729
		d.rss = own * 1e-14
		f := d.newFuture(z)
		_ = f.below(l, 0)
		mean, sd := 0.0, 0.0
		for _, y := range f.estimates {
			mean += y / float64(m)
		}
		for _, y := range f.estimates {
			sd += (y - mean) * (y - mean) / float64(m-1)
		}
		sd = math.Sqrt(sd)
		k := noncentral.NewT(float64(m-1), z*math.Sqrt(float64(m))).Quantile(0.95) / math.Sqrt(float64(m))
		if got := f.below(l, mean-k*sd); math.Abs(got-0.05) > 1e-8 {
			t.Errorf("%d batches without error: probability %.10f beyond the noncentral t limit, want 0.05", m, got)
		}
		for _, part := range []float64{1e-6, 0.1, 1, 100} {
			d.rss = own * part
			f := d.newFuture(z)
			if all := f.below(l, 1e12); math.Abs(all-1) > 1e-8 {
				t.Errorf("%d batches, error %g: the distribution holds %.10f", m, part, all)
			}
			here := f.below(l, mean-sd)
			f.step /= 2
			f.s, f.weight = noncentral.ScaledChi(float64(m-1+d.freedom), 0.02)
			if fine := f.below(l, mean-sd); math.Abs(here-fine) > 1e-9 {
				t.Errorf("%d batches, error %g: probability %.12f, at half the steps %.12f", m, part, here, fine)
			}
		}
	}
}

func TestStatuses(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 10))
	five := draw(random, alike(5), 1, 0.05)
	one := pooling.Batch{X: []float64{6, 6}, Y: []float64{97, 98}}
	for _, c := range []struct {
		name    string
		batches []pooling.Batch
		limits  []kinetics.Limit
		status  regression.Status
		code    string
	}{
		{"fitted", five, below(80), regression.Fitted, "few-batches"},
		{"a batch without results", append(slices.Clone(five), pooling.Batch{}), below(80), regression.Fitted, "few-batches"},
		{"a batch with one time", append(slices.Clone(five), one), below(80), regression.Fitted, "batch-without-line"},
		{"no limit", five, nil, regression.NoCriterion, "few-batches"},
		{"no limit in the way", five, below(math.Inf(-1)), regression.NeverReached, "few-batches"},
		{"going away", lines(pulls, [2]float64{100, 0.5}, [2]float64{101, 0.52}, [2]float64{99, 0.51}), below(80), regression.NeverReached, "no-residual"},
		{"breached", five, below(99), regression.BreachedAtStart, "breached-at-start"},
		{"two batches", five[:2], below(-50), regression.Fitted, "few-batches"},
		{"one batch", five[:1], below(80), regression.TooFewTimes, "too-few-times"},
		{"nothing", nil, below(80), regression.TooFewTimes, "too-few-times"},
		{"two times", lines([]float64{0, 12}, [2]float64{100, 1}, [2]float64{101, 1}, [2]float64{102, 1}), below(80), regression.TooFewTimes, "too-few-times"},
		{"no error left", append(lines([]float64{0, 12}, [2]float64{100, 1}, [2]float64{101, 1}), lines([]float64{6, 12}, [2]float64{102, 1})...), below(80), regression.TooFewTimes, "too-few-times"},
		{"one line", append(slices.Clone(five[:1]), one, one), below(80), regression.TooFewTimes, "too-few-times"},
		{"no number", []pooling.Batch{five[0], {X: []float64{1}, Y: []float64{math.Inf(1)}}}, below(80), regression.NotFitted, "not-fitted"},
		{"times and results", []pooling.Batch{five[0], {X: []float64{1}}}, below(80), regression.NotFitted, "not-fitted"},
		{"equal values", lines(pulls, [2]float64{5, 0}, [2]float64{5, 0}, [2]float64{5, 0}), below(4), regression.NeverReached, "no-residual"},
		{"too many limits", five, make([]kinetics.Limit, 3), regression.NotFitted, "not-fitted"},
	} {
		out, warnings := Evaluate(Input{Batches: c.batches, Limits: c.limits, Coverage: 0.9, Confidence: 0.9})
		if out.Status != c.status || !strings.Contains(codes(warnings), c.code) {
			t.Errorf("%s: status %s with %s, want %s with %s", c.name, out.Status, codes(warnings), c.status, c.code)
		}
	}
	if out, _ := Evaluate(Input{Batches: five, Limits: below(80), Coverage: 1, Confidence: 0.9}); out.Status != regression.NotFitted {
		t.Errorf("coverage of 1: %s", out.Status)
	}
	if _, err := REML(five[:1]); err == nil {
		t.Error("one batch was fitted")
	}
	// χ² at 5 % on 2 degrees of freedom is −2·ln 0.95 = 0.10259: three batches know
	// their standard deviation to a factor of √(2/0.10259) = 4.4.
	_, warnings := Evaluate(Input{Batches: draw(random, alike(3), 1, 0.05), Coverage: 0.9, Confidence: 0.9})
	if w := warnings[0]; w.Code != "few-batches" || !strings.Contains(w.Text, "4.4 times") {
		t.Errorf("%v", warnings)
	}
}

// Two limits are each judged at half of what may go wrong, and a limit referred to
// the start at each batch's own.
func TestLimits(t *testing.T) {
	in := Input{Batches: draw(rand.New(rand.NewPCG(11, 12)), alike(6), 0.5, 0.03), Coverage: 0.9, Confidence: 0.9}
	in.Limits = append(below(80), kinetics.Limit{Level: 130, Above: true})
	two, _ := Evaluate(in)
	in.Limits, in.Coverage, in.Confidence = below(80), 0.95, 0.95
	single, _ := Evaluate(in)
	if two.Paths != single.Paths || two.Mean != single.Mean || two.Coverage != 0.95 || !(two.Paths.ShelfLife > 0) {
		t.Errorf("two limits %+v, one %+v", two.Paths, single.Paths)
	}
	// Every batch loses a hundredth of its start a month: all keep 90 % for ten.
	in = Input{Batches: lines(pulls, [2]float64{100, -1}, [2]float64{99, -0.99}, [2]float64{101, -1.01}), Limits: []kinetics.Limit{{Share: 0.9}}, Coverage: 0.95, Confidence: 0.95}
	out, _ := Evaluate(in)
	if math.Abs(out.Mean.Estimate-10) > 1e-9 || math.Abs(out.Paths.ShelfLife-10) > 1e-6 {
		t.Errorf("percent of the start: %+v, %+v, want 10", out.Mean, out.Paths)
	}
	in.Limits = []kinetics.Limit{{Share: 1, Level: -6}}
	if out, _ = Evaluate(in); math.Abs(out.Mean.Estimate-6.0) > 1e-9 {
		t.Errorf("change: %+v, want %g", out.Mean, 6.0)
	}
}

// Units, order and sign do not matter; asking for more shortens a life; bounds
// and lives agree.
func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		batches := anyStudy(t)
		level := rapid.Float64Range(70, 97).Draw(t, "level")
		in := Input{Batches: batches, Limits: below(level), Coverage: 0.95, Confidence: 0.95}
		out, _ := Evaluate(in)
		near := func(what string, a, b float64) {
			t.Helper()
			if !(a == b || math.Abs(a-b) <= 1e-5*math.Abs(b)) {
				t.Fatalf("%s: %v and %v", what, a, b)
			}
		}
		for _, life := range []Life{out.Mean, out.Paths} {
			if !(life.ShelfLife >= 0 && life.ShelfLife <= life.Estimate) {
				t.Fatalf("%+v", life)
			}
		}
		if out.Paths.ShelfLife > out.Mean.Estimate {
			t.Fatalf("paths %+v, mean %+v", out.Paths, out.Mean)
		}
		changed := in
		changed.Batches = nil
		for _, b := range batches {
			c := pooling.Batch{}
			for j := range b.X {
				c.X, c.Y = append(c.X, 30*b.X[j]), append(c.Y, -1000*(b.Y[j]-50))
			}
			changed.Batches = append(changed.Batches, c)
		}
		slices.Reverse(changed.Batches)
		changed.Limits = []kinetics.Limit{{Level: -1000 * (level - 50), Above: true}}
		other, _ := Evaluate(changed)
		near("life of the mean in other units", 30*out.Mean.ShelfLife, other.Mean.ShelfLife)
		near("life of paths in other units", 30*out.Paths.ShelfLife, other.Paths.ShelfLife)
		if out.Fit.Rank != other.Fit.Rank {
			t.Fatalf("ranks %d and %d", out.Fit.Rank, other.Fit.Rank)
		}
		more, surer := in, in
		more.Coverage, surer.Confidence = 0.99, 0.99
		a, _ := Evaluate(more)
		b, _ := Evaluate(surer)
		if a.Paths.ShelfLife > out.Paths.ShelfLife*(1+1e-9) || b.Paths.ShelfLife > out.Paths.ShelfLife*(1+1e-9) || b.Mean.ShelfLife > out.Mean.ShelfLife*(1+1e-9) {
			t.Fatalf("life %+v, with more coverage %+v, with more confidence %+v", out.Paths, a.Paths, b.Paths)
		}
		for _, x := range []struct{ life, bound, estimate float64 }{
			{out.Mean.ShelfLife, out.At(out.Mean.ShelfLife, false).MeanBound, out.Mean.Estimate},
			{out.Paths.ShelfLife, out.At(out.Paths.ShelfLife, false).PathBound, out.Paths.Estimate},
		} {
			if x.life > 0 && x.life < min(x.estimate, 1000) && math.Abs(x.bound-level) > 1e-6*(100+x.life) {
				t.Fatalf("the bound at %v is %v, the limit %v", x.life, x.bound, level)
			}
		}
	})
}

// Thirty batches of forty results.
func large() []pooling.Batch {
	times := make([][]float64, 30)
	for i := range times {
		for j := range 40 {
			times[i] = append(times[i], float64(j)*0.9)
		}
	}
	return draw(rand.New(rand.NewPCG(1, 2)), times, 1, 0.05)
}

func BenchmarkREML(b *testing.B) {
	batches := large()
	for b.Loop() {
		if _, err := REML(batches); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEvaluate(b *testing.B) {
	in := Input{Batches: large(), Limits: below(80), Coverage: 0.95, Confidence: 0.95}
	for b.Loop() {
		Evaluate(in)
	}
}
