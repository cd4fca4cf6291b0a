package turnbull

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/censored"
	"shelfspan/testdata/reference"
)

var inf = math.Inf(1)

// of is an interval: after, by, units.
type of [3]float64

func known(list ...of) []censored.Interval {
	var out []censored.Interval
	for _, x := range list {
		out = append(out, censored.Interval{After: x[0], By: x[1], Units: x[2]})
	}
	return out
}

// Against Turnbull's self-consistency run in R until nothing moves, and survfit
// of the package survival 3.5-3 with its tolerance at 1e-12 (R 4.2.2; script, data and
// output in testdata/reference/turnbull). The turbine wheels are those of Nelson,
// Applied Life Data Analysis, 1982.
func TestReference(t *testing.T) {
	data := map[string][]censored.Interval{}
	for _, r := range reference.Rows(t, "turnbull/intervals.csv") {
		data[r[0]] = append(data[r[0]], censored.Interval{After: reference.Number(t, r[1]), By: reference.Number(t, r[2]), Units: reference.Number(t, r[3])})
	}
	got := map[string]*Result{}
	for name, x := range data {
		r, err := Estimate(x)
		if err != nil {
			t.Fatal(name, err)
		}
		if !r.Converged {
			t.Errorf("%s: converged %v, gap %v", name, r.Converged, r.Gap)
		}
		t.Logf("%s: %d jumps, %d steps, gap %.1e", name, len(r.Jumps), r.Iterations, r.Gap)
		got[name] = r
	}
	jumps := map[string]int{}
	for _, row := range reference.Rows(t, "turnbull/turnbull.csv") {
		r, want := got[row[0]], reference.Number(t, row[4])
		if row[1] == "loglik" {
			if math.Abs(r.LogLikelihood/want-1) > 1e-10 {
				t.Errorf("%s: log-likelihood %.12g, R has %.12g", row[0], r.LogLikelihood, want)
			}
			continue
		}
		after, by := reference.Number(t, row[2]), reference.Number(t, row[3])
		sum, share := 0.0, math.NaN()
		for _, j := range r.Jumps {
			if j.By <= by {
				sum += j.Share
			}
			if j.After == after && j.By == by {
				share = j.Share
			}
		}
		switch row[1] {
		case "share":
			jumps[row[0]]++
			if !(math.Abs(share-want) <= 1e-9) {
				t.Errorf("%s: share between %v and %v is %.12g, R has %.12g", row[0], after, by, share, want)
			}
		case "survfit":
			if !(math.Abs(1-sum-want) <= 2e-6) { // its steps get short long before it is there
				t.Errorf("%s: survival after %v is %.12g, survfit has %.12g", row[0], by, 1-sum, want)
			}
		}
	}
	for name, n := range jumps {
		if len(got[name].Jumps) != n {
			t.Errorf("%s: %d jumps, R has %d", name, len(got[name].Jumps), n)
		}
	}
}

// By hand: failed 0 of 4 at 3 months, 2 of 4 at 6, 1 of 4 at 9, 4 of 4 at 12. The
// shares 0, 1/2, 1/4, 1 have to rise: 1/2 and 1/4 are pooled to 3/8.
func TestCurrentStatusByHand(t *testing.T) {
	r, err := Estimate([]censored.Interval{
		{After: 3, By: inf, Units: 4}, {After: 0, By: 6, Units: 2}, {After: 6, By: inf, Units: 2},
		{After: 0, By: 9, Units: 1}, {After: 9, By: inf, Units: 3}, {After: 0, By: 12, Units: 4},
	})
	if err != nil || !r.Converged || len(r.Jumps) != 2 {
		t.Fatalf("%+v, %v", r, err)
	}
	for k, want := range []Jump{{3, 6, 3. / 8}, {9, 12, 5. / 8}} {
		if j := r.Jumps[k]; j.After != want.After || j.By != want.By || math.Abs(j.Share-want.Share) > 1e-12 {
			t.Errorf("jump %d is %+v, want %+v", k, j, want)
		}
	}
	// 4 ln 1 + 3 ln(3/8) + 5 ln(5/8) + 4 ln 1.
	if want := 3*math.Log(3./8) + 5*math.Log(5./8); math.Abs(r.LogLikelihood-want) > 1e-12 {
		t.Errorf("log-likelihood %v, want %v", r.LogLikelihood, want)
	}
	for _, c := range []struct{ share, after, by float64 }{{0.05, 3, 6}, {0.375, 3, 6}, {0.38, 9, 12}, {1, 9, 12}} {
		if after, by := r.Failed(c.share); after != c.after || by != c.by {
			t.Errorf("a share of %v by (%v, %v], want (%v, %v]", c.share, after, by, c.after, c.by)
		}
	}
}

