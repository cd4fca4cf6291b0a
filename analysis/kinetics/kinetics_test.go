package kinetics

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/study"
)

// By hand: ln e² = 2, 1/4, √9 = 3; ln|d ln y/dy| = −ln y, ln|d(1/y)/dy| = −2 ln y.
func TestScalesByHand(t *testing.T) {
	e2 := math.Exp(2)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"zero-order", ZeroOrder.Transform(-3), -3},
		{"first-order", FirstOrder.Transform(e2), 2},
		{"second-order", SecondOrder.Transform(4), 0.25},
		{"square-root-time", SquareRootTime.Transform(-3), -3},
		{"its time", SquareRootTime.Time(9), 3},
		{"its months", SquareRootTime.InverseTime(3), 9},
		{"zero-order time", ZeroOrder.Time(9), 9},
		{"derivative of y", ZeroOrder.LogDerivative(7), 0},
		{"derivative of ln y", FirstOrder.LogDerivative(e2), -2},
		{"derivative of 1/y", SecondOrder.LogDerivative(e2), -4},
		{"1/y come down to zero", SecondOrder.Inverse(0), math.Inf(1)},
		{"and below", SecondOrder.Inverse(-0.1), math.Inf(1)},
	} {
		if math.Abs(c.got-c.want) > 1e-15 && c.got != c.want {
			t.Errorf("%s: %v, want %v", c.what, c.got, c.want)
		}
	}
	for _, m := range []Model{FirstOrder, SecondOrder} {
		for _, y := range []float64{0, -1, math.NaN(), math.Inf(1)} {
			if m.InDomain(y) || !math.IsNaN(m.Transform(y)) {
				t.Errorf("%s takes %v", m, y)
			}
		}
	}
}

func TestLimitsByHand(t *testing.T) {
	inf := math.Inf(1)
	const value, percent, change = study.BasisValue, study.BasisPercent, study.BasisChange
	for _, c := range []struct {
		model Model
		basis study.Basis
		limit float64
		upper bool
		want  Limit
	}{
		{ZeroOrder, value, 90, false, Limit{0, 90, false}},
		{ZeroOrder, value, 110, true, Limit{0, 110, true}},
		{ZeroOrder, change, -0.5, false, Limit{1, -0.5, false}},
		{ZeroOrder, percent, 75, false, Limit{0.75, 0, false}},
		{SquareRootTime, value, 90, false, Limit{0, 90, false}},
		{SquareRootTime, percent, 125, true, Limit{1.25, 0, true}},
		{FirstOrder, value, 1, false, Limit{0, 0, false}},
		{FirstOrder, percent, 100, true, Limit{1, 0, true}},
		{SecondOrder, value, 50, false, Limit{0, 0.02, true}},   // 1/y comes up
		{SecondOrder, value, 200, true, Limit{0, 0.005, false}}, // and down
		{SecondOrder, percent, 50, false, Limit{2, 0, true}},
		{SecondOrder, percent, 200, true, Limit{0.5, 0, false}},
		// no limit is never met
		{ZeroOrder, value, -inf, false, Limit{0, -inf, false}},
		{FirstOrder, percent, inf, true, Limit{0, inf, true}},
		{SecondOrder, value, -inf, false, Limit{0, inf, true}},
		{SecondOrder, value, inf, true, Limit{0, -inf, false}},
		// what is positive is never below zero, and always above
		{FirstOrder, value, -2, false, Limit{0, -inf, false}},
		{FirstOrder, value, 0, true, Limit{0, -inf, true}},
		{SecondOrder, value, 0, false, Limit{0, inf, true}},
		{SecondOrder, value, -1, true, Limit{0, inf, false}},
		{SecondOrder, percent, -1, false, Limit{0, inf, true}},
		{SecondOrder, percent, 0, true, Limit{0, inf, false}},
	} {
		if got := c.model.Limit(c.limit, c.upper, c.basis); got != c.want {
			t.Errorf("%s, %s %v (upper %v): %v, want %v", c.model, c.basis, c.limit, c.upper, got, c.want)
		}
	}
}

func TestScalesInvertAndKeepOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.SampledFrom(Models[:]).Draw(t, "model")
		a := rapid.Float64Range(1e-6, 1e6).Draw(t, "a")
		b := rapid.Float64Range(1e-6, 1e6).Draw(t, "b")
		if back := m.Inverse(m.Transform(a)); math.Abs(back-a) > 1e-13*a*(1+math.Abs(math.Log(a))) {
			t.Fatalf("%v comes back as %v", a, back)
		}
		if back := m.InverseTime(m.Time(a)); math.Abs(back-a) > 1e-14*a {
			t.Fatalf("%v months come back as %v", a, back)
		}
		if a < b && (m.Transform(a) > m.Transform(b)) != (m.Decreasing() && m.Transform(a) != m.Transform(b)) {
			t.Fatalf("the order of %v and %v on the scale belies Decreasing", a, b)
		}
	})
}

func line(n int, y func(t float64) float64) []Point {
	points := make([]Point, n)
	for i := range points {
		months := 3 * float64(i)
		points[i] = Point{months, y(months)}
	}
	return points
}

