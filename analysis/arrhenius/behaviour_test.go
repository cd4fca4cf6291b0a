package arrhenius

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/study"
)

// balm is a made-up skin-care balm whose assay falls by 1 % a month at 40 °C.
func balm(sd float64, celsius ...float64) truth {
	return truth{model: kinetics.ZeroOrder, starts: []float64{100, 101}, sign: -1, rate: 1, ea: 85,
		conditions: dry(celsius...), times: []float64{1, 2, 3, 6}, sd: sd}
}

func (w truth) seeded(seed uint64) Input {
	in := w.input(w.points(rand.New(rand.NewPCG(seed, 7))))
	in.Lower = 90
	return in
}

func codes(r *Result) string {
	var s []string
	for _, w := range r.Warnings {
		s = append(s, w.Code)
	}
	return strings.Join(s, " ")
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Input)
		status Status
		reason string
	}{
		{"one temperature", func(in *Input) {
			for i := range in.Conditions {
				in.Conditions[i].Celsius = 40
			}
		}, NotFitted, "fewer than two temperatures"},
		{"nothing", func(in *Input) { in.Points = nil }, TooFewTimes, "no results"},
		{"two times", func(in *Input) {
			for i := range in.Points {
				in.Points[i].Months = min(in.Points[i].Months, 1)
			}
		}, TooFewTimes, "3 distinct times"},
		{"all equal", func(in *Input) {
			for i := range in.Points {
				in.Points[i].Value = 99.7
			}
		}, NotFitted, "no value changes"},
		{"zero under a log model", func(in *Input) { in.Model = study.FirstOrder; in.Points[3].Value = 0 }, NotFitted, "first-order and a value is zero or negative"},
		{"negative under second order", func(in *Input) { in.Model = study.SecondOrder; in.Points[3].Value = -4 }, NotFitted, "second-order and a value is zero or negative"},
		{"a change under first order", func(in *Input) { in.Model = study.FirstOrder; in.Basis = study.BasisChange }, NotFitted, "cannot be judged"},
		{"no number", func(in *Input) { in.Points[3].Value = nan }, NotFitted, "no finite number"},
		{"too large", func(in *Input) {
			for i := range in.Points {
				in.Points[i].Value *= 1e305
			}
		}, NotFitted, "too large"},
		{"no condition", func(in *Input) { in.Points[3].Condition = -1 }, NotFitted, "no condition"},
		{"no temperature", func(in *Input) { in.Conditions[1].Celsius = nan }, NotFitted, "40 °C has no temperature"},
		{"target", func(in *Input) { in.At[0].Celsius = nan }, NotFitted, "no temperature"},
		{"confidence", func(in *Input) { in.Confidence = 95 }, NotFitted, "confidence"},
		// Below a half the quantile is negative, and its square no allowance.
		{"confidence below a half", func(in *Input) { in.Confidence = 0.3 }, NotFitted, "confidence"},
		{"times a rounding apart", func(in *Input) {
			for i := range in.Points {
				if p := &in.Points[i]; p.Months > 0 {
					p.Months = 1 + 1e-12*float64(i)
				}
			}
		}, TooFewTimes, "3 distinct times"},
		{"too few", func(in *Input) { in.Points = []Point{{0, -1, 0, 100}, {0, 0, 1, 99}, {0, 1, 3, 96}} }, NotFitted, "scatter"},
		{"rate without a start", func(in *Input) {
			in.Points = []Point{{0, 0, 1, 99}, {0, 0, 2, 98}, {0, 0, 3, 97.5}, {1, 1, 3, 90}, {1, 1, 3, 91}}
		}, NotFitted, "40 °C cannot be told"},
		{"only the hottest changes", func(in *Input) {
			in.Conditions = dry(25, 30, 50)
			in.Points = nil
			for c, step := range []float64{0.02, 0.01, -2} {
				for m := 0.0; m <= 4; m++ {
					in.Points = append(in.Points, Point{0, c, m, 100 + step*m})
				}
			}
		}, NotFitted, "only the hottest condition changes"},
		{"the others change by far less than the scatter tells", func(in *Input) {
			in.Points = nil
			for c, condition := range in.Conditions {
				step := -2 * math.Exp(-1100e3/8.314462618*(1/(condition.Celsius+273.15)-1/323.15))
				for m, scatter := range []float64{0.1, -0.2, 0, 0.2, -0.1} { // of no slope
					in.Points = append(in.Points, Point{c, c, float64(m), 100 + step*float64(m) + scatter})
				}
			}
		}, NotFitted, "only the hottest condition changes"},
		{"negative initial", func(in *Input) {
			in.Basis = study.BasisPercent
			for i := range in.Points {
				in.Points[i].Value -= 150
			}
		}, NotFitted, "initial value is not positive"},
	} {
		in := balm(0.3, 30, 40, 50).seeded(1)
		c.change(&in)
		r := Fit(in)
		if r.Status != c.status || !strings.Contains(r.Reason, c.reason) || !strings.Contains(codes(r), string(c.status)) {
			t.Errorf("%s: %s, %q (%s), want %s with %q", c.name, r.Status, r.Reason, codes(r), c.status, c.reason)
		}
	}
}

