package climate

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/arrhenius"
	"shelfspan/study/logger"
)

var inf = math.Inf(1)

const minute = int64(60_000)

// within are settings without limits.
func within() Settings {
	return Settings{EnergyKJ: Conventional, Lower: -inf, Upper: inf, Spells: true}
}

// at is a reading some minutes after the first.
func at(minutes float64, celsius float64) logger.Reading {
	milli := int64(minutes * float64(minute))
	return logger.Reading{Elapsed: milli, At: logger.Stamp{Milli: milli}, Celsius: celsius}
}

func record(s Settings, readings ...logger.Reading) *Record {
	r := NewRecorder(s)
	for _, x := range readings {
		r.Add(x)
	}
	return r.Finish()
}

func near(t rapid.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

// By arithmetic: with θ = 83144/8.314462618 = 9999.925 K, half of the time at
// 20 °C and half at 30 °C is
// 9999.925 / −ln((e^(−9999.925/293.15) + e^(−9999.925/303.15))/2) − 273.15.
func TestByHand(t *testing.T) {
	h := func(celsius ...float64) (h []arrhenius.Spell) {
		for _, c := range celsius {
			h = append(h, arrhenius.Spell{Celsius: c, Months: 0.5})
		}
		return h
	}
	near(t, "20 and 30 °C", MeanKinetic(h(20, 30), Conventional), 26.2598777117147, 1e-9)
	near(t, "5, 25 and 40 °C", MeanKinetic(h(5, 25, 40), Conventional), 31.4074413225852, 1e-9)
	// Without any dependence on temperature the harmonic mean is left, and with
	// all too much the hottest alone.
	near(t, "a small energy", MeanKinetic(h(20, 30), 1e-6), 2/(1/293.15+1/303.15)-273.15, 1e-5)
	near(t, "a large energy", MeanKinetic(h(20, 30), 1e6), 30, 1e-3)
	if !math.IsNaN(MeanKinetic(nil, Conventional)) {
		t.Error("nothing has a mean")
	}
}

// Against R: testdata/reference/climate/kinetic.R.
func TestReference(t *testing.T) {
	rows := func(name string) [][]string {
		f, err := os.Open("../../testdata/reference/climate/" + name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		return rows[1:]
	}
	number := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	recorders := map[string]*Recorder{
		"room":    NewRecorder(Settings{EnergyKJ: 83.144, Upper: 25, Lower: 19, Gap: 24 * hour, Spells: true}),
		"lane":    NewRecorder(Settings{EnergyKJ: 83.144, Upper: 25, Lower: 10, Gap: 6 * hour, Spells: true}),
		"freezer": NewRecorder(Settings{EnergyKJ: 120.5, Upper: -15, Lower: -25, Gap: hour, Spells: true}),
	}
	for _, row := range rows("readings.csv") {
		milli := int64(number(row[1]))
		recorders[row[0]].Add(logger.Reading{Elapsed: milli, At: logger.Stamp{Milli: milli}, Celsius: number(row[2])})
	}
	records := map[string]*Record{}
	for name, r := range recorders {
		records[name] = r.Finish()
	}
	longest := func(r *Record, above bool) (h float64) {
		for _, e := range r.Excursions {
			if e.Above == above {
				h = max(h, e.Hours)
			}
		}
		return h
	}
	for _, row := range rows("kinetic.csv") {
		r := records[row[0]]
		got := map[string]float64{
			"mkt": r.MeanKinetic, "mean": r.Mean, "hours": r.Hours, "gaps": float64(r.GapCount),
			"above_hours": r.Above.Hours, "above_count": float64(r.Above.Count), "above_longest": longest(r, true),
			"below_hours": r.Below.Hours, "below_count": float64(r.Below.Count), "below_longest": longest(r, false),
		}[row[1]]
		near(t, row[0]+" "+row[1], got, number(row[2]), 1e-9*(1+math.Abs(number(row[2]))))
		if row[1] == "mkt" {
			near(t, row[0]+" by its spells", MeanKinetic(r.Spells(), r.EnergyKJ), number(row[2]), 1e-9*30)
		}
	}
}

// A made-up history: irregular, with repeats.
func drawReadings(t *rapid.T) []logger.Reading {
	n := rapid.IntRange(2, 200).Draw(t, "n")
	random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
	out, milli := make([]logger.Reading, n), int64(0)
	celsius := rapid.Float64Range(-80, 60).Draw(t, "celsius")
	for i := range out {
		out[i] = logger.Reading{Elapsed: milli, At: logger.Stamp{Milli: milli}, Celsius: math.Round(celsius*10) / 10}
		milli += random.Int64N(4) * 5 * minute
		celsius += random.NormFloat64()
	}
	out[n-1].Elapsed += minute
	out[n-1].At.Milli += minute
	return out
}

func whole(s Settings) Settings {
	s.Gap = 1 << 60 // nothing is a gap
	return s
}

func TestConstantGivesItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := drawReadings(t)
		celsius := rapid.Float64Range(-200, 150).Draw(t, "constant")
		for i := range xs {
			xs[i].Celsius = celsius
		}
		s := whole(within())
		s.EnergyKJ = rapid.Float64Range(1, 500).Draw(t, "energy")
		r := record(s, xs...)
		near(t, "kinetic mean", r.MeanKinetic, celsius, 1e-12*300)
		if r.Mean != celsius || r.Min.Celsius != celsius || r.Max.Celsius != celsius {
			t.Errorf("%v: mean %v, %v to %v", celsius, r.Mean, r.Min.Celsius, r.Max.Celsius)
		}
	})
}

