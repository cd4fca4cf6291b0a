package weightloss_test

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/esd"
	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/tolerance"
	"shelfspan/analysis/units"
	"shelfspan/analysis/weightloss"
	"shelfspan/testdata/reference"
)

var level = tolerance.Level{Coverage: 0.95, Confidence: 0.95}

// weighed gives the units of each case as they were weighed, of 100 g net.
func weighed(t *testing.T) map[string][]weightloss.Unit {
	t.Helper()
	cases := map[string][]units.Unit{}
	for _, row := range reference.Table(t, "losses/weighings.csv") {
		us := cases[row["case"]]
		if len(us) == 0 || us[len(us)-1].Label != row["unit"] {
			us = append(us, units.Unit{Batch: int(reference.Number(t, row["batch"])) - 1, Label: row["unit"], Points: []kinetics.Point{{}}})
		}
		u := &us[len(us)-1]
		u.Points = append(u.Points, kinetics.Point{Months: reference.Number(t, row["months"]), Value: reference.Number(t, row["percent"])})
		cases[row["case"]] = us
	}
	out := map[string][]weightloss.Unit{}
	for name, us := range cases {
		for _, u := range us {
			w, ok := weightloss.New(u, 120, 100)
			if !ok {
				t.Fatalf("%s: unit %s has no rate", name, u.Label)
			}
			out[name] = append(out[name], w)
		}
	}
	return out
}

func labels(us []weightloss.Unit, of []int) string {
	var out []string
	for _, i := range of {
		out = append(out, us[i].Label)
	}
	slices.Sort(out)
	return strings.Join(out, " ")
}

func near(got, want, relative float64) bool {
	return got == want || math.Abs(got-want) <= relative*math.Abs(want)
}

// R: testdata/reference/losses/losses.R, rates and bends by lm.
func TestUnitsAgainstR(t *testing.T) {
	cases := weighed(t)
	seen := map[string]int{}
	for _, row := range reference.Table(t, "losses/rates.csv") {
		u := cases[row["case"]][seen[row["case"]]]
		seen[row["case"]]++
		bend := reference.Number(t, row["bend"])
		if row["case"] == "balm" {
			bend = 0 // masses are arithmetic, and R's bends the rounding of it
		}
		if u.Label != row["unit"] || !near(u.Rate, reference.Number(t, row["rate"]), 1e-10) || math.Abs(u.Bend-bend) > 1e-12 {
			t.Errorf("%s %s: %+v, want %v", row["case"], u.Label, u, row)
		}
		// 1 % of 100 g is 1 g.
		if u.Start != 120 || u.Whole != 100 || !near(u.Grams(), u.Rate, 1e-15) {
			t.Errorf("%s %s: %v g a month of %v %%", row["case"], u.Label, u.Grams(), u.Rate)
		}
	}
}

// R, factors by qt with ncp: testdata/reference/losses/losses.R. The leakers that
// are planted there are those that are found.
func TestPopulationsAgainstR(t *testing.T) {
	cases := weighed(t)
	for _, row := range reference.Table(t, "losses/populations.csv") {
		us := cases[row["case"]]
		if row["without"] == "TRUE" {
			us = weightloss.Without(us, weightloss.Leakers(us, 0.25).Leakers)
		}
		p, err := weightloss.Populate(us, 0.25, level, weightloss.Criterion{Lower: math.Inf(-1), Upper: 5})
		if err != nil {
			t.Fatal(err)
		}
		b := p.Batches[int(reference.Number(t, row["batch"]))-1]
		surer, err := weightloss.Populate(us, 0.25, tolerance.Level{Coverage: 0.99, Confidence: 0.90}, weightloss.Criterion{Lower: math.Inf(-1), Upper: 5})
		if err != nil {
			t.Fatal(err)
		}
		either, err := weightloss.Populate(us, 0.25, level, weightloss.Criterion{Lower: -1, Upper: 5})
		if err != nil {
			t.Fatal(err)
		}
		i := int(reference.Number(t, row["batch"])) - 1
		if string(p.Decision) != row["decision"] || float64(p.DF) != reference.Number(t, row["df"]) {
			t.Errorf("%s without %s: %s, %d df; R has %s, %s", row["case"], row["without"], p.Decision, p.DF, row["decision"], row["df"])
		}
		for _, c := range []struct {
			what, column string
			got          float64
		}{
			{"mean", "mean", b.Mean}, {"sd", "sd", p.SD}, {"k", "factor", b.Factor}, {"limit", "upper", b.Upper}, {"within", "within", b.Within},
			{"k at 0.99, 0.90", "factor99", surer.Batches[i].Factor}, {"within two limits", "either", either.Batches[i].Within},
		} {
			if want := reference.Number(t, row[c.column]); !near(c.got, want, 1e-7) { // R's qt with ncp is good to eight digits or so
				t.Errorf("%s without %s, batch %d: %s %.12g, R has %.12g", row["case"], row["without"], i+1, c.what, c.got, want)
			}
		}
	}
}