func TestWarnings(t *testing.T) {
	if r := Fit(balm(0.3, 30, 40, 50).seeded(1)); r.Status != Fitted || codes(r) != "" {
		t.Errorf("a clean study warns: %s %s", r.Reason, codes(r))
	}
	r := Fit(balm(0.3, 30, 50).seeded(1))
	if codes(r) != "linearity-untested" || !math.IsNaN(r.LinearityP) || r.Temperatures != 2 || r.Status != Fitted {
		t.Errorf("two temperatures: %s, p %v", codes(r), r.LinearityP)
	}

	// A rate for each condition and nothing left over.
	one := balm(0.3, 30, 40, 50).seeded(1)
	one.Points = []Point{{0, -1, 0, 100}, {0, 0, 6, 98.1}, {0, 1, 3, 97.2}, {0, 2, 1, 97.5}}
	if r := Fit(one); r.Status != Fitted || codes(r) != "linearity-untested" {
		t.Errorf("one result a condition: %s %s", r.Reason, codes(r))
	}

	// A melt at 50 °C: ten times the rate the others foretell.
	w := balm(0.3, 25, 30, 40, 50)
	in := w.seeded(1)
	for i, p := range in.Points {
		if p.Condition == 3 {
			in.Points[i].Value -= 9 * w.rateAt(50) * p.Months
		}
	}
	r = Fit(in)
	if !(r.LinearityP < 1e-6) || r.Bends != 3 || !strings.Contains(codes(r), "not-linear") {
		t.Errorf("melt: p %v, bends at %d, %s", r.LinearityP, r.Bends, codes(r))
	}
	if text := r.Warnings[0].Text; !strings.Contains(text, "Without 50 °C") {
		t.Errorf("melt: %q", text)
	}
	// With three conditions any of them may be the one.
	w = balm(0.3, 30, 40, 50)
	in = w.seeded(1)
	for i, p := range in.Points {
		if p.Condition == 2 {
			in.Points[i].Value -= 9 * w.rateAt(50) * p.Months
		}
	}
	if r = Fit(in); !(r.LinearityP < 1e-6) || r.Bends != -1 {
		t.Errorf("melt of three: p %v, bends at %d", r.LinearityP, r.Bends)
	}

	// Scatter far above the change leaves Ea open.
	if r = Fit(balm(30, 40, 45, 50).seeded(3)); r.Status == Fitted && !strings.Contains(codes(r), "activation-energy-open") {
		t.Errorf("scatter: Ea %v to %v, %s", r.EaLow, r.EaHigh, codes(r))
	}

	for _, c := range []struct {
		humidity []float64
		fitted   bool
		codes    string
	}{
		{[]float64{60, 75, 75}, false, "humidity-in-activation-energy"},
		{[]float64{60, 60, 60}, false, ""},
		{[]float64{nan, nan, 75}, false, ""},
		{[]float64{60, 75, 75, 25}, true, ""},
		{[]float64{nan, 75, 75, 25}, false, "humidity-in-activation-energy"},
	} {
		w := balm(0.3, []float64{25, 40, 50, 50}[:len(c.humidity)]...)
		for i, h := range c.humidity {
			w.conditions[i].Humidity = h
		}
		in := w.seeded(2)
		in.At = []Target{{25, 60}}
		r := Fit(in)
		if r.Status != Fitted || codes(r) != c.codes || math.IsNaN(r.Humidity) == c.fitted {
			t.Errorf("humidities %v: %s, B %v", c.humidity, codes(r), r.Humidity)
		}
		if len(c.humidity) == 4 && !c.fitted && !strings.Contains(r.Warnings[0].Text, "because 25 °C states none") {
			t.Errorf("humidities %v: %s", c.humidity, r.Warnings[0].Text)
		}
	}
	w = balm(0.3, 25, 40, 50, 50)
	for i, h := range []float64{60, 75, 75, 25} {
		w.conditions[i].Humidity = h
	}
	if r := Fit(w.seeded(2)); codes(r) != "humidity-assumed humidity-assumed humidity-assumed humidity-assumed" {
		t.Errorf("targets without humidity: %s", codes(r))
	}
}

