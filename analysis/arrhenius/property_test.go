package arrhenius

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/kinetics"
	"shelfspan/study"
)

// truth is a made-up product.
type truth struct {
	model      kinetics.Model
	starts     []float64 // on the model's scale
	sign       float64
	rate       float64 // at 40 °C
	ea         float64 // kJ/mol
	conditions []Condition
	times      []float64
	sd         float64
}

func (w truth) rateAt(celsius float64) float64 {
	return w.rate * math.Exp(-w.ea*1000/GasConstant*(1/(celsius+273.15)-1/313.15))
}

func (w truth) points(random *rand.Rand) []Point {
	var ps []Point
	noise := func() float64 {
		if w.sd == 0 {
			return 0
		}
		return w.sd * random.NormFloat64()
	}
	for b, a := range w.starts {
		ps = append(ps, Point{b, -1, 0, w.model.Inverse(a + noise())})
		for c, condition := range w.conditions {
			for _, t := range w.times {
				z := a + w.sign*w.rateAt(condition.Celsius)*w.model.Time(t)
				ps = append(ps, Point{b, c, t, w.model.Inverse(z + noise())})
			}
		}
	}
	return ps
}

func drawTruth(t *rapid.T) truth {
	w := truth{
		model: rapid.SampledFrom([]kinetics.Model{kinetics.ZeroOrder, kinetics.FirstOrder, kinetics.SquareRootTime}).Draw(t, "model"),
		sign:  rapid.SampledFrom([]float64{-1, 1}).Draw(t, "sign"),
		ea:    rapid.Float64Range(40, 150).Draw(t, "ea"),
		times: []float64{1, 2, 3, 6}, conditions: dry(25, 30, 40, 45)[rapid.IntRange(0, 2).Draw(t, "drop"):],
	}
	for range rapid.IntRange(1, 3).Draw(t, "batches") {
		a := rapid.Float64Range(80, 120).Draw(t, "start")
		if w.model == kinetics.FirstOrder {
			a = math.Log(a)
		}
		w.starts = append(w.starts, a)
	}
	w.rate = rapid.Float64Range(0.5, 2).Draw(t, "rate")
	if w.model == kinetics.FirstOrder {
		w.rate /= 100
	}
	return w
}

func (w truth) input(points []Point) Input {
	in := Input{Points: points, Conditions: w.conditions, Lower: -inf, Upper: inf, Model: study.Model(w.model), Confidence: 0.95,
		At: []Target{{25, nan}, {5, nan}, {42, nan}, {55, nan}}}
	if w.sign > 0 {
		in.Upper = 140
	} else {
		in.Lower = 70
	}
	return in
}

// Data without noise give back what they were made of, and a bound that is the
// estimate.
func TestNoiseFree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawTruth(t)
		in := w.input(w.points(nil))
		r := Fit(in)
		if r.Status != Fitted {
			t.Fatalf("%s: %s", r.Status, r.Reason)
		}
		near(t, "Ea", r.EaKJ, w.ea, 1e-6)
		if r.Rising != (w.sign > 0) {
			t.Fatalf("rising %v", r.Rising)
		}
		g := w.model.Transform(in.Upper)
		if w.sign < 0 {
			g = w.model.Transform(in.Lower)
		}
		for i, p := range r.Predictions {
			near(t, "ln rate", r.LnRate(p.Celsius), math.Log(w.rateAt(p.Celsius)), 1e-6)
			want := inf
			for _, a := range w.starts {
				want = min(want, w.model.InverseTime((g-a)*w.sign/w.rateAt(in.At[i].Celsius)))
			}
			near(t, "estimate", p.Estimate, want, 1e-6)
			near(t, "bound", p.ShelfLife, want, 1e-5)
			near(t, "delta", p.Delta, want, 1e-5)
			if outside := p.Celsius < w.conditions[0].Celsius || p.Celsius > 45; p.Extrapolated != outside {
				t.Fatalf("%v °C extrapolated: %v", p.Celsius, p.Extrapolated)
			}
		}
	})
}

