package arrhenius

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/study"
	"shelfspan/testdata/reference"
)

// travelled is the history of testdata/reference/climate/history.R.
var travelled = History{Name: "the log", Spells: []Spell{{22, 1.5}, {38, 0.1}, {4, 0.05}, {27.5, 2}, {51, 0.01}}}

// What a history uses of a life against R, where each quantity is held and the
// rest fitted by lm and optimize; the script and its output stand in
// testdata/reference/climate.
func TestHistoryReference(t *testing.T) {
	got := map[string]Exposure{}
	energies := map[string]float64{}
	for _, name := range []string{"zero3", "first4", "zero4", "first3", "root3", "percent0", "change0", "own1", "humid"} {
		in := referenceInput(t, name)
		in.Histories, in.Storage = []History{travelled}, &Target{25, nan}
		if name == "humid" {
			in.Storage.Humidity = 60
		}
		r := Fit(in)
		got[name], energies[name] = r.Exposures[0], r.EaKJ
	}
	for name, own := range map[string]bool{"units": false, "units-own": true} {
		in := UnitRatesInput{Conditions: dry(25, 30, 40), Upper: 5, Confidence: 0.95, ByBatch: own, Histories: []History{travelled}, Storage: &Target{25, nan}}
		for _, row := range reference.Rows(t, "climate/unitrates.csv") {
			condition := map[string]int{"25": 0, "30": 1, "40": 2}[row[1]]
			in.Units = append(in.Units, UnitRate{Batch: int(reference.Number(t, row[0])), Condition: condition, PerMonth: reference.Number(t, row[2])})
		}
		r := FitUnitRates(in)
		got[name], energies[name] = r.Exposures[0], r.EaKJ
	}
	worst := 0.0
	for _, row := range reference.Rows(t, "climate/history.csv") {
		e, want := got[row[0]], reference.Number(t, row[2])
		value := map[string]float64{
			"ea": energies[row[0]], "equivalent": e.Equivalent, "equivalent_low": e.EquivalentLow, "equivalent_high": e.EquivalentHigh, "mkt": e.MeanKinetic,
			"batch": float64(e.Batch), "used": e.Used, "used_bound": e.UsedBound, "left": e.Left, "left_bound": e.LeftBound,
		}[row[1]]
		if want != 0 {
			worst = max(worst, math.Abs(value/want-1))
		}
		if !(math.Abs(value-want) <= 2e-6*math.Abs(want)) {
			t.Errorf("%s %s = %.10g, R has %.10g", row[0], row[1], value, want)
		}
	}
	t.Logf("largest relative difference %.1e", worst)
}

// A steady history is a prediction: it uses its months over the life there, by
// estimate and bound, and leaves the rest; in spells, it is as long at its own
// temperature as it is.
func TestSteadyHistory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, in := drawNoisy(t)
		celsius := rapid.SampledFrom([]float64{5, 25, 42, 55}).Draw(t, "celsius")
		months := math.Pow(10, rapid.Float64Range(-2, 1.5).Draw(t, "log months"))
		in.At = []Target{{celsius, nan}}
		in.Storage = &in.At[0]
		in.Histories = []History{{Spells: []Spell{{celsius, months / 4}, {celsius, 0}, {celsius, 3 * months / 4}}}}
		r := Fit(in)
		if r.Status != Fitted {
			return
		}
		p, e := r.Predictions[0], r.Exposures[0]
		near(t, "months", e.Months, months, 1e-12)
		for what, got := range map[string]float64{"equivalent": e.Equivalent, "low": e.EquivalentLow, "high": e.EquivalentHigh} {
			near(t, what, got, months, 1e-9)
		}
		if r.EaKJ > 0 {
			near(t, "mean kinetic", e.MeanKinetic, celsius, 1e-9)
		}
		near(t, "used", e.Used, months/p.Estimate, 1e-6)
		near(t, "most used", e.UsedBound, months/p.ShelfLife, 1e-6)
		rest := func(what string, got, life float64) {
			if want := max(0, life-months); got != want && !(math.Abs(got-want) <= 1e-6*life) {
				t.Fatalf("%s = %v, want %v", what, got, want)
			}
		}
		// The least left is of the batch that is worst for it, and so may be less.
		if !(e.Left <= p.Estimate*(1+1e-9)) {
			t.Fatalf("%v left of %v", e.Left, p.Estimate)
		}
		rest("least left", e.LeftBound, p.ShelfLife)
	})
}