// Kaplan and Meier's estimate by hand: failed at 2, lost at 3, failed at 4, on
// hand at 5: shares 1/4 at 2, 3/4·1/2 = 3/8 at 4, 3/8 beyond 5.
func TestKaplanMeierByHand(t *testing.T) {
	r, err := Estimate(known(of{2, 2, 1}, of{3, inf, 1}, of{4, 4, 1}, of{5, inf, 1}))
	if err != nil || !r.Converged || len(r.Jumps) != 3 {
		t.Fatalf("%+v, %v", r, err)
	}
	for k, want := range []Jump{{2, 2, 0.25}, {4, 4, 0.375}, {5, inf, 0.375}} {
		if j := r.Jumps[k]; j.After != want.After || j.By != want.By || math.Abs(j.Share-want.Share) > 1e-12 {
			t.Errorf("jump %d is %+v, want %+v", k, j, want)
		}
	}
	if after, by := r.Failed(0.7); after != 5 || by != inf {
		t.Errorf("70 %% by (%v, %v]", after, by)
	}
}

func TestBoundaries(t *testing.T) {
	for _, c := range []struct {
		name string
		data []censored.Interval
		want []Jump
	}{
		{"none failed", known(of{3, inf, 2}, of{6, inf, 5}), []Jump{{6, inf, 1}}},
		{"all failed at the first look", known(of{0, 3, 2}, of{0, 6, 5}), []Jump{{0, 3, 1}}},
		{"failed before storage", known(of{0, 0, 1}, of{6, inf, 3}), []Jump{{0, 0, 0.25}, {6, inf, 0.75}}},
		{"an interval that ends where the next begins", known(of{3, 6, 1}, of{6, 9, 3}), []Jump{{3, 6, 0.25}, {6, 9, 0.75}}},
		{"a point at the end of an interval lies in it", known(of{3, 6, 1}, of{6, 6, 3}), []Jump{{6, 6, 1}}},
		{"a point at the start of an interval does not", known(of{6, 9, 1}, of{6, 6, 3}), []Jump{{6, 6, 0.75}, {6, 9, 0.25}}},
	} {
		r, err := Estimate(append(c.data, censored.Interval{After: 0, By: inf, Units: 7}))
		if err != nil || !r.Converged || r.Unknown != 7 || len(r.Jumps) != len(c.want) {
			t.Errorf("%s: %+v, %v", c.name, r, err)
			continue
		}
		for k, want := range c.want {
			if j := r.Jumps[k]; j.After != want.After || j.By != want.By || math.Abs(j.Share-want.Share) > 1e-12 {
				t.Errorf("%s: jump %d is %+v, want %+v", c.name, k, j, want)
			}
		}
	}
}

func TestRefuses(t *testing.T) {
	if _, err := Estimate(nil); !errors.Is(err, ErrNothingKnown) {
		t.Error(err)
	}
	if _, err := Estimate(known(of{0, inf, 3})); !errors.Is(err, ErrNothingKnown) {
		t.Error(err)
	}
	for _, x := range known(of{4, 3, 1}, of{-1, 3, 1}, of{math.NaN(), 3, 1}, of{0, 3, 0}) {
		if _, err := Estimate(append(known(of{1, 2, 1}), x)); err == nil {
			t.Errorf("%v is taken", x)
		}
	}
}

// Of units that are looked at once the estimate is the isotonic regression of
// the shares failed (Ayer et al., Ann. Math. Stat. 26, 1955, 641–647): pool what
// does not rise.
func TestCurrentStatusIsIsotonic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 15).Draw(t, "looks")
		var data []censored.Interval
		type block struct{ failed, units, looks float64 }
		var blocks []block
		for k := range n {
			at := float64(k + 1)
			failed, good := rapid.IntRange(0, 5).Draw(t, "failed"), rapid.IntRange(0, 5).Draw(t, "good")
			if failed+good == 0 {
				good = 1
			}
			if failed > 0 {
				data = append(data, censored.Interval{After: 0, By: at, Units: float64(failed)})
			}
			if good > 0 {
				data = append(data, censored.Interval{After: at, By: inf, Units: float64(good)})
			}
			blocks = append(blocks, block{float64(failed), float64(failed + good), 1})
			for m := len(blocks); m > 1 && blocks[m-2].failed*blocks[m-1].units >= blocks[m-1].failed*blocks[m-2].units; m = len(blocks) {
				a, b := blocks[m-2], blocks[m-1]
				blocks = append(blocks[:m-2], block{a.failed + b.failed, a.units + b.units, a.looks + b.looks})
			}
		}
		r, err := Estimate(data)
		if err != nil || !r.Converged {
			t.Fatalf("%+v, %v", r, err)
		}
		at := 0.0
		for _, b := range blocks {
			for range int(b.looks) {
				at++
				sum := 0.0
				for _, j := range r.Jumps {
					if j.By <= at {
						sum += j.Share
					}
				}
				if math.Abs(sum-b.failed/b.units) > 1e-7 {
					t.Fatalf("failed by %v: %v, want %v", at, sum, b.failed/b.units)
				}
			}
		}
	})
}