func near(t *rapid.T, what string, got, want, rel float64) {
	t.Helper()
	if got != want && !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Fatalf("%s = %.12g, want %.12g", what, got, want)
	}
}

func drawNoisy(t *rapid.T) (truth, Input) {
	w := drawTruth(t)
	w.sd = 0.8
	if w.model == kinetics.FirstOrder {
		w.sd = 0.008
	}
	return w, w.input(w.points(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))))
}

// same holds two results to be equal in all but what factor scales.
func same(t *rapid.T, a, b *Result, rel float64) {
	t.Helper()
	if a.Status != b.Status {
		t.Fatalf("%s (%s), %s (%s)", a.Status, a.Reason, b.Status, b.Reason)
	}
	if a.Status != Fitted {
		return
	}
	near(t, "Ea", b.EaKJ, a.EaKJ, rel)
	near(t, "low", b.EaLow, a.EaLow, rel)
	near(t, "high", b.EaHigh, a.EaHigh, rel)
	if !math.IsNaN(a.LinearityP) {
		near(t, "p", b.LinearityP, a.LinearityP, 100*rel)
	}
	for i := range a.Predictions {
		p, q := a.Predictions[i], b.Predictions[i]
		// What lies far beyond the months studied is a power of what was seen in
		// them, and its relative error grows with its logarithm.
		power := func(months float64) float64 { return rel * (1 + math.Abs(math.Log(months))) }
		near(t, "estimate", q.Estimate, p.Estimate, power(p.Estimate))
		near(t, "bound", q.ShelfLife, p.ShelfLife, power(p.ShelfLife))
		near(t, "delta", q.Delta, p.Delta, power(p.Delta/p.Estimate))
	}
}

// The order of the results does not matter, to the last bit.
func TestOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, in := drawNoisy(t)
		a := Fit(in)
		in.Points = rapid.Permutation(in.Points).Draw(t, "order")
		same(t, a, Fit(in), 0)
	})
}

// Another unit of the attribute changes no time and no activation energy.
func TestUnit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, in := drawNoisy(t)
		a := Fit(in)
		factor := math.Pow(10, rapid.Float64Range(-6, 6).Draw(t, "factor"))
		scaled := in
		scaled.Points = append([]Point(nil), in.Points...)
		for i := range scaled.Points {
			scaled.Points[i].Value *= factor
		}
		scaled.Lower *= factor
		scaled.Upper *= factor
		same(t, a, Fit(scaled), 1e-6)
	})
}

// Numbering the batches and conditions otherwise changes nothing but the
// numbers.
func TestRelabel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, in := drawNoisy(t)
		a := Fit(in)
		other := in
		n, c := len(w.starts), len(w.conditions)
		other.Conditions = make([]Condition, c)
		for i, x := range in.Conditions {
			other.Conditions[c-1-i] = x
		}
		other.Points = append([]Point(nil), in.Points...)
		for i, p := range other.Points {
			other.Points[i].Batch = 3 * (n - 1 - p.Batch)
			if p.Condition >= 0 {
				other.Points[i].Condition = c - 1 - p.Condition
			}
		}
		b := Fit(other)
		same(t, a, b, 1e-6)
		for i, p := range a.Predictions {
			// Where nothing bounds the rate, all batches are at zero months together.
			if q := b.Predictions[i]; p.Batch >= 0 && p.ShelfLife > 0 && q.Batch != 3*(n-1-p.Batch) {
				t.Fatalf("batch %d became %d", p.Batch, q.Batch)
			}
		}
	})
}

