package words

import (
	"math"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/analysis/extrapolation"
	"shelfspan/analysis/units"
	"shelfspan/analysis/weightloss"
	"shelfspan/study"
)

// lost is a study of one tube and an analysis of it that the tests alter.
func lost() (*study.Study, *analysis.Analysis) {
	s := &study.Study{
		Conditions: []study.Condition{{ID: "40C75", Temperature: 40, Humidity: 75}}, Batches: []study.Batch{{ID: "B1"}, {ID: "B2"}},
		Packs:      []study.Pack{{ID: "tube", SemiPermeable: true, Orientations: []study.Orientation{study.Upright}}},
		Attributes: []study.Attribute{{ID: "loss", Kind: study.Weighing}},
	}
	nan := math.NaN()
	batch := weightloss.Batch{N: 2, Mean: 0.1, Grams: 0.2, Upper: 0.25, Within: 19.99, LimitedBy: "upper"}
	p := &weightloss.Population{Units: 4, Decision: "separate", SD: 0.05, Batches: []weightloss.Batch{batch, batch}}
	p.Batches[1].Batch, p.Limiting = 1, 1
	return s, &analysis.Analysis{Losses: &analysis.Losses{
		Base: units.NetByTare, Coverage: 0.95, Confidence: 0.9, Bound: 25, BoundWithout: nan,
		Units: []weightloss.Unit{{Label: "a", Rate: 0.1}, {Label: "b", Batch: 1, Rate: 0.5}},
		Found: weightloss.Findings{Tested: true, Most: 1}, With: p,
		Course: weightloss.Course{P: nan},
	}}
}

// Rates a year are twelve of a month, a time is cut, and the batch that limits is
// named; without leakers there is no second row.
func TestLossesTable(t *testing.T) {
	s, a := lost()
	table := Losses(s, []*analysis.Analysis{{}, a})
	if got, want := strings.Join(table.Rows[0], "|"), "40C75|tube, B2|4|1.20|0.60|3.00|2.40|25.0|19.9"; got != want || len(table.Rows) != 1 || len(table.Heads) != 9 {
		t.Errorf("%q of %v, want %q", got, table.Heads, want)
	}
	if got := LossesRead([]*analysis.Analysis{a}); !strings.Contains(got, "95 % of units stay below with 90 % confidence") || !strings.Contains(got, "a shelf life rests on the bound") {
		t.Errorf("%s", got)
	}
	a.Losses.Without = a.Losses.With
	a.Losses.Found.Leakers = []int{1}
	table = Losses(s, []*analysis.Analysis{a})
	if got, want := strings.Join(table.Rows[1], "|"), "|without leaker|4|1.20|0.60|3.00|2.40|–|19.9"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	other := *a.Losses.With
	other.Limiting = 0
	a.Losses.Without = &other
	if got := Losses(s, []*analysis.Analysis{a}).Rows[1][1]; got != "without leaker, B1" {
		t.Errorf("%q where another batch limits", got)
	}
	if table = Losses(s, []*analysis.Analysis{{}}); len(table.Rows) != 0 || LossesRead(nil) != "" || len(Leakers(s, []*analysis.Analysis{{}})) != 0 {
		t.Errorf("of no losses: %v", table.Rows)
	}
}

// What was not found is not said to be absent, and where nothing could be looked
// for that is said.
func TestLeakersInWords(t *testing.T) {
	s, a := lost()
	said := func() string { return strings.Join(Leakers(s, []*analysis.Analysis{a}), "\n") }
	if got := said(); got != "No unit is shown to leak." {
		t.Errorf("%q", got)
	}
	a.Losses.Found.Leakers = []int{1}
	if got := said(); !strings.HasPrefix(got, "Named as a leaker: b (40C75 tube, batch B2, 6 % a year). Every unit counts;") || !strings.Contains(got, "one search in 20 names one by chance.") {
		t.Errorf("%q", got)
	}
	a.Losses.Found = weightloss.Findings{}
	if got := said(); got != "Too few units to tell a leaker: 40C75 tube." {
		t.Errorf("%q", got)
	}
	a.Losses.Found = weightloss.Findings{Tested: true, OwnMeans: true, Alone: []int{1}}
	if got := said(); !strings.HasSuffix(got, "a unit alone in its batch cannot be told to leak: b (40C75 tube).") {
		t.Errorf("%q", got)
	}
}