// The mean kinetic temperature lies between the mean and the hottest where the
// energy is more than 2·R·T, for e^(−θ/T) is convex in T up to T = θ/2.
func TestKineticIsAboveTheMean(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := whole(within())
		s.EnergyKJ = rapid.Float64Range(10, 300).Draw(t, "energy")
		r := record(s, drawReadings(t)...)
		if !(r.MeanKinetic >= r.Mean-1e-9) || !(r.MeanKinetic <= r.Max.Celsius+1e-9) {
			t.Fatalf("kinetic %v, mean %v, hottest %v", r.MeanKinetic, r.Mean, r.Max.Celsius)
		}
		near(t, "by spells", MeanKinetic(r.Spells(), s.EnergyKJ), r.MeanKinetic, 1e-8)
		months := 0.0
		for _, x := range r.Spells() {
			months += x.Months
		}
		near(t, "months", months*30.4375*24, r.Hours, 1e-9*r.Hours)
	})
}

// A reading more on the line between two, which splits their interval, changes no
// time outside, and repeating every reading at its own time changes nothing.
func TestSplittingAnInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := drawReadings(t)
		s := whole(within())
		s.Upper = xs[0].Celsius + rapid.Float64Range(-1, 1).Draw(t, "upper")
		s.Lower = s.Upper - rapid.Float64Range(0.01, 2).Draw(t, "width")
		before := record(s, xs...)

		var twice []logger.Reading
		for _, x := range xs {
			twice = append(twice, x, x)
		}
		after := record(s, twice...)
		near(t, "kinetic mean of repeats", after.MeanKinetic, before.MeanKinetic, 1e-9)
		near(t, "mean of repeats", after.Mean, before.Mean, 1e-9)

		// Split where nothing changes: a constant stretch.
		i := rapid.IntRange(0, len(xs)-2).Draw(t, "at")
		part := rapid.Float64Range(0, 1).Draw(t, "part")
		middle := xs[i]
		middle.Elapsed += int64(part * float64(xs[i+1].Elapsed-xs[i].Elapsed))
		middle.At.Milli = middle.Elapsed
		split := append(append(append([]logger.Reading{}, xs[:i+1]...), middle), xs[i+1:]...)
		if middle.Elapsed > xs[i].Elapsed {
			f := float64(middle.Elapsed-xs[i].Elapsed) / float64(xs[i+1].Elapsed-xs[i].Elapsed)
			split[i+1].Celsius += f * (xs[i+1].Celsius - xs[i].Celsius)
		}
		after = record(s, split...)
		near(t, "mean", after.Mean, before.Mean, 1e-9)
		near(t, "hours", after.Hours, before.Hours, 0)
		near(t, "hours above", after.Above.Hours, before.Above.Hours, 1e-9*(1+before.Hours))
		near(t, "hours below", after.Below.Hours, before.Below.Hours, 1e-9*(1+before.Hours))
		if after.MeanKinetic > before.MeanKinetic+1e-9 {
			t.Fatalf("the line between two readings is no hotter than half of each: %v, was %v", after.MeanKinetic, before.MeanKinetic)
		}
		xs[i+1].Celsius = xs[i].Celsius
		split[i+1].Celsius, split[i+2].Celsius = xs[i].Celsius, xs[i].Celsius
		near(t, "kinetic mean of a constant stretch", record(s, split...).MeanKinetic, record(s, xs...).MeanKinetic, 1e-9)
	})
}