// What is met at the start gives 0, what the mean moves away from +Inf, and what
// is not judged nothing.
func TestEnds(t *testing.T) {
	in := balm(0.3, 30, 40, 50).seeded(1)
	in.Lower = 102
	for _, p := range Fit(in).Predictions {
		if p.Estimate != 0 || p.ShelfLife != 0 || p.Delta != 0 || p.Batch < 0 {
			t.Errorf("breached at the start: %+v", p)
		}
	}
	// Within the error of the intercept: the mean starts inside, its confidence
	// limit outside.
	in.Lower = 99.95
	if p := Fit(in).Predictions[0]; p.ShelfLife != 0 || p.Estimate <= 0 {
		t.Errorf("the limit of the mean breached at the start: %+v", p)
	}
	in.Lower, in.Upper = -inf, 110
	for _, p := range Fit(in).Predictions {
		if !math.IsInf(p.Estimate, 1) || !math.IsInf(p.ShelfLife, 1) || !math.IsInf(p.Delta, 1) || p.Batch != -1 {
			t.Errorf("moves away: %+v", p)
		}
	}
	in.Upper = inf
	if r := Fit(in); r.Predictions != nil || r.OneSided {
		t.Errorf("no limit: %+v", r.Predictions)
	}
	in.Lower, in.Upper, in.Direction = 90, 110, study.Rises
	if p := Fit(in).Predictions[0]; !math.IsInf(p.ShelfLife, 1) {
		t.Errorf("falls, judged for rises: %+v", p)
	}
	// One side alone is one-sided; two sides are two-sided and shorter.
	in.Direction = study.Falls
	one := Fit(in)
	in.Direction = study.Either
	two := Fit(in)
	if !one.OneSided || two.OneSided || !(two.Predictions[0].ShelfLife < one.Predictions[0].ShelfLife) {
		t.Errorf("%v %v, %v %v", one.OneSided, one.Predictions[0], two.OneSided, two.Predictions[0])
	}
	// A lower limit of zero is never met on a logarithmic scale.
	in = balm(0.3, 30, 40, 50).seeded(1)
	in.Model, in.Lower = study.FirstOrder, 0
	if p := Fit(in).Predictions[0]; !math.IsInf(p.ShelfLife, 1) {
		t.Errorf("zero under first order: %+v", p)
	}
}