// Time makes no difference but by its length: spells in parts and in another order
// are the same, and more of them use more and leave less. The interval of what a
// history is worth holds all that the interval of Ea allows.
func TestHistoryAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, in := drawNoisy(t)
		in.Storage = &Target{25, nan}
		spell := rapid.Custom(func(t *rapid.T) Spell {
			return Spell{rapid.Float64Range(-10, 55).Draw(t, "celsius"), rapid.Float64Range(0.001, 3).Draw(t, "months")}
		})
		spells := rapid.SliceOfN(spell, 1, 6).Draw(t, "spells")
		var parts []Spell
		for _, s := range rapid.Permutation(spells).Draw(t, "order") {
			parts = append(parts, Spell{s.Celsius, s.Months / 3}, Spell{s.Celsius, 2 * s.Months / 3})
		}
		more := append(append([]Spell{}, spells...), spell.Draw(t, "more"))
		in.Histories = []History{{Spells: spells}, {Spells: parts}, {Spells: more}}
		r := Fit(in)
		if r.Status != Fitted {
			return
		}
		a, b, c := r.Exposures[0], r.Exposures[1], r.Exposures[2]
		near(t, "equivalent", b.Equivalent, a.Equivalent, 1e-9)
		near(t, "used", b.Used, a.Used, 1e-9)
		near(t, "most used", b.UsedBound, a.UsedBound, 1e-6)
		if !(c.Used >= a.Used*(1-1e-9)) || !(c.UsedBound >= a.UsedBound*(1-1e-6)) || !(c.Left <= a.Left*(1+1e-9)) || !(c.LeftBound <= a.LeftBound*(1+1e-6)+1e-6) || !(c.Equivalent >= a.Equivalent*(1-1e-9)) {
			t.Fatalf("%+v, with more %+v", a, c)
		}
		for _, e := range r.Exposures {
			if math.IsNaN(e.UsedBound) || e.UsedBound < e.Used || e.LeftBound > e.Left || e.LeftBound < 0 || e.EquivalentLow > e.Equivalent || e.EquivalentHigh < e.Equivalent {
				t.Fatalf("%+v", e)
			}
		}
		if math.IsInf(r.EaLow, 0) || math.IsInf(r.EaHigh, 0) {
			return
		}
		least, most := inf, 0.0
		for i := range 1001 {
			ea := r.EaLow + (r.EaHigh-r.EaLow)*float64(i)/1000
			worth := 0.0
			for _, s := range spells {
				power := 1.0
				if in.Model == study.SquareRootTime {
					power = 2
				}
				worth += s.Months * math.Exp(-power*ea*1000/GasConstant*(1/(s.Celsius+273.15)-1/298.15))
			}
			least, most = min(least, worth), max(most, worth)
		}
		if !(a.EquivalentLow <= least*(1+1e-9)) || !(a.EquivalentLow >= least*(1-1e-3)) {
			t.Fatalf("low %v, the grid's %v", a.EquivalentLow, least)
		}
		near(t, "high", a.EquivalentHigh, most, 1e-9)
	})
}

// Where the range of Ea holds a place at which the time that a history is worth is
// least, the low end is there and at neither end of the range. By hand: 10 and 40 °C about
// a storage temperature of 25 °C are worth least where the two slopes cancel.
func TestWorthTurnsWithinTheRange(t *testing.T) {
	in := referenceInput(t, "wide")
	in.Histories, in.Storage = []History{{Spells: []Spell{{10, 1}, {40, 1}}}}, &Target{25, nan}
	r := Fit(in)
	if r.Status != Fitted || !(r.EaLow < 0) {
		t.Fatalf("%s, Ea from %v", r.Status, r.EaLow)
	}
	a, b := 1000/GasConstant*(1/283.15-1/298.15), 1000/GasConstant*(1/298.15-1/313.15)
	turn := math.Log(a/b) / (a + b) // −a·e^(−a·Ea) + b·e^(b·Ea) = 0
	if !(turn > r.EaLow && turn < r.EaHigh) {
		t.Fatalf("turns at %v, outside %v to %v", turn, r.EaLow, r.EaHigh)
	}
	want := math.Exp(-a*turn) + math.Exp(b*turn)
	if e := r.Exposures[0]; math.Abs(e.EquivalentLow-want) > 1e-6 || want > 2 {
		t.Errorf("low %v, want %v", e.EquivalentLow, want)
	}
}