// What is counted adds up: the time outside is that of the excursions, and a
// history told backwards is as warm.
func TestTimeAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := drawReadings(t)
		s := within()
		s.Upper = xs[0].Celsius + rapid.Float64Range(-1, 1).Draw(t, "upper")
		s.Lower = s.Upper - rapid.Float64Range(0.01, 2).Draw(t, "width")
		s.Gap = rapid.Int64Range(6, 20).Draw(t, "gap") * minute
		r := record(s, xs...)
		near(t, "counted and gaps", r.Hours+r.GapHours, r.Span, 1e-9*(1+r.Span))
		above, below := 0.0, 0.0
		for i, e := range r.Excursions {
			side := &below
			if e.Above {
				side = &above
			}
			*side += e.Hours
			if i > 0 && e.begin < r.Excursions[i-1].begin {
				t.Fatal("excursions out of order")
			}
			if e.Above && (!(e.Peak.Celsius > s.Upper) || e.Peak.Celsius > r.Max.Celsius) || !e.Above && !(e.Peak.Celsius < s.Lower) {
				t.Fatalf("%+v beyond %v and %v", e, s.Upper, s.Lower)
			}
			near(t, "length", float64(e.End.Milli-e.Start.Milli)/hour, e.Hours, 1e-3)
			if e.Hours > 0 && (e.MeanKinetic < e.Mean-1e-9 || math.Abs(e.Mean-e.Peak.Celsius) > 50) {
				t.Fatalf("%+v", e)
			}
		}
		near(t, "above", above, r.Above.Hours, 1e-9*(1+r.Span))
		near(t, "below", below, r.Below.Hours, 1e-9*(1+r.Span))
		months := 0.0
		for _, x := range r.SpellsAbove() {
			if months += x.Months; x.Celsius < s.Upper-1e-9 {
				t.Fatalf("%v °C above %v", x.Celsius, s.Upper)
			}
		}
		near(t, "spells above", months*30.4375*24, r.Above.Hours, 1e-9*(1+r.Span))

		last := xs[len(xs)-1].Elapsed
		var back []logger.Reading
		for i := len(xs) - 1; i >= 0; i-- {
			x := xs[i]
			x.Elapsed = last - x.Elapsed
			x.At.Milli = x.Elapsed
			back = append(back, x)
		}
		b := record(s, back...)
		if r.Hours > 0 {
			near(t, "kinetic mean backwards", b.MeanKinetic, r.MeanKinetic, 1e-9)
		}
		near(t, "above backwards", b.Above.Hours, r.Above.Hours, 1e-9*(1+r.Span))
		if b.Above.Count != r.Above.Count || b.GapCount != r.GapCount {
			t.Fatalf("%d excursions, %d backwards", r.Above.Count, b.Above.Count)
		}
	})
}