// Where the allowance reaches from no dependence on temperature to any, nothing
// bounds the rate beyond the temperatures studied: the bound is 0 there, however
// long the mean path keeps, and finite between them.
func TestOpenActivationEnergy(t *testing.T) {
	in := balm(0, 40, 45, 50).seeded(1)
	in.Points = nil
	for c := range in.Conditions {
		for i, scatter := range []float64{0.1, -0.1, -0.1, 0.1, 0.1, -0.1} { // about a rate of 0.01 a month everywhere
			months := float64(i + 1)
			in.Points = append(in.Points, Point{0, c, months, 100 - 0.01*months + scatter})
		}
	}
	in.At = []Target{{5, nan}, {43, nan}, {70, nan}}
	r := Fit(in)
	if !math.IsInf(r.EaLow, -1) || !math.IsInf(r.EaHigh, 1) {
		t.Fatalf("Ea %v, %v to %v", r.EaKJ, r.EaLow, r.EaHigh)
	}
	p := r.Predictions
	if p[0].ShelfLife != 0 || !(p[1].ShelfLife > 100) || p[2].ShelfLife != 0 {
		t.Errorf("bounds %v, %v, %v months, want 0, more than 100, 0", p[0].ShelfLife, p[1].ShelfLife, p[2].ShelfLife)
	}
}

// A negative activation energy that cannot be ruled out shortens a bound in the
// cold and is told.
func TestSignOfActivationEnergyIsTold(t *testing.T) {
	if c := codes(Fit(referenceInput(t, "wide"))); c != "activation-energy-sign" {
		t.Errorf("warnings %q", c)
	}
}

// auto takes the model the data were made with where they tell it apart, and
// never one out of its domain.
func TestAuto(t *testing.T) {
	w := balm(0.3, 30, 40, 50)
	w.model, w.rate, w.sd = kinetics.FirstOrder, 0.1, 0.01
	w.starts = []float64{math.Log(100), math.Log(101)}
	in := w.seeded(5)
	in.Lower, in.Model = 60, study.Auto
	r := Fit(in)
	if r.Model != kinetics.FirstOrder || len(r.Candidates) != len(kinetics.Models) {
		t.Errorf("chose %s among %v", r.Model, r.Candidates)
	}
	in.Points[5].Value = -1
	if r := Fit(in); r.Model == kinetics.FirstOrder || !math.IsNaN(r.Candidates[1].AICc) || r.Candidates[1].Note != kinetics.NotPositive {
		t.Errorf("a negative value: %s, %v", r.Model, r.Candidates)
	}
	in = balm(1, 30, 40, 50).seeded(5)
	in.Model = study.Auto
	if r := Fit(in); r.Model != kinetics.ZeroOrder {
		t.Errorf("a straight line: %s of %v", r.Model, r.Candidates)
	}
}

// Simulated studies at 40, 45 and 50 °C with a known truth: the one-sided 95 %
// bound at 25 °C lies below the true time in 95 % of them, within four binomial
// standard errors. What the delta-method bound does is logged.
func TestCoverage(t *testing.T) {
	const studies = 2000
	for _, sd := range []float64{0.3, 1, 2} {
		w := balm(sd, 40, 45, 50)
		truth := 10 / w.rateAt(25) // of the batch that starts at 100
		random := rand.New(rand.NewPCG(2026, 11))
		covered, delta, refused := 0, 0, 0
		for range studies {
			w.starts = []float64{100}
			in := w.input(w.points(random))
			in.Lower, in.At = 90, []Target{{25, nan}}
			r := Fit(in)
			if r.Status != Fitted {
				refused++
				continue
			}
			if r.Predictions[0].ShelfLife <= truth {
				covered++
			}
			if r.Predictions[0].Delta <= truth {
				delta++
			}
		}
		n := float64(studies - refused)
		rate := float64(covered) / n
		t.Logf("sd %g: profile bound covers %.2f %%, delta bound %.2f %%, %d not fitted", sd, 100*rate, 100*float64(delta)/n, refused)
		if margin := 4 * math.Sqrt(0.95*0.05/n); math.Abs(rate-0.95) > margin {
			t.Errorf("sd %g: the profile bound covers %.4f, want 0.95 within %.4f", sd, rate, margin)
		}
	}
}

