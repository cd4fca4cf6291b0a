package arrhenius

import (
	"math"
	"testing"

	"shelfspan/analysis/kinetics"
	"shelfspan/study"
	"shelfspan/testdata/reference"
)

// Where the cold conditions fall and the hot ones rise, the sum of squares has a
// valley in Ea for either, and what it allows reaches from the one to the other:
// the interval of Ea and the bounds are R's, by a scan of Ea
// (testdata/reference/arrhenius/valleys.R).
func TestValleysApart(t *testing.T) {
	temperatures := []float64{5, 25, 30, 40, 50}
	in := Input{Conditions: dry(temperatures...), Lower: 95, Upper: inf, Basis: study.BasisValue, Direction: study.Falls,
		Model: study.Model(kinetics.ZeroOrder), Confidence: 0.95, At: []Target{{5, nan}, {25, nan}}}
	for _, row := range reference.Rows(t, "arrhenius/valleys-points.csv") {
		p := Point{Condition: -1, Months: reference.Number(t, row[1]), Value: reference.Number(t, row[2])}
		for i, celsius := range temperatures {
			if p.Months > 0 && celsius == reference.Number(t, row[0]) {
				p.Condition = i
			}
		}
		in.Points = append(in.Points, p)
	}
	r := Fit(in)
	if r.Status != Fitted {
		t.Fatal(r.Reason)
	}
	got := map[string]float64{"ea": r.EaKJ, "low": r.EaLow, "high": r.EaHigh, "residual_sd": r.ResidualSD,
		"bound5": r.Predictions[0].ShelfLife, "bound25": r.Predictions[1].ShelfLife}
	for _, row := range reference.Rows(t, "arrhenius/valleys.csv") {
		want := reference.Number(t, row[1])
		if x := got[row[0]]; !(math.Abs(x-want) <= 1e-6*math.Abs(want)) {
			t.Errorf("%s: %v, R gives %v", row[0], x, want)
		}
	}
}

// An end at which the data bound nothing is open whatever the temperatures are:
// also where a point that covers the range lies as near to its end as rounding.
// The values are those of TestOpenActivationEnergy.
func TestOpenAtAnyTemperatures(t *testing.T) {
	for cold := 5.0; cold <= 30; cold++ {
		for hot := cold + 10; hot <= cold+45; hot++ {
			in := Input{Conditions: dry(cold, hot), Lower: 90, Upper: inf, Basis: study.BasisValue,
				Model: study.Model(kinetics.ZeroOrder), Confidence: 0.95}
			for c := range in.Conditions {
				for i, scatter := range []float64{0.1, -0.1, -0.1, 0.1, 0.1, -0.1} {
					months := float64(i + 1)
					in.Points = append(in.Points, Point{0, c, months, 100 - 0.01*months + scatter})
				}
			}
			if r := Fit(in); r.Status != Fitted || !math.IsInf(r.EaLow, -1) || !math.IsInf(r.EaHigh, 1) {
				t.Errorf("%v and %v °C: %s, Ea %v to %v, want both ends open", cold, hot, r.Status, r.EaLow, r.EaHigh)
			}
		}
	}
}
