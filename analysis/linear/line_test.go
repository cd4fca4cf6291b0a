package linear

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// By hand. With S = 0 the bound is the mean: 100 − 0.5x meets 90 at 20 and
// never meets 110. With Centre 0, LevelVar 0, SlopeVar 1, S 1, q 1 the lower bound of
// 10 + 3x is 10 + 2x, of 10 + 0.5x is 10 − 0.5x, of 10 − 3x is 10 − 4x.
func TestCrossingByHand(t *testing.T) {
	exact := Line{Centre: 6, Level: 97, Slope: -0.5, LevelVar: 0.25, SlopeVar: 0.01}
	cone := func(slope float64) Line { return Line{Level: 10, Slope: slope, SlopeVar: 1, S: 1} }
	inf := math.Inf(1)
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"mean falls to the limit", exact.CrossingBelow(90, 2), 20},
		{"mean never rises to the limit", exact.CrossingAbove(110, 2), inf},
		{"no limit", exact.CrossingBelow(-inf, 2), inf},
		{"breached at the start", exact.CrossingBelow(101, 2), 0},
		{"met at the start", exact.CrossingBelow(100, 2), 0},
		{"a significant rise never meets a lower limit", cone(3).CrossingBelow(0, 1), inf},
		{"nor one just significant", cone(1).CrossingBelow(0, 1), inf},
		{"a rise that is not significant does", cone(0.5).CrossingBelow(0, 1), 20},
		{"a level line does", cone(0).CrossingBelow(0, 1), 10},
		{"a fall the sooner", cone(-3).CrossingBelow(0, 1), 2.5},
		{"a fall as large as its error", cone(-1).CrossingBelow(0, 1), 5},
		{"the mean alone", cone(-1).CrossingBelow(0, 0), 10},
		{"a level mean never", cone(0).CrossingBelow(0, 0), inf},
		{"upper limit of a fall that is not significant", cone(-0.5).CrossingAbove(20, 1), 20},
		// (s − m)·x = d with s a hair above m: no digit may cancel.
		{"a rise all but significant", Line{Level: 3.3, Slope: 1, SlopeVar: 1, S: 1}.CrossingBelow(0, 1+0x1p-40), 3.3 * 0x1p40},
		{"departure from the initial value", Line{Centre: 6, Level: 3, Slope: -2, SlopeVar: 1, LevelVar: 5, S: 1}.Departure().CrossingBelow(-12, 1), 4},
		// 100 − x against 0.9 of its 100: 10 − x.
		{"a tenth of the initial value lost", Line{Centre: 7, Level: 93, Slope: -1}.AgainstInitial(0.9).CrossingBelow(0, 3), 10},
		{"a tenth gained", Line{Centre: 7, Level: 107, Slope: 1}.AgainstInitial(1.1).CrossingAbove(0, 3), 10},
	} {
		if c.got != c.want && !(math.Abs(c.got-c.want) <= 1e-12*c.want) {
			t.Errorf("%s: %.15g, want %g", c.name, c.got, c.want)
		}
	}
}

// The bound is beyond the limit just after the crossing, inside it just before,
// and where no crossing is found it is still inside far out.
func TestCrossingHasTheSignsOfACrossing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Line{
			Centre:   rapid.Float64Range(0, 60).Draw(t, "centre"),
			Level:    rapid.Float64Range(-100, 100).Draw(t, "level"),
			Slope:    rapid.Float64Range(-3, 3).Draw(t, "slope"),
			LevelVar: rapid.Float64Range(0, 1).Draw(t, "level variance"),
			SlopeVar: rapid.Float64Range(0, 0.1).Draw(t, "slope variance"),
			S:        math.Exp(rapid.Float64Range(-10, 3).Draw(t, "ln S")),
		}
		q := rapid.Float64Range(0, 7).Draw(t, "q")
		// Squares of anything smaller leave the range of a float64.
		for _, v := range []*float64{&l.Slope, &l.Level, &l.LevelVar, &l.SlopeVar, &q} {
			if math.Abs(*v) < 1e-60 {
				*v = 0
			}
		}
		l.Cov = rapid.Float64Range(-1, 1).Draw(t, "correlation") * math.Sqrt(l.LevelVar*l.SlopeVar)
		limit := rapid.Float64Range(-120, 120).Draw(t, "limit")
		inside := func(x float64) float64 { return l.Mean(x) - q*l.SE(x) - limit }
		x := l.CrossingBelow(limit, q)
		switch {
		case math.IsNaN(x) || x < 0:
			t.Fatalf("crossing at %v", x)
		case x == 0:
			if inside(0) > 1e-9 {
				t.Fatalf("said to be met at the start, but inside by %v", inside(0))
			}
		case math.IsInf(x, 1):
			for _, far := range []float64{1, 1e2, 1e4, 1e6, 1e8} {
				if inside(far) < -1e-6*(1+far*math.Abs(l.Slope)) {
					t.Fatalf("never met, but %v beyond at %v", inside(far), far)
				}
			}
		default:
			// Where bound and limit meet at a flat angle, or far out, rounding of
			// the bound itself moves the place; it is allowed there.
			d := 1e-7 * (1 + x)
			rounding := 1e-13 * (1 + math.Abs(l.Slope)*x + q*l.SE(x) + 200)
			if before := inside(math.Max(0, x-d)); before < -rounding {
				t.Fatalf("crossing %v, but beyond by %v before", x, before)
			}
			if after := inside(x + d); after > rounding {
				t.Fatalf("crossing %v, but inside by %v after", x, after)
			}
		}
		mirror := Line{l.Centre, -l.Level, -l.Slope, l.LevelVar, l.SlopeVar, l.Cov, l.S, l.DF}
		if up := mirror.CrossingAbove(-limit, q); up != x {
			t.Fatalf("upper limit of the mirrored line met at %v, lower at %v", up, x)
		}
	})
}

// A line is the same wherever it is centred: 7 + 2(x − 5) is −3 + 2x, whose
// level has the variance of the mean at 0, 0.3 − 10·0.02 + 25·0.04 = 1.1, and
// whose covariance is 0.02 − 5·0.04 = −0.18.
func TestCentreDoesNotMatter(t *testing.T) {
	centred := Line{Centre: 5, Level: 7, Slope: 2, LevelVar: 0.3, SlopeVar: 0.04, Cov: 0.02, S: 0.1}
	atZero := Line{Level: -3, Slope: 2, LevelVar: 1.1, SlopeVar: 0.04, Cov: -0.18, S: 0.1}
	close := func(what string, a, b float64) {
		t.Helper()
		if !(math.Abs(a-b) <= 1e-13*(1+math.Abs(a))) {
			t.Errorf("%s: %v centred, %v at zero", what, a, b)
		}
	}
	for _, x := range []float64{0, 1, 5, 12} {
		close("mean", centred.Mean(x), atZero.Mean(x))
		close("error", centred.SE(x), atZero.SE(x))
		a, b := centred.AgainstInitial(0.9), atZero.AgainstInitial(0.9)
		close("against initial", a.Mean(x), b.Mean(x))
		close("its error", a.SE(x), b.SE(x))
		r, low, high := centred.RatioToInitial(x, 2)
		r0, low0, high0 := atZero.RatioToInitial(x, 2)
		close("ratio", r, r0)
		close("its lower limit", low, low0)
		close("its upper limit", high, high0)
		// Fieller's limit is where the line against that part of the initial is
		// just told from zero. The initial value is negative here, so that
		// a larger part lies lower.
		p := atZero.AgainstInitial(high0)
		close("Fieller", math.Abs(p.Mean(x)), 2*p.SE(x))
	}
}
