package linear

import (
	"math"
	"testing"
)

// By R: pf(f, df1, df2, lower.tail = FALSE);
// the last is far out in the tail, where 1 − CDF has no digits left.
func TestFSurvivalAgainstR(t *testing.T) {
	for _, c := range []struct {
		f        float64
		df1, df2 int
		want     float64
	}{
		{3.88529383465239, 2, 12, 0.05000000000000012},
		{5.5, 3, 40, 0.002931965987744894},
		{0.7, 1, 3, 0.4641880820530067},
		{63.6529853058211, 2, 15, 4.693653542979889e-08},
		{400, 2, 60, 2.039783029329786e-35},
		{0, 2, 10, 1},
		{math.Inf(1), 2, 10, 0},
	} {
		if got := FSurvival(c.f, c.df1, c.df2); math.Abs(got-c.want) > 1e-12*c.want {
			t.Errorf("F(%d, %d) beyond %v: %.16g, want %.16g", c.df1, c.df2, c.f, got, c.want)
		}
	}
}

// By R: qt(p, df).
func TestStudentQuantileAgainstR(t *testing.T) {
	for _, c := range []struct {
		p    float64
		df   int
		want float64
	}{
		{0.75, 1, 1},
		{0.95, 1, 6.313751514675038},
		{0.975, 1, 12.70620473617469},
		{0.995, 1, 63.65674116287153},
		{0.75, 2, 0.8164965809277259},
		{0.95, 2, 2.919985580353724},
		{0.975, 2, 4.302652729749462},
		{0.995, 2, 9.924843200918289},
		{0.75, 5, 0.7266868438004229},
		{0.95, 5, 2.015048373333022},
		{0.975, 5, 2.570581835636314},
		{0.995, 5, 4.032142983555229},
		{0.75, 22, 0.6858050317218862},
		{0.95, 22, 1.717144374380242},
		{0.975, 22, 2.073873067904026},
		{0.995, 22, 2.818756060600144},
		{0.75, 500, 0.6749807379659389},
		{0.95, 500, 1.64790685392951},
		{0.975, 500, 1.964719837467367},
		{0.995, 500, 2.585697835141942},
	} {
		if got := StudentQuantile(c.p, c.df); math.Abs(got-c.want) > 1e-11*c.want {
			t.Errorf("t(%d) at %v: %.16g, want %.16g", c.df, c.p, got, c.want)
		}
	}
}

// By hand: (6/2)/(12/4) = 1; without error nothing or everything is significant,
// and rounding below zero is nothing.
func TestExtraSumOfSquares(t *testing.T) {
	if f, p := ExtraSumOfSquares(6, 2, 12, 4); f != 1 || p != FSurvival(1, 2, 4) {
		t.Errorf("F %v, p %v", f, p)
	}
	for _, c := range []struct{ extra, rss, f, p float64 }{
		{0, 12, 0, 1}, {0, 0, 0, 1}, {-1e-18, 12, 0, 1}, {6, 0, math.Inf(1), 0}, {1e300, 1e-300, math.Inf(1), 0},
	} {
		if f, p := ExtraSumOfSquares(c.extra, 2, c.rss, 4); f != c.f || p != c.p {
			t.Errorf("%v over %v: F %v, p %v; want %v, %v", c.extra, c.rss, f, p, c.f, c.p)
		}
	}
}