// Whatever the intervals: an answer without NaN, shares that add up to 1, and
// no other distribution that is likelier by more than the gap says.
func FuzzEstimate(f *testing.F) {
	f.Add([]byte{0, 3, 1, 3, 3, 2, 6, 255, 1})
	f.Add([]byte{0, 0, 1, 3, 0, 2, 2, 3, 254, 1, 3, 255})
	f.Add([]byte{1, 3, 1, 0, 2, 1, 3, 3, 1, 5, 3, 1, 7, 255, 1, 2, 5, 1})
	f.Fuzz(func(t *testing.T, b []byte) {
		// Three bytes an interval: from when, how wide, how many units.
		var data []censored.Interval
		for ; len(b) >= 3 && len(data) < 100; b = b[3:] {
			x := censored.Interval{After: float64(b[0]) / 4, Units: float64(b[2])}
			x.By = x.After + float64(b[1])/4
			if b[1] == 255 {
				x.By = inf
			}
			switch b[2] {
			case 254:
				x.Units = censored.MostUnits
			case 255:
				x.Units = censored.LeastUnits
			}
			data = append(data, x)
		}
		r, err := Estimate(data)
		if err != nil {
			return
		}
		sum := 0.0
		for _, j := range r.Jumps {
			sum += j.Share
			if !(j.Share > 0 && j.Share <= 1+1e-9) || !(j.After <= j.By) {
				t.Fatalf("%+v", r)
			}
		}
		if math.Abs(sum-1) > 1e-9 || math.IsNaN(r.LogLikelihood) || math.IsInf(r.LogLikelihood, 0) || !(r.Gap >= 0) || !r.Converged {
			t.Fatalf("%v of %+v", r, data)
		}
	})
}

// The elements of a tree of sums against loops, and of an envelope's solution
// against the equations themselves.
func TestSumsAndEnvelope(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 20).Draw(t, "cells")
		s := newSums(n)
		values := rapid.SliceOfN(rapid.Float64Range(0, 1), n, n).Draw(t, "values")
		s.set(values)
		from := rapid.IntRange(0, n).Draw(t, "from")
		to := rapid.IntRange(from, n).Draw(t, "to")
		want := 0.0
		for _, v := range values[from:to] {
			want += v
		}
		if got := s.over(from, to); math.Abs(got-want) > 1e-13 {
			t.Fatalf("%v from %d to %d: %v, want %v", values, from, to, got, want)
		}
		s.clear()
		got := make([]float64, n)
		s.add(from, to, 2)
		s.add(0, to, 1)
		s.spread(got)
		for j, v := range got {
			want := 0.0
			if j < to {
				want = 1
				if j >= from {
					want = 3
				}
			}
			if v != want {
				t.Fatalf("cell %d has %v, want %v, of 2 from %d to %d and 1 up to there", j, v, want, from, to)
			}
		}

		first := make([]int, n)
		for b := range first {
			first[b] = rapid.IntRange(0, b).Draw(t, "first")
		}
		m := newEnvelope(first)
		full := make([][]float64, n)
		for b := range full {
			full[b] = make([]float64, n)
			for a := first[b]; a <= b; a++ {
				v := rapid.Float64Range(-1, 1).Draw(t, "element")
				if a == b {
					v += 30 // the diagonal dominates
				}
				*m.at(b, a), full[b][a], full[a][b] = v, v, v
			}
		}
		x := append([]float64(nil), values...)
		if !m.factorize(0) {
			t.Fatalf("no factor of %v", full)
		}
		m.solve(x)
		for b, row := range full {
			sum := 0.0
			for a, v := range row {
				sum += v * x[a]
			}
			if math.Abs(sum-values[b]) > 1e-12 {
				t.Fatalf("row %d of %v times %v is %v, want %v", b, full, x, sum, values[b])
			}
		}
	})
}