// Who is found: the leakers that testdata/reference/losses/losses.R planted, and
// there named by R's own steps.
func TestLeakers(t *testing.T) {
	cases := weighed(t)
	for _, c := range []struct {
		name                       string
		ownMeans                   bool
		most                       int
		leakers, strange, suspects string
	}{
		{"balm", false, 1, "B2-6", "", ""},
		{"pooled", true, 3, "B3-6", "", ""}, // the batches without it differ at 0.25: p = 0.243
		{"separate", true, 1, "B2-6", "", ""},
		{"hides-batches", true, 1, "B2-6", "", ""},
		{"two-among-few", false, 1, "", "", "B1-11 B1-12"},
		{"three-among-many", false, 4, "B1-18 B1-19 B1-20", "", ""},
		{"gains", false, 1, "", "B1-12", ""},
		{"sound", false, 1, "", "", ""},
	} {
		us := cases[c.name]
		f := weightloss.Leakers(us, 0.25)
		if !f.Tested || f.OwnMeans != c.ownMeans || f.Most != c.most {
			t.Errorf("%s: tested %v, own means %v, up to %d", c.name, f.Tested, f.OwnMeans, f.Most)
		}
		if l, s, p := labels(us, f.Leakers), labels(us, f.Strange), labels(us, f.Suspects); l != c.leakers || s != c.strange || p != c.suspects {
			t.Errorf("%s: leakers %q, strange %q, suspects %q; want %q, %q, %q", c.name, l, s, p, c.leakers, c.strange, c.suspects)
		}
	}
}

// units of stated rates: batch 0 first.
func rated(rates ...[]float64) []weightloss.Unit {
	var out []weightloss.Unit
	for b, of := range rates {
		for i, r := range of {
			u := units.Unit{Batch: b, Label: strconv.Itoa(b) + "-" + strconv.Itoa(i)}
			for _, m := range []float64{0, 3, 6} {
				u.Points = append(u.Points, kinetics.Point{Months: m, Value: r * m})
			}
			w, _ := weightloss.New(u, 120, 100)
			out = append(out, w)
		}
	}
	return out
}

// What is said of masking: of n units of which two alike lie far from the others, a
// search for one finds neither up to 16; R² = (n−1)(n−2)/(2n), and Grubbs' λ is 2.586
// of 16 and 2.620 of 17 (two-sided 5 %), R 2.562 and 2.657.
func TestTwoHideEachOther(t *testing.T) {
	for n, want := range map[int]int{12: 0, 16: 0, 17: 1} {
		rates, groups := make([]float64, n), make([]int, n)
		for i := range rates {
			rates[i] = 0.1 + 1e-6*float64(i%3)
		}
		rates[0], rates[1] = 0.3, 0.3
		r, err := esd.TestGroups(rates, groups, 1, weightloss.Level)
		if err != nil || r.Outliers != want {
			t.Errorf("%d units: %d found, want %d (%v)", n, r.Outliers, want, err)
		}
	}
}