// The bound is the least crossing time the allowance permits: none of many
// exponents tried at random gives a smaller one, and some come near.
func TestBoundIsLeast(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	for _, humidity := range []bool{false, true} {
		for study := range 20 {
			w := balm(0.2+0.03*float64(study), 25, 30, 40, 50)
			if humidity {
				w.conditions[3].Celsius = 40
				for i, h := range []float64{60, 65, 75, 25} {
					w.conditions[i].Humidity = h
				}
			}
			in := w.seeded(uint64(study))
			in.At = []Target{{20, 50}, {35, 40}}
			l, _, _ := arrange(&in, -1)
			free, err := fitFreeRates(&in, l, kinetics.ZeroOrder)
			if err != nil {
				t.Fatal(err)
			}
			f, reason := fitTemperatures(&in, free, humidity)
			if reason != "" {
				t.Fatal(reason)
			}
			f.model = kinetics.ZeroOrder
			r := Fit(in)
			q := linear.StudentQuantile(0.95, f.df)
			level := f.excess + f.sse*q*q/float64(f.df)
			b := limits(&in, f.model)[0]
			for i, target := range in.At {
				u, h := f.at(target)
				least := inf
				for range 20000 {
					ea := f.ea + 8*r.EaSE*(random.Float64()-0.5)
					damp := 0.0
					if humidity {
						damp = f.b + 8*r.HumiditySE*(random.Float64()-0.5)
					}
					if p := f.look(ea, damp); p.excess <= level {
						least = min(least, f.crossing(r.Predictions[i].Batch, b, p, level-p.excess)-steady{u, h}.logExtent(ea, damp))
					}
				}
				bound, least := r.Predictions[i].ShelfLife, math.Exp(least)
				if least < bound*(1-1e-9) || least > bound*1.05 {
					t.Errorf("humidity %v, study %d, %v °C: bound %v, the least of many %v", humidity, study, target.Celsius, bound, least)
				}
			}
		}
	}
}

// Where the range of Ea is open at both ends and the crossing has valleys far
// apart, a fine grid over all of it finds nothing lower than the bound.
func TestBoundOverAnOpenRange(t *testing.T) {
	w := truth{model: kinetics.SquareRootTime, sign: 1, ea: 40, rate: 0.5625, starts: []float64{80}, sd: 0.8,
		conditions: dry(25, 30, 40, 45), times: []float64{1, 2, 3, 6}}
	in := w.input(w.points(rand.New(rand.NewPCG(0x2b0ab2, 1))))
	in.At = []Target{{25, nan}, {42, nan}}
	last := []float64{inf, inf}
	for _, in.Confidence = range []float64{0.9, 0.95, 0.99, 0.999} {
		r := Fit(in)
		if !math.IsInf(r.EaLow, -1) || !math.IsInf(r.EaHigh, 1) {
			t.Fatalf("Ea %v to %v", r.EaLow, r.EaHigh)
		}
		l, _, _ := arrange(&in, -1)
		free, err := fitFreeRates(&in, l, w.model)
		if err != nil {
			t.Fatal(err)
		}
		f, _ := fitTemperatures(&in, free, false)
		q := linear.StudentQuantile(in.Confidence, f.df)
		level := f.excess + f.sse*q*q/float64(f.df)
		for i, target := range in.At {
			u, h := f.at(target)
			least := inf
			for ea := f.low; ea <= f.high; ea += 0.5 {
				if p := f.look(ea, 0); p.excess <= level {
					least = min(least, f.crossing(0, limits(&in, w.model)[0], p, level-p.excess)-steady{u, h}.logExtent(ea, 0))
				}
			}
			bound, least := r.Predictions[i].ShelfLife, w.model.InverseTime(math.Exp(least))
			if least < bound*(1-1e-9) || least > bound*1.01 {
				t.Errorf("at %v, %v °C: bound %v, the grid's least %v", in.Confidence, target.Celsius, bound, least)
			}
			if bound > last[i] {
				t.Errorf("at %v, %v °C: bound %v, at a lower confidence %v", in.Confidence, target.Celsius, bound, last[i])
			}
			last[i] = bound
		}
	}
}