// By hand: 10 to 30 °C in an hour crosses 25 °C after 45 minutes and comes back
// in the first 15 of the next.
func TestExcursions(t *testing.T) {
	s := within()
	s.Upper, s.Lower, s.Gap = 25, 12, 10*hour
	r := record(s, at(0, 10), at(60, 30), at(120, 10), at(180, 25), at(1000, 26), at(1060, 27))
	type seen struct {
		above        bool
		start, end   float64 // minutes
		known, ended bool
		peak, mean   float64
	}
	want := []seen{
		{false, 0, 6, false, true, 10, 11},
		{true, 45, 75, true, true, 30, 27.5},
		{false, 114, 128, true, true, 10, 11},
		{true, 1000, 1060, false, false, 27, 26.5},
	}
	if len(r.Excursions) != len(want) || r.GapCount != 1 || r.Gaps[0].Hours != 820.0/60 || r.Gaps[0].From.Milli != 180*minute || r.Gaps[0].To.Milli != 1000*minute {
		t.Fatalf("%+v, %+v", r.Excursions, r.Gaps)
	}
	for i, e := range r.Excursions {
		got := seen{e.Above, float64(e.Start.Milli) / 60_000, float64(e.End.Milli) / 60_000, e.StartsKnown, e.EndsKnown, e.Peak.Celsius, e.Mean}
		if got != want[i] {
			t.Errorf("%+v, want %+v", got, want[i])
		}
	}
	near(t, "above", r.Above.Hours, 1.5, 1e-12)
	near(t, "below", r.Below.Hours, 20.0/60, 1e-12)
	near(t, "counted", r.Hours, 4, 0)
	near(t, "left out", r.GapHours, 820.0/60, 1e-12)
	if len(r.Warnings) != 1 || r.Warnings[0].Code != "gaps" || r.Warnings[0].Text != "An interval longer than 600 min is a gap and is left out, 13.7 h of 17.7 h in all: nothing is known of how warm it was." {
		t.Errorf("%+v", r.Warnings)
	}
	// On the limit is within it.
	if r := record(s, at(0, 25), at(60, 25), at(120, 12), at(180, 12)); len(r.Excursions) > 0 || r.Above.Hours+r.Below.Hours > 0 {
		t.Errorf("%+v", r.Excursions)
	}
	if r.Max != (Extreme{30, logger.Stamp{Milli: 60 * minute}}) || r.Min.At.Milli != 0 {
		t.Errorf("%+v %+v", r.Min, r.Max)
	}
}

// What is a gap is judged by the steps about it.
func TestGaps(t *testing.T) {
	series := func(steps ...float64) (xs []logger.Reading) {
		now := 0.0
		xs = append(xs, at(0, 20))
		for _, s := range steps {
			now += s
			xs = append(xs, at(now, 20))
		}
		return xs
	}
	times := func(n int, step float64) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = step
		}
		return out
	}
	join := func(parts ...[]float64) (all []float64) {
		for _, p := range parts {
			all = append(all, p...)
		}
		return all
	}
	for _, c := range []struct {
		name  string
		steps []float64
		gaps  int
		step  float64
	}{
		{"two readings", times(1, 600), 0, 600},
		{"regular", times(200, 10), 0, 10},
		{"five steps are none, more are one", join(times(100, 10), []float64{50}, times(100, 10), []float64{51}, times(100, 10)), 1, 10},
		{"at the start and at the end", join([]float64{600}, times(100, 10), []float64{600}), 2, 10},
		{"another step from then on", join(times(100, 1), times(100, 60)), 0, 1},
		{"a slower start", join(times(100, 60), times(300, 1)), 0, 1},
		{"faster for a while", join(times(100, 60), times(45, 1), times(100, 60)), 0, 60},
		{"two a minute, written to the minute", join(times(0, 0), []float64{0, 1, 0, 1, 0, 1, 0, 1, 0, 7, 0, 1, 0, 1}), 1, 1},
		{"of two the shorter is usual", []float64{10, 3000}, 1, 10},
	} {
		r := record(within(), series(c.steps...)...)
		if r.GapCount != c.gaps || r.Step != c.step {
			t.Errorf("%s: %d gaps, step %v, want %d and %v", c.name, r.GapCount, r.Step, c.gaps, c.step)
		}
	}
	s := within()
	s.Gap = 5 * minute
	if r := record(s, series(times(10, 10)...)...); r.GapCount != 10 || r.Hours != 0 || !math.IsNaN(r.MeanKinetic) || !math.IsNaN(r.Mean) || r.Warnings[0].Code != "no-time-counted" {
		t.Errorf("%+v", r)
	}
	if r := record(within()); r.Readings != 0 || !math.IsNaN(r.MeanKinetic) || !math.IsNaN(r.Max.Celsius) {
		t.Errorf("%+v", r)
	}
}