// A matrix that is not positive definite has no factor: of two shares that only
// enter together the second row is the first.
func TestNoFactor(t *testing.T) {
	m := newEnvelope([]int{0, 0})
	*m.at(0, 0), *m.at(1, 0), *m.at(1, 1) = 1, 1, 1
	if m.factorize(0) {
		t.Error("a singular matrix has a factor")
	}
	if !m.factorize(1e-6) {
		t.Error("with a greater diagonal it has none")
	}
}

// byDay is units whose looks and failures are on days of three years: opened once,
// put back every 90 days from a day of their own, watched, and known between any two
// days.
func byDay(units int) map[string][]censored.Interval {
	random := rand.New(rand.NewPCG(3, 4))
	data := make(map[string][]censored.Interval)
	put := func(name string, after, by float64) {
		data[name] = append(data[name], censored.Interval{After: max(0, after), By: by, Units: 1})
	}
	for range units {
		life, at := math.Ceil(365*math.Exp(0.6*random.NormFloat64())), math.Ceil(1100*random.Float64())
		if life > at {
			put("opened", at, inf)
			put("watched", at, inf)
		} else {
			put("opened", 0, at)
			put("watched", life, life)
		}
		own := math.Floor(90 * random.Float64())
		if look := own + 90*math.Floor((life-own)/90); look > 1000 {
			put("returned", own+990, inf)
		} else {
			put("returned", look, look+90)
		}
		put("between", math.Floor(life*random.Float64()), life+math.Ceil(life*random.Float64()))
	}
	return data
}

// The gradient by cell, added up plainly, tells whether an estimate of many units is
// the greatest: nowhere above the units, and equal to them where there is a share.
func TestManyUnits(t *testing.T) {
	for name, data := range byDay(3000) {
		r, err := Estimate(data)
		if err != nil || !r.Converged || r.Iterations > 40 {
			t.Fatal(name, r, err)
		}
		gradient := func(after, by float64) float64 {
			sum := 0.0
			for _, x := range data {
				if p := within(r, x); after >= x.After && by <= x.By && (after > x.After || by > after || x.After == x.By) {
					sum += x.Units / p
				}
			}
			return sum / r.Units
		}
		for _, j := range r.Jumps {
			if g := gradient(j.After, j.By); math.Abs(g-1) > 1e-8 {
				t.Errorf("%s: gradient %v in (%v, %v], with a share of %v", name, g, j.After, j.By, j.Share)
			}
		}
		for _, c := range innermost(data) {
			if g := gradient(c.after, c.by); g > 1+1e-8 {
				t.Errorf("%s: gradient %v in (%v, %v]", name, g, c.after, c.by)
			}
		}
	}
}

// within is the share of the lifetimes in an interval.
func within(r *Result, x censored.Interval) float64 {
	sum := 0.0
	for _, j := range r.Jumps {
		if j.After >= x.After && j.By <= x.By && (j.After > x.After || j.By > j.After || x.After == x.By) {
			sum += j.Share
		}
	}
	return sum
}

func BenchmarkEstimate(b *testing.B) {
	random := rand.New(rand.NewPCG(3, 4))
	opened, returned, watched := make([]censored.Interval, 1000), make([]censored.Interval, 1000), make([]censored.Interval, 1000)
	for i := range opened {
		life, at := math.Exp(2+0.6*random.NormFloat64()), 1+19*random.Float64()
		opened[i] = censored.Interval{After: 0, By: at, Units: 1}
		if life > at {
			opened[i] = censored.Interval{After: at, By: inf, Units: 1}
		}
		look := 3 * math.Floor(life/3)
		returned[i] = censored.Interval{After: look, By: look + 3, Units: 1}
		watched[i] = censored.Interval{After: min(life, at), By: life, Units: 1}
		if life > at {
			watched[i].By = inf
		}
	}
	for _, c := range []struct {
		name string
		data []censored.Interval
	}{{"1,000 opened once, each at a time of its own", opened}, {"1,000 returned", returned}, {"1,000 watched", watched}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if r, err := Estimate(c.data); err != nil || !r.Converged {
					b.Fatal(r, err)
				}
			}
		})
	}
}

func BenchmarkEstimateByDay(b *testing.B) {
	for name, data := range byDay(19800) {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if r, err := Estimate(data); err != nil || !r.Converged {
					b.Fatal(r, err)
				}
			}
		})
	}
}