// On zero order a shift of all values of a batch, and of its limit, changes
// nothing; a shift of the values alone changes neither Ea nor the rates.
func TestShift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, in := drawNoisy(t)
		in.Model = study.ZeroOrder // which draws of the other models serve as well
		a := Fit(in)
		shifted := in
		shifted.Points = append([]Point(nil), in.Points...)
		for i := range shifted.Points {
			shifted.Points[i].Value += 50
		}
		shifted.Lower += 50
		shifted.Upper += 50
		same(t, a, Fit(shifted), 1e-6)
		for i := range shifted.Points {
			shifted.Points[i].Value += 37 * float64(shifted.Points[i].Batch)
		}
		b := Fit(shifted)
		near(t, "Ea", b.EaKJ, a.EaKJ, 1e-6)
		for i, rate := range a.Rates {
			near(t, "rate", b.Rates[i].PerMonth, rate.PerMonth, 1e-6)
		}
	})
}

// A baseline moves the clock: with all times and the baseline later by as much,
// every crossing is later by as much.
func TestBaseline(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, in := drawNoisy(t)
		a := Fit(in)
		late := in
		late.Baseline = 0.25
		late.Points = []Point{{0, 0, 0.1, 1e9}} // before it: not fitted
		for _, p := range in.Points {
			p.Months += 0.25
			late.Points = append(late.Points, p)
		}
		b := Fit(late)
		if b.Samples != a.Samples {
			t.Fatalf("%d samples, want %d", b.Samples, a.Samples)
		}
		near(t, "Ea", b.EaKJ, a.EaKJ, 1e-6)
		for i, p := range a.Predictions {
			if p.ShelfLife > 0 {
				near(t, "bound", b.Predictions[i].ShelfLife, p.ShelfLife+0.25, 1e-6)
			}
		}
	})
}

// A tighter limit and a higher confidence never lengthen a bound, and a bound
// never exceeds the estimate.
func TestMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, in := drawNoisy(t)
		a := Fit(in)
		if a.Status != Fitted {
			return
		}
		tight, sure := in, in
		tight.Lower += 3
		tight.Upper -= 3
		sure.Confidence = 0.99
		b, c := Fit(tight), Fit(sure)
		for i, p := range a.Predictions {
			if p.ShelfLife > p.Estimate {
				t.Fatalf("bound %v beyond the estimate %v", p.ShelfLife, p.Estimate)
			}
			if b.Predictions[i].ShelfLife > p.ShelfLife*(1+1e-9) {
				t.Fatalf("tighter limit: %v, then %v", p.ShelfLife, b.Predictions[i].ShelfLife)
			}
			if c.Predictions[i].ShelfLife > p.ShelfLife*(1+1e-9) {
				t.Fatalf("higher confidence: %v, then %v", p.ShelfLife, c.Predictions[i].ShelfLife)
			}
		}
	})
}