// The window of steps holds what a plain slice would.
func TestUsualStep(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := rapid.SliceOfN(rapid.Int64Range(0, 5), 1, 200).Draw(t, "steps")
		var s steps
		for i, step := range all {
			s.push(step)
			var window []int64
			for _, x := range all[max(0, i-2*reach) : i+1] {
				if x > 0 {
					window = append(window, x)
				}
			}
			want := int64(0)
			for _, x := range window { // the lower median: as many below as there is room for
				below, upTo := 0, 0
				for _, y := range window {
					if y < x {
						below++
					}
					if y <= x {
						upTo++
					}
				}
				if k := (len(window) - 1) / 2; below <= k && k < upTo {
					want = x
				}
			}
			if s.usual() != want {
				t.Fatalf("step %d: %d, want %d", i, s.usual(), want)
			}
		}
	})
}

// The strip holds every reading in its stretch and nothing else, and is whole
// where nothing is left out.
func TestStrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := drawReadings(t)
		r := record(whole(within()), xs...)
		if len(r.Strip.Bands) > mostBands {
			t.Fatalf("%d bands", len(r.Strip.Bands))
		}
		low, high := inf, -inf
		for _, b := range r.Strip.Bands {
			if math.IsNaN(b.Low) || b.Low > b.High {
				t.Fatalf("%v", b)
			}
			low, high = min(low, b.Low), max(high, b.High)
		}
		if low != r.Min.Celsius || high != r.Max.Celsius {
			t.Fatalf("%v to %v, of %v to %v", low, high, r.Min.Celsius, r.Max.Celsius)
		}
		for _, x := range xs {
			if b := r.Strip.Bands[x.Elapsed/r.Strip.Milli]; x.Celsius < b.Low || x.Celsius > b.High {
				t.Fatalf("%v outside %v", x, b)
			}
		}
	})
	s := within()
	s.Gap = 20 * minute
	if r := record(s, at(0, 20), at(10, 20), at(100, 20), at(110, 20)); !math.IsNaN(r.Strip.Bands[len(r.Strip.Bands)/2].Low) {
		t.Error("a gap is drawn")
	}
}

// A record of many excursions lists the first and counts all.
func TestManyExcursions(t *testing.T) {
	s := within()
	s.Upper = 20
	r := NewRecorder(s)
	for i := range 2*mostListed + 100 {
		r.Add(at(float64(i), 19.5+float64(i%2)))
	}
	got := r.Finish()
	if len(got.Excursions) != mostListed || got.MoreOutside != 50 || got.Above.Count != mostListed+50 {
		t.Errorf("%d listed, %d more, %d in all", len(got.Excursions), got.MoreOutside, got.Above.Count)
	}
	// From 19.5 to 20.5 and back half of the time is above.
	near(t, "hours above", got.Above.Hours, float64(2*mostListed+99)/120, 1e-6)
}

// BenchmarkRecorder5M is five million readings on one core, with limits and
// spells.
func BenchmarkRecorder5M(b *testing.B) {
	const n = 5_000_000
	s := within()
	s.Upper, s.Lower = 25, 2
	b.ReportAllocs()
	for b.Loop() {
		r := NewRecorder(s)
		for i := range n {
			r.Add(logger.Reading{Elapsed: int64(i) * 1000, Celsius: 20 + float64(i%977)/100})
		}
		if r.Finish().Readings != n {
			b.Fatal("readings are lost")
		}
	}
	b.ReportMetric(n*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}