func TestLeakersAmongFew(t *testing.T) {
	for _, c := range []struct {
		name           string
		us             []weightloss.Unit
		tested         bool
		leakers, alone string
	}{
		{"two units", rated([]float64{0.1, 0.9}), false, "", ""},
		// R = (n−1)/√n = 1.1547 is the most three values can have, and λ is 1.1543 (by R);
		// R of 0.1, 0.15 and 0.9 is 0.51667/0.44814 = 1.1529.
		{"three units, a ten thousandth apart against one", rated([]float64{0.1, 0.10001, 0.9}), true, "0-2", ""},
		{"three units, no more apart than they may be", rated([]float64{0.1, 0.15, 0.9}), true, "", ""},
		{"all gain and one gains less", rated([]float64{-0.5, -0.5001, -0.5002, -0.4999, -0.1}), true, "", ""},
		{"a batch that loses more is no leaker", rated([]float64{0.1, 0.11, 0.12, 0.11}, []float64{0.1, 0.11, 0.12, 0.1}, []float64{0.3, 0.31}), true, "", ""},
		{"one alone in its batch", rated([]float64{0.1, 0.11, 0.12}, []float64{0.2, 0.21, 0.22}, []float64{0.9}), true, "", "2-0"},
		{"one in each batch", rated([]float64{0.1}, []float64{0.10001}, []float64{0.9}), true, "2-0", ""},
	} {
		f := weightloss.Leakers(c.us, 0.25)
		if l, a := labels(c.us, f.Leakers), labels(c.us, f.Alone); f.Tested != c.tested || l != c.leakers || a != c.alone {
			t.Errorf("%s: tested %v, leakers %q, alone %q; want %v, %q, %q", c.name, f.Tested, l, a, c.tested, c.leakers, c.alone)
		}
	}
}

// R's t.test of the units' own quadratic terms.
func TestCourseAgainstR(t *testing.T) {
	cases := weighed(t)
	bent := 0
	for _, row := range reference.Table(t, "losses/bends.csv") {
		c := weightloss.NewCourse(cases[row["case"]])
		if float64(c.Units) != reference.Number(t, row["units"]) || float64(c.DF) != reference.Number(t, row["df"]) ||
			!near(c.Curvature, reference.Number(t, row["curvature"]), 1e-9) || !near(c.F, reference.Number(t, row["F"]), 1e-9) || !near(c.P, reference.Number(t, row["p"]), 1e-7) {
			t.Errorf("%s: %+v, R has %v", row["case"], c, row)
		}
		if !c.Straight() {
			bent++
			// 12 months: c·12²/4 below the chord half way, where loss gathers pace.
			if want := -36 * reference.Number(t, row["curvature"]); row["case"] != "bends" || !near(c.Departure, want, 1e-9) || c.Months != 12 {
				t.Errorf("%s bends, by %v at %v months, want %v", row["case"], c.Departure, c.Months, want)
			}
		}
	}
	if bent != 1 {
		t.Errorf("%d cases bend", bent)
	}
}