// Whatever comes in, there is a status, a reason where nothing was fitted, and
// no NaN where something was.
func TestNeverNaN(t *testing.T) {
	wild := rapid.OneOf(rapid.Float64Range(-10, 110), rapid.Just(0.0), rapid.Just(100.0), rapid.Just(1e300), rapid.Just(1e-300), rapid.Just(math.NaN()), rapid.Float64())
	fitted := 0
	rapid.Check(t, func(t *rapid.T) {
		in := Input{ByBatch: rapid.Bool().Draw(t, "by batch"), Confidence: rapid.SampledFrom([]float64{0.5, 0.9, 0.95, 0.999}).Draw(t, "confidence"),
			Lower: rapid.SampledFrom([]float64{-inf, 90, 0, -1}).Draw(t, "lower"), Upper: rapid.SampledFrom([]float64{inf, 110, 1}).Draw(t, "upper"),
			Basis:     rapid.SampledFrom([]study.Basis{study.BasisValue, study.BasisPercent, study.BasisChange}).Draw(t, "basis"),
			Direction: rapid.SampledFrom([]study.Direction{study.Either, study.Falls, study.Rises}).Draw(t, "direction"),
			Model:     rapid.SampledFrom([]study.Model{study.Auto, study.ZeroOrder, study.FirstOrder, study.SecondOrder, study.SquareRootTime}).Draw(t, "model"),
			Baseline:  rapid.SampledFrom([]float64{0, 0, 0.5}).Draw(t, "baseline"),
			At:        []Target{{25, 60}, {5, nan}, {60, nan}},
		}
		humidity := rapid.SampledFrom([]float64{nan, 25, 60, 75})
		for range rapid.IntRange(1, 5).Draw(t, "conditions") {
			in.Conditions = append(in.Conditions, Condition{"c", rapid.SampledFrom([]float64{5, 25, 30, 40, 40, 45, 40.001}).Draw(t, "celsius"), humidity.Draw(t, "humidity")})
		}
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		kind := rapid.IntRange(0, 3).Draw(t, "kind")
		w := truth{model: kinetics.ZeroOrder, sign: -1, starts: []float64{100, 98}[:rapid.IntRange(1, 2).Draw(t, "batches")],
			rate: rapid.Float64Range(0, 3).Draw(t, "rate"), ea: rapid.Float64Range(-50, 300).Draw(t, "ea"), conditions: in.Conditions,
			times: []float64{1, 3, 6}, sd: rapid.SampledFrom([]float64{0, 0.1, 1, 10}).Draw(t, "sd")}
		for _, p := range w.points(random) {
			switch {
			case kind == 0 && random.IntN(3) == 0: // gaps
				continue
			case kind == 1 && random.IntN(10) == 0:
				p.Value = wild.Draw(t, "value")
			case kind == 2:
				p.Value = math.Round(p.Value)
			}
			in.Points = append(in.Points, p)
		}
		r := Fit(in)
		switch r.Status {
		case Fitted:
			fitted++
		case NotFitted, TooFewTimes:
			if r.Reason == "" || len(r.Warnings) == 0 || !strings.Contains(r.Warnings[len(r.Warnings)-1].Text, r.Reason) {
				t.Fatalf("%s without a reason: %+v", r.Status, r)
			}
			return
		default:
			t.Fatalf("status %q", r.Status)
		}
		numbers := []float64{r.EaKJ, r.EaSE, r.EaLow, r.EaHigh, r.LogRate, r.Reference, r.SSE, r.ResidualSD, r.Q10, r.LnRate(25)}
		for _, rate := range r.Rates {
			numbers = append(numbers, rate.PerMonth, rate.SE)
		}
		for _, p := range r.Predictions {
			numbers = append(numbers, p.Estimate, p.ShelfLife, p.Delta)
			if p.ShelfLife < 0 || p.ShelfLife > p.Estimate {
				t.Fatalf("bound %v, estimate %v", p.ShelfLife, p.Estimate)
			}
		}
		for _, x := range numbers {
			if math.IsNaN(x) {
				t.Fatalf("NaN in %+v", r)
			}
		}
		if !(r.EaLow <= r.EaKJ && r.EaKJ <= r.EaHigh) {
			t.Fatalf("Ea %v not between %v and %v", r.EaKJ, r.EaLow, r.EaHigh)
		}
	})
	if fitted == 0 {
		t.Error("nothing was ever fitted")
	}
}

// With one batch its own factor is the common one.
func TestByBatchOfOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawTruth(t)
		w.starts, w.sd = w.starts[:1], 0.02*w.rate
		in := w.input(w.points(rand.New(rand.NewPCG(1, rapid.Uint64().Draw(t, "seed")))))
		common := Fit(in)
		in.ByBatch = true
		own := Fit(in)
		if common.Status != own.Status || common.EaKJ != own.EaKJ || common.EaLow != own.EaLow || common.LinearityP != own.LinearityP && !math.IsNaN(own.LinearityP) {
			t.Fatalf("common %+v, own %+v", common, own)
		}
		for i, p := range common.Predictions {
			if own.Predictions[i].ShelfLife != p.ShelfLife || own.Predictions[i].Delta != p.Delta {
				t.Fatalf("%v °C: common %+v, own %+v", p.Celsius, p, own.Predictions[i])
			}
		}
	})
}