// Against a search at random over all that the allowance permits.
func TestHistoryBoundIsTheMost(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for k := range uint64(6) {
		w := balm(0.4+0.1*float64(k), 25, 30, 40, 50)
		humidity := k%2 == 1
		if humidity {
			w.conditions[3].Celsius = 40
			for i, h := range []float64{60, 65, 75, 25} {
				w.conditions[i].Humidity = h
			}
		}
		in := w.seeded(k)
		in.Histories, in.Storage = []History{travelled}, &Target{25, 60}
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
		v, _ := f.vary(&travelled, 60, 1)
		u, h := f.at(*in.Storage)
		at := steady{u, h}
		q := linear.StudentQuantile(0.95, f.df)
		level := f.excess + f.sse*q*q/float64(f.df)
		limit := limits(&in, f.model)[0]
		most, least := 0.0, inf
		for range 40000 {
			ea, damp := f.ea+8*r.EaSE*(random.Float64()-0.5), 0.0
			if humidity {
				damp = f.b + 8*r.HumiditySE*(random.Float64()-0.5)
			}
			p := f.look(ea, damp)
			if p.excess > level {
				continue
			}
			room := level - p.excess
			for batch := range f.free.batches {
				c := f.crossing(batch, limit, p, room)
				x, s := math.Exp(v.logExtent(ea, damp)), math.Exp(at.logExtent(ea, damp))
				most = max(most, x/math.Exp(c))
				least = min(least, (math.Exp(c)-x)/s)
			}
		}
		e := r.Exposures[0]
		if most > e.UsedBound*(1+1e-9) || most < e.UsedBound*0.97 {
			t.Errorf("study %d: used %v at the most, by search %v", k, e.UsedBound, most)
		}
		if least < e.LeftBound*(1-1e-9) || least > e.LeftBound*1.03 {
			t.Errorf("study %d: left %v at the least, by search %v", k, e.LeftBound, least)
		}
	}
}

// Where nothing bounds Ea, nothing bounds what happens beyond the temperatures
// studied, and what happens within them is bounded.
func TestHistoryWithOpenEnergy(t *testing.T) {
	in := balm(0, 40, 45, 50).seeded(1)
	in.Points = nil
	for c := range in.Conditions {
		for i, scatter := range []float64{0.1, -0.1, -0.1, 0.1, 0.1, -0.1} {
			months := float64(i + 1)
			in.Points = append(in.Points, Point{0, c, months, 100 - 0.01*months + scatter})
		}
	}
	in.Storage = &Target{43, nan}
	in.Histories = []History{
		{Spells: []Spell{{42, 1}, {48, 1}}},
		{Name: "the log", Spells: []Spell{{42, 1}, {51, 0.001}}},
		{Name: "the lane", Spells: []Spell{{42, 1}, {-5, 1}}},
	}
	r := Fit(in)
	if !math.IsInf(r.EaLow, -1) || !math.IsInf(r.EaHigh, 1) {
		t.Fatalf("Ea %v to %v", r.EaLow, r.EaHigh)
	}
	if e := r.Exposures[0]; !(e.UsedBound < 10) || e.UsedBound < e.Used {
		t.Errorf("within: %+v", e)
	}
	for i, e := range r.Exposures {
		if !math.IsInf(e.EquivalentHigh, 1) {
			t.Errorf("%d: worth %v at the most, and the storage lies within", i, e.EquivalentHigh)
		}
	}
	for _, e := range r.Exposures[1:] {
		if !math.IsInf(e.UsedBound, 1) || e.LeftBound != 0 || !(e.Left > 0) {
			t.Errorf("beyond: %+v", e)
		}
	}
	if c := codes(r); !strings.Contains(c, "hotter-than-studied") || !strings.Contains(c, "colder-than-studied") {
		t.Error(c)
	}
}