func TestCandidatesLeftOut(t *testing.T) {
	wave := func(t float64) float64 { return 10 - 0.3*t + math.Sin(t) }
	below := func(t float64) float64 { return wave(t) - 9 }
	for _, c := range []struct {
		name     string
		groups   [][][]Point
		baseline float64
		basis    study.Basis
		notes    [4]string
	}{
		{"all compared", [][][]Point{{line(8, wave)}}, 0, study.BasisValue, [4]string{}},
		{"values not positive", [][][]Point{{line(8, wave)}, {line(8, below)}}, 0, study.BasisValue, [4]string{"", NotPositive, NotPositive, ""}},
		{"change from initial", [][][]Point{{line(8, wave)}}, 0, study.BasisChange, [4]string{"", WrongBasis, WrongBasis, ""}},
		// N − k − 1 with one batch, k = 3: 4 values leave 0, 5 leave 1.
		{"four values", [][][]Point{{line(4, wave)}}, 0, study.BasisValue, [4]string{TooFewToTell, TooFewToTell, TooFewToTell, TooFewToTell}},
		{"five values", [][][]Point{{line(5, wave)}}, 0, study.BasisValue, [4]string{}},
		{"two times in a batch", [][][]Point{{line(8, wave), line(2, wave)}}, 0, study.BasisValue, [4]string{TooFewToTell, TooFewToTell, TooFewToTell, TooFewToTell}},
		{"a group that tells beside one that does not", [][][]Point{{line(8, wave)}, {line(4, wave)}}, 0, study.BasisValue, [4]string{}},
		{"before the baseline", [][][]Point{{line(8, wave)}}, 1, study.BasisValue, [4]string{BeforeBaseline, BeforeBaseline, BeforeBaseline, BeforeBaseline}},
		{"nothing", nil, 0, study.BasisValue, [4]string{TooFewToTell, TooFewToTell, TooFewToTell, TooFewToTell}},
	} {
		model, candidates := Choose(c.groups, c.baseline, c.basis)
		left := 0
		for i, got := range candidates {
			if got.Model != Models[i] || got.Note != c.notes[i] || math.IsNaN(got.AICc) != (got.Note != "") {
				t.Errorf("%s: %+v, want note %q", c.name, got, c.notes[i])
			}
			if got.Note != "" {
				left++
			}
		}
		if left == len(Models) && model != ZeroOrder {
			t.Errorf("%s: chose %s where nothing could be compared", c.name, model)
		}
	}
}

// Exact data leave no residual, and no logarithm of it; equals go to zero-order.
func TestExactDataChooseTheirModel(t *testing.T) {
	for _, c := range []struct {
		name string
		y    func(t float64) float64
		want Model
	}{
		{"all equal", func(float64) float64 { return 7.5 }, ZeroOrder},
		{"a line", func(t float64) float64 { return 100 - t/4 }, ZeroOrder},
		{"an exponential", func(t float64) float64 { return 100 * math.Exp(-0.05*t) }, FirstOrder},
		{"a reciprocal", func(t float64) float64 { return 1 / (0.01 + 0.001*t) }, SecondOrder},
		{"a root", func(t float64) float64 { return 100 - 5*math.Sqrt(t) }, SquareRootTime},
	} {
		if model, candidates := Choose([][][]Point{{line(8, c.y)}}, 0, study.BasisValue); model != c.want {
			t.Errorf("%s: %s of %+v, want %s", c.name, model, candidates, c.want)
		}
	}
}

// Zero-order stays where another model is better, but by no more than 2. The
// bend of an exponential falling by less and less comes out of the noise
// slowly; on the way there the better model is not taken until it is by 2.
func TestZeroOrderIsReplacedByMoreThanTwoOnly(t *testing.T) {
	kept, replaced := 0, 0
	for i := range 200 {
		rate := 0.0005 * float64(i)
		values := line(9, func(t float64) float64 { return 100*math.Exp(-rate*t) + 1.5*math.Sin(5*t) })
		model, all := Choose([][][]Point{{values}}, 0, study.BasisValue)
		best := math.Inf(1)
		for _, c := range all {
			best = min(best, c.AICc)
		}
		gain := all[0].AICc - best
		if gain > 2 && model == ZeroOrder || gain <= 2 && model != ZeroOrder {
			t.Fatalf("rate %v: better by %v, chose %s", rate, gain, model)
		}
		if gain > 0 && gain <= 2 {
			kept++
		}
		if gain > 2 {
			replaced++
		}
	}
	if kept == 0 || replaced == 0 {
		t.Fatalf("%d kept and %d replaced: one side of the rule was not met", kept, replaced)
	}
}

// 1 month and 30.4375 days, come out a rounding apart, are one time; a minute
// apart are two.
func TestDistinctTimes(t *testing.T) {
	minute := 1 / (24 * 60 * study.DaysPerMonth)
	for _, c := range []struct {
		months []float64
		want   int
	}{{nil, 0}, {[]float64{3, 0, 3}, 2}, {[]float64{1, 1 + 1e-12, 2}, 2}, {[]float64{1, 1 + minute, 2}, 3}} {
		var points []Point
		for _, m := range c.months {
			points = append(points, Point{Months: m})
		}
		if got := DistinctTimes(points); got != c.want {
			t.Errorf("%v: %d, want %d", c.months, got, c.want)
		}
	}
}