// The test of 5 % says what it refers to, and claims nothing before 3 months, of a
// gross mass or of a loss that bends.
func TestWaterInWords(t *testing.T) {
	for _, c := range []struct {
		name      string
		alter     func(*analysis.Losses, *extrapolation.WaterLost)
		want, not string
	}{
		{"less", func(*analysis.Losses, *extrapolation.WaterLost) {}, "batch B1 loses 3.75 % of the initial water (at 3 months it lost 1 % of the net mass at 75 % RH, × 3). That is less than the 5 % of ICH", "significant"},
		{"more", func(_ *analysis.Losses, w *extrapolation.WaterLost) { w.Significant, w.Percent = true, 6 }, "That is a significant loss of water, 5 % or more", "less than"},
		{"early", func(_ *analysis.Losses, w *extrapolation.WaterLost) { w.Early, w.Months = true, 1 }, "so far; the test asks for less than 5 % at 3 months", "That is"},
		{"no water stated", func(_ *analysis.Losses, w *extrapolation.WaterLost) { w.OfWater = false }, "of the water it is more", "of the initial water"},
		{"gross", func(l *analysis.Losses, _ *extrapolation.WaterLost) { l.Base = units.GrossShare }, "Referred to the content the loss is larger.", "net mass"},
		{"bent", func(l *analysis.Losses, _ *extrapolation.WaterLost) { l.Course.P = 0.01 }, "The loss is not linear, which the conversion presupposes.", ""},
	} {
		s, a := lost()
		a.Losses.Humidity = &analysis.LowHumidity{From: 75, To: 25, Ratio: 3, Mean: 0.3, Upper: 0.75, Within: 6.66, Tested: true}
		a.Losses.Water = []extrapolation.WaterLost{{Months: 3, Lost: 1, Percent: 3.75, OfWater: true, Ratio: 3}}
		c.alter(a.Losses, &a.Losses.Water[0])
		got := strings.Join(Humidity(s, []*analysis.Analysis{a}), "\n")
		if !strings.Contains(got, c.want) || c.not != "" && strings.Contains(got, c.not) {
			t.Errorf("%s: %s", c.name, got)
		}
		table := AtLowHumidity(s, []*analysis.Analysis{a})
		if row := strings.Join(table.Rows[0], "|"); row != "40C75|tube|75 to 25|3|3.60|9.00|6.6" {
			t.Errorf("%s", row)
		}
	}
}

// Every reason for not converting has its words, and no numbers.
func TestRefusedInWords(t *testing.T) {
	for _, why := range []string{analysis.NotWaterAlone, analysis.NoHumidity, analysis.NoReference, analysis.NoLoss, analysis.NotLinear} {
		s, a := lost()
		a.Losses.Humidity = &analysis.LowHumidity{Refused: why}
		if got := strings.Join(Humidity(s, []*analysis.Analysis{a}), "\n"); !strings.HasPrefix(got, "Not expressed at low humidity: 40C75 tube. Of these ") {
			t.Errorf("%s: %q", why, got)
		}
		if table := AtLowHumidity(s, []*analysis.Analysis{a}); len(table.Rows) != 0 {
			t.Errorf("%s: %v", why, table.Rows)
		}
	}
	s, a := lost()
	a.Losses.Humidity = &analysis.LowHumidity{From: 75, To: 25, Ratio: 3, Mean: 0.3}
	if got := strings.Join(Humidity(s, []*analysis.Analysis{a}), "\n"); got != "That loss is linear could not be tested: 40C75 tube." {
		t.Errorf("%q", got)
	}
}