// What a history is told of, and where it ends.
func TestHistoryEnds(t *testing.T) {
	in := balm(0.3, 30, 40, 50).seeded(1)
	in.Storage = &Target{30, nan}
	in.Histories = []History{
		{Name: "the log", Spells: []Spell{{35, 1}, {55, 0.01}, {10, 0.5}}},
		{Name: "the lane", Spells: []Spell{{35, 1}}},
		{Name: "nothing", Spells: []Spell{{35, 0}}},
		{Name: "part", Part: true, Spells: []Spell{{55, 0.01}}},
	}
	r := Fit(in)
	e := r.Exposures[0]
	if math.Abs(e.Above-0.01/1.51) > 1e-12 || math.Abs(e.Below-0.5/1.51) > 1e-12 || e.Coldest != 10 || e.Hottest != 55 || !(e.AboveAgeing > e.Above) {
		t.Errorf("%+v", e)
	}
	if c := codes(r); c != "hotter-than-studied colder-than-studied history-not-judged" {
		t.Error(c)
	}
	if !math.IsNaN(r.Exposures[2].Used) || !strings.Contains(r.Warnings[2].Text, "What nothing does could not be judged: it has no length.") {
		t.Errorf("%+v", r.Exposures[2])
	}
	if text := r.Warnings[0].Text; !strings.HasPrefix(text, "0.7 % of the time in the log, and ") || !strings.Contains(text, "above 50 °C") {
		t.Error(text)
	}
	// A limit that is met at the start, one that is never met, and none.
	in.Histories = in.Histories[1:2]
	in.Lower = 102
	if e := Fit(in).Exposures[0]; !math.IsInf(e.Used, 1) || !math.IsInf(e.UsedBound, 1) || e.Left != 0 || e.LeftBound != 0 {
		t.Errorf("breached at the start: %+v", e)
	}
	in.Lower, in.Upper = -inf, 110
	if e := Fit(in).Exposures[0]; e.Used != 0 || e.UsedBound != 0 || !math.IsInf(e.Left, 1) || !math.IsInf(e.LeftBound, 1) || e.Batch != -1 {
		t.Errorf("moves away: %+v", e)
	}
	in.Upper = inf
	if e := Fit(in).Exposures[0]; !math.IsNaN(e.Used) || !math.IsNaN(e.Left) || !(e.Equivalent > 1) {
		t.Errorf("no limit: %+v", e)
	}
	in.Lower, in.Storage = 90, nil
	if e := Fit(in).Exposures[0]; !math.IsNaN(e.Equivalent) || !math.IsNaN(e.LeftBound) || !(e.UsedBound > e.Used) {
		t.Errorf("no storage: %+v", e)
	}
	// A history that outlasts the life leaves nothing.
	in.Storage, in.Histories[0].Spells = &Target{30, nan}, []Spell{{50, 12}}
	if e := Fit(in).Exposures[0]; !(e.Used > 1) || e.Left != 0 || e.LeftBound != 0 {
		t.Errorf("outlasted: %+v", e)
	}
}

