package climate

import (
	"math"
	"testing"

	"shelfspan/study/lane"
)

// By hand: 22 °C for a month, and a day's swing from 10 to 30 °C for half of one,
// which is above 25 °C for acos(0.5)/π, a third of the time, and below 12 °C for
// acos(0.8)/π of it.
func TestLane(t *testing.T) {
	l := &lane.Lane{Legs: []lane.Leg{{Name: "store", Low: 22, High: 22, Months: 1}, {Name: "lorry", Low: 10, High: 30, Months: 0.5}}}
	s := within()
	s.Upper, s.Lower = 25, 12
	r := Lane(l, s)
	month := 30.4375 * 24
	near(t, "hours", r.Hours, 1.5*month, 1e-9)
	near(t, "mean", r.Mean, (22+10)/1.5, 1e-12)
	near(t, "above", r.Above.Hours, 0.5*month/3, 1e-9)
	near(t, "below", r.Below.Hours, 0.5*month*math.Acos(0.8)/math.Pi, 1e-9)
	if r.Above.Count != 1 || r.Below.Count != 1 || r.Legs[0].Above != 0 || r.Min != 10 || r.Max != 30 {
		t.Errorf("%+v", r)
	}
	near(t, "a steady leg", r.Legs[0].MeanKinetic, 22, 1e-10)
	// The swing by a million parts.
	sum, n := 0.0, 1_000_000
	theta := 83144 / 8.314462618
	for i := range n {
		sum += math.Exp(-theta/(293.15+10*math.Sin(2*math.Pi*(float64(i)+0.5)/float64(n))) + theta/293.15)
	}
	sum /= float64(n)
	near(t, "a swing", r.Legs[1].MeanKinetic, theta/(theta/293.15-math.Log(sum))-273.15, 1e-9)
	steady := math.Exp(-theta/295.15 + theta/293.15)
	near(t, "all", r.MeanKinetic, theta/(theta/293.15-math.Log((steady+0.5*sum)/1.5))-273.15, 1e-9)
	near(t, "by spells", MeanKinetic(r.Spells, Conventional), r.MeanKinetic, 1e-10)
	above := 0.0
	for _, x := range r.SpellsAbove() {
		above += x.Months
	}
	near(t, "spells above", above, 0.5/3, 0.5/perDay)
	if r := Lane(l, within()); r.Above.Count+r.Below.Count != 0 || !math.IsNaN(r.Above.Limit) || r.SpellsAbove() != nil {
		t.Errorf("%+v", r.Above)
	}
}
