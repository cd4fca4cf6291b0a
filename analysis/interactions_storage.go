package analysis

import (
	"fmt"
	"math"

	"shelfspan/analysis/comparison"
)

// slowing is the ratio of rates at the storage condition to those at another: as
// estimated, and the least and the greatest by the interval of the activation
// energy; NaN where there is no such number.
type slowing struct{ estimate, low, high float64 }

const gasConstant = 8.314462618e-3 // kJ/(mol K), CODATA 2018

// toStorage is by how much slower everything goes at the storage condition, by the
// activation energy of the pack that others are compared with, where that condition
// has no results of its own to compare:
//
//	ln k(storage) − ln k(here) = −Ea/R·(1/Ts − 1/T) + B·(RHs − RH)
//
// with the last term where a fit has it, whose own error is not in the interval. NaN
// where the condition has results, or where there is no such number.
func (f *field) toStorage(c *Comparison, a *arms) slowing {
	nan := math.NaN()
	none := slowing{nan, nan, nan}
	s := f.v.s
	if s.StoreAt < 0 {
		return none
	}
	store, here := &s.Conditions[s.StoreAt], &s.Conditions[f.condition]
	if math.IsNaN(store.Temperature) || math.IsNaN(here.Temperature) {
		return none
	}
	pack := f.v.referencePack()
	if c.Pack >= 0 {
		pack = c.Pack
	}
	for o := range s.Packs[pack].Orientations {
		if len(f.v.cells[cell{f.attribute, s.StoreAt, pack, o}]) > 0 {
			return none
		}
	}
	r := f.energy()
	if r == nil && len(f.course(a, 0).Limits) > 0 {
		f.warn("no-months", fmt.Sprintf("%s has no results to compare, and there is no activation energy to tell its months by: rates alone are compared here.", store.ID))
	}
	if r == nil || r.Model != c.Model || math.IsInf(r.EaLow, 0) || math.IsInf(r.EaHigh, 0) {
		return none
	}
	humid := 0.0
	if !math.IsNaN(r.Humidity) {
		humid = r.Humidity * (store.Humidity - here.Humidity)
	}
	const kelvin = 273.15
	by := 1/(store.Temperature+kelvin) - 1/(here.Temperature+kelvin)
	at := func(ea float64) float64 { return math.Exp(humid - ea/gasConstant*by) }
	low, high := at(r.EaLow), at(r.EaHigh)
	return slowing{at(r.EaKJ), min(low, high), max(low, high)}
}

// energy is the Arrhenius fit of the pack that others are compared with, which has
// the data for it if any has; nil where none is to be relied on.
func (f *field) energy() *Arrhenius {
	if !f.energySought {
		f.energySought = true
		k := cell{f.attribute, -1, f.v.referencePack(), 0}
		if len(f.v.conditionsOf(k)) >= 2 {
			if r := f.v.fitArrhenius(k); r.Status == Fitted && !r.Bent() {
				f.energyFit = r
			}
		}
	}
	return f.energyFit
}

// lost is the least and the most that is lost, over the interval of the difference
// and over the scales. Of two rates, as both go faster, what is lost of the horizon
// rises until the slower one's life is down to the horizon and falls from there, so
// that besides the ends those scales count at which a life is the horizon.
func (s slowing) lost(course *comparison.Course, c *Comparison) (least, most float64) {
	at := []float64{s.low, s.high, s.estimate}
	if s.low < s.high {
		for _, rate := range [...]float64{c.AgainstRate, c.AgainstRate + c.Low, c.AgainstRate + c.High} {
			if x := course.RateFor(course.Horizon, rate) / rate; x > s.low && x < s.high {
				at = append(at, x)
			}
		}
	}
	least, most = math.Inf(1), math.Inf(-1)
	for _, x := range at {
		against := x * c.AgainstRate
		l, m := course.Range(against+x*c.Low, against+x*c.High, against)
		least, most = min(least, l), max(most, m)
	}
	return least, most
}