// Whatever the data, what a history uses is a number, in its order.
func TestHistoryNeverNaN(t *testing.T) {
	judged := 0
	rapid.Check(t, func(t *rapid.T) {
		in := Input{ByBatch: rapid.Bool().Draw(t, "by batch"), Confidence: rapid.SampledFrom([]float64{0.5, 0.95}).Draw(t, "confidence"),
			Lower: rapid.SampledFrom([]float64{-inf, 90}).Draw(t, "lower"), Upper: rapid.SampledFrom([]float64{inf, 110}).Draw(t, "upper"),
			Model:     rapid.SampledFrom([]study.Model{study.ZeroOrder, study.FirstOrder, study.SquareRootTime}).Draw(t, "model"),
			Histories: []History{travelled, {Spells: []Spell{{rapid.Float64Range(-190, 190).Draw(t, "celsius"), math.Pow(10, rapid.Float64Range(-9, 4).Draw(t, "log months"))}}}},
		}
		if rapid.Bool().Draw(t, "stored") {
			in.Storage = &Target{rapid.Float64Range(-80, 40).Draw(t, "storage"), rapid.SampledFrom([]float64{nan, 60}).Draw(t, "humidity")}
		}
		in.Conditions = rapid.SampledFrom([][]Condition{dry(25, 40), dry(5, 25, 40), {{"a", 25, 60}, {"b", 40, 75}, {"c", 40, 25}}}).Draw(t, "conditions")
		w := truth{model: kinetics.ZeroOrder, sign: -1, starts: []float64{100, 98}[:rapid.IntRange(1, 2).Draw(t, "batches")], rate: rapid.Float64Range(0.1, 3).Draw(t, "rate"),
			ea: rapid.Float64Range(-30, 150).Draw(t, "ea"), conditions: in.Conditions, times: []float64{1, 3, 6}, sd: rapid.SampledFrom([]float64{0, 0.3, 3}).Draw(t, "sd")}
		in.Points = w.points(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2)))
		r := Fit(in)
		if r.Status != Fitted {
			return
		}
		judged++
		for _, e := range r.Exposures {
			limited, stored := !math.IsInf(in.Lower, 0) || !math.IsInf(in.Upper, 0), in.Storage != nil
			if limited != !math.IsNaN(e.Used) || limited && !(0 <= e.Used && e.Used <= e.UsedBound) ||
				stored != !math.IsNaN(e.Equivalent) || stored && !(0 <= e.EquivalentLow && e.EquivalentLow <= e.Equivalent && e.Equivalent <= e.EquivalentHigh) ||
				(limited && stored) != !math.IsNaN(e.Left) || limited && stored && !(0 <= e.LeftBound && e.LeftBound <= e.Left) ||
				(r.EaKJ > 1e-3) && !(e.MeanKinetic >= e.Coldest-1e-6 && e.MeanKinetic <= e.Hottest+1e-6) || !(e.Above+e.Below <= 1+1e-12) || !(e.AboveAgeing >= 0 && e.AboveAgeing <= 1+1e-12) {
				t.Fatalf("Ea %v (%v to %v): %+v", r.EaKJ, r.EaLow, r.EaHigh, e)
			}
		}
	})
	if judged == 0 {
		t.Error("nothing was judged")
	}
}

// The most that a history uses covers the truth as often as it says: of 500 studies
// of one batch, made up from a known truth, within three binomial standard errors
// of 95 %. The interval of what it is worth does so too.
func TestHistoryCoverage(t *testing.T) {
	const studies, confidence = 500, 0.95
	w := balm(0.6, 25, 30, 40, 50)
	w.starts = w.starts[:1]
	trueWorth, trueUsed := 0.0, 0.0
	for _, s := range travelled.Spells {
		trueWorth += s.Months * w.rateAt(s.Celsius) / w.rateAt(25)
		trueUsed += s.Months * w.rateAt(s.Celsius) / (100 - 90)
	}
	used, left, worth := 0, 0, 0
	for seed := range uint64(studies) {
		in := w.seeded(seed + 1000)
		in.Confidence = confidence
		in.Histories, in.Storage, in.At = []History{travelled}, &Target{25, nan}, nil
		e := Fit(in).Exposures[0]
		if e.UsedBound >= trueUsed {
			used++
		}
		if e.LeftBound <= 10/w.rateAt(25)-trueWorth {
			left++
		}
		if e.EquivalentLow <= trueWorth && trueWorth <= e.EquivalentHigh {
			worth++
		}
	}
	se := math.Sqrt(confidence * (1 - confidence) / studies)
	for what, n := range map[string]int{"used": used, "left": left, "worth": worth} {
		if share := float64(n) / studies; math.Abs(share-confidence) > 3*se {
			t.Errorf("%s: %.3f covered", what, share)
		} else {
			t.Logf("%s: %.3f covered", what, share)
		}
	}
}