func TestCourseOfFew(t *testing.T) {
	curve := func(label string, c float64, times ...float64) weightloss.Unit {
		u := units.Unit{Label: label}
		for _, m := range times {
			u.Points = append(u.Points, kinetics.Point{Months: m, Value: 0.1*m + c*m*m})
		}
		w, _ := weightloss.New(u, 120, 100)
		return w
	}
	for _, c := range []struct {
		name             string
		us               []weightloss.Unit
		tested, straight bool
	}{
		{"weighed once after the start", []weightloss.Unit{curve("a", 0, 0, 3), curve("b", 0, 0, 3)}, false, true},
		{"one unit", []weightloss.Unit{curve("a", 0.1, 0, 3, 6)}, false, true},
		{"straight to the last digit", []weightloss.Unit{curve("a", 0, 0, 3, 6), curve("b", 0, 0, 3, 6)}, true, true},
		{"bent alike to the last digit", []weightloss.Unit{curve("a", 0.01, 0, 4, 8), curve("b", 0.01, 0, 4, 8)}, true, false},
	} {
		got := weightloss.NewCourse(c.us)
		if got.Tested() != c.tested || got.Straight() != c.straight {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

func TestPopulationStatus(t *testing.T) {
	inf := math.Inf(1)
	all := rated([]float64{0.1, 0.12, 0.11, 0.13})
	gain := rated([]float64{-0.1, -0.12, -0.11, -0.13})
	for _, c := range []struct {
		name      string
		us        []weightloss.Unit
		criterion weightloss.Criterion
		level     tolerance.Level
		within    float64
		by        string
	}{
		{"no criterion", all, weightloss.Criterion{Lower: -inf, Upper: inf}, level, math.NaN(), ""},
		{"no loss is allowed", all, weightloss.Criterion{Lower: -inf, Upper: 0}, level, 0, "upper"},
		{"no gain is allowed", gain, weightloss.Criterion{Lower: 0, Upper: inf}, level, 0, "lower"},
		{"a gain, and only loss is limited", gain, weightloss.Criterion{Lower: -inf, Upper: 5}, level, inf, ""},
		{"a level that is none", all, weightloss.Criterion{Lower: -inf, Upper: 5}, tolerance.Level{Coverage: 0.3, Confidence: 0.95}, math.NaN(), ""},
		// Equal units: the limit is their rate.
		{"no spread", rated([]float64{0.1, 0.1, 0.1}), weightloss.Criterion{Lower: -inf, Upper: 5}, level, 50, "upper"},
	} {
		p, err := weightloss.Populate(c.us, 0.25, c.level, c.criterion)
		if err != nil {
			t.Fatal(err)
		}
		if b := p.Limit(); !(near(b.Within, c.within, 1e-12) || math.IsNaN(c.within) && math.IsNaN(b.Within)) || b.LimitedBy != c.by {
			t.Errorf("%s: %+v, want %v by %q", c.name, b, c.within, c.by)
		}
	}
	if _, err := weightloss.Populate(rated([]float64{0.1}, []float64{0.2}), 0.25, level, weightloss.Criterion{Lower: -inf, Upper: 5}); err == nil {
		t.Error("one unit a batch has a spread")
	}
}

// A wider coverage and a higher confidence never lengthen a time; the order of the
// units does not matter; units that lose more by the same factor have that much
// less time; nearly all units have no more time than their mean.
func TestPopulationInvariants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		batches := rapid.IntRange(1, 3).Draw(t, "batches")
		rates := make([][]float64, batches)
		for b := range rates {
			for range rapid.IntRange(2, 6).Draw(t, "units") {
				rates[b] = append(rates[b], float64(rapid.IntRange(50, 500).Draw(t, "rate"))/1000)
			}
		}
		criterion := weightloss.Criterion{Lower: math.Inf(-1), Upper: 5}
		of := func(us []weightloss.Unit, l tolerance.Level) *weightloss.Batch {
			p, err := weightloss.Populate(us, 0.25, l, criterion)
			if err != nil {
				t.Fatal(err)
			}
			return p.Limit()
		}
		us := rated(rates...)
		base := of(us, level)
		if base.Within > 5/base.Mean*(1+1e-12) {
			t.Fatalf("nearly all units until %v, their mean until %v", base.Within, 5/base.Mean)
		}
		if x := of(us, tolerance.Level{Coverage: 0.99, Confidence: 0.95}).Within; x > base.Within*(1+1e-12) {
			t.Fatalf("a wider coverage lengthens %v to %v", base.Within, x)
		}
		if x := of(us, tolerance.Level{Coverage: 0.95, Confidence: 0.99}).Within; x > base.Within*(1+1e-12) {
			t.Fatalf("a higher confidence lengthens %v to %v", base.Within, x)
		}
		if x := of(rapid.Permutation(us).Draw(t, "order"), level); !near(x.Within, base.Within, 1e-9) || !near(x.Grams, base.Grams, 1e-9) {
			t.Fatalf("another order: %+v and %+v", x, base)
		}
		for b := range rates {
			for i := range rates[b] {
				rates[b][i] *= 2
			}
		}
		if x := of(rated(rates...), level); !near(2*x.Within, base.Within, 1e-9) {
			t.Fatalf("twice the loss: %v months, and %v", x.Within, base.Within)
		}
	})
}