// The shortcut: 100 falling by 2 a month at 50 °C meets 90 after 5 months, which
// Q10 = 2 makes 5·2^2.5 = 28.284 at 25 °C.
func TestShortcut(t *testing.T) {
	w := balm(0, 30, 40, 50)
	w.starts = []float64{100}
	w.rate = 2 * math.Exp(-85000/8.314462618*(1/313.15-1/323.15))
	in := w.seeded(1)
	in.At = []Target{{25, nan}, {50, nan}}
	p := Fit(in).Predictions
	if math.Abs(p[0].Q10Life-28.284) > 0.0005 || !math.IsNaN(p[1].Q10Life) {
		t.Errorf("%v and %v, want 28.284 and NaN", p[0].Q10Life, p[1].Q10Life)
	}
}

func BenchmarkThousandResults(b *testing.B) {
	w := balm(0.5, 25, 30, 40, 45)
	w.starts = []float64{100, 101, 99}
	w.times = nil
	for i := range 83 {
		w.times = append(w.times, 0.2*float64(i+1))
	}
	in := w.seeded(1)
	if len(in.Points) != 999 {
		b.Fatal(len(in.Points))
	}
	for _, m := range []study.Model{study.ZeroOrder, study.Auto} {
		in.Model = m
		b.Run(string(m), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if r := Fit(in); r.Status != Fitted {
					b.Fatal(r.Reason)
				}
			}
		})
	}
	w.conditions[2].Humidity, w.conditions[3].Humidity, w.conditions[0].Humidity, w.conditions[1].Humidity = 75, 25, 60, 65
	w.conditions[3].Celsius = 40
	in = w.seeded(1)
	in.Model = study.ZeroOrder
	b.Run("humidity", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if r := Fit(in); r.Status != Fitted {
				b.Fatal(r.Reason)
			}
		}
	})
}

// Each batch with a factor of its own: 100 falling at 2 and at 1 a month at 40 °C
// with 80 kJ/mol gives those rates back, and the slower batch does not lengthen
// the life of the faster, which meets 90 at 25 °C after 5 months times
// exp(80000/R·(1/298.15 − 1/313.15)) = 5 · 4.69183 = 23.459.
func TestByBatch(t *testing.T) {
	w := balm(0, 30, 40, 50)
	w.starts, w.rate, w.ea = []float64{100}, 2, 80
	in := w.input(w.points(nil))
	w.rate = 1
	for _, p := range w.points(nil) {
		p.Batch = 7
		in.Points = append(in.Points, p)
	}
	in.Lower, in.At, in.ByBatch = 90, []Target{{25, nan}}, true
	r := Fit(in)
	if r.Status != Fitted {
		t.Fatal(r.Reason)
	}
	if p := r.Predictions[0]; math.Abs(p.Estimate-23.4592) > 0.0001 || math.Abs(p.ShelfLife-23.4592) > 0.0001 || p.Batch != 0 {
		t.Errorf("predicted %+v", p)
	}
	if len(r.Rates) != 6 || r.Rates[1].Batch != 0 || math.Abs(r.Rates[1].PerMonth+2) > 1e-9 || r.Rates[4].Batch != 7 || math.Abs(r.Rates[4].PerMonth+1) > 1e-9 {
		t.Errorf("rates %+v", r.Rates)
	}

	in.Points = append(in.Points, Point{Batch: 8, Condition: -1, Value: 100})
	if r := Fit(in); r.Status != NotFitted || r.Reason != "a batch has results at the start only, and so no rate of its own" {
		t.Errorf("%s: %s", r.Status, r.Reason)
	}
	for c := range in.Conditions {
		for _, months := range []float64{1, 3} {
			in.Points = append(in.Points, Point{Batch: 8, Condition: c, Months: months, Value: 100})
		}
	}
	if r := Fit(in); r.Status != NotFitted || r.Reason != "no value of a batch changes at any temperature, so that it has no rate of its own" {
		t.Errorf("%s: %s", r.Status, r.Reason)
	}
}
