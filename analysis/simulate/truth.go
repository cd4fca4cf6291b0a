// Package simulate makes up stability results from a stated truth and a seed,
// so that an estimate can be held against what it should have found: for the
// demonstration study, for coverage studies and for benchmarks.
//
// The same truth and seed give the same results on every machine: each
// attribute draws from a PCG stream of its own, and values are rounded to the
// decimals a lab reports before anyone sees them.
package simulate

import (
	"math"

	"shelfspan/study"
)

const (
	gasConstant  = 8.314462618 // J/(mol K), CODATA 2018
	zeroCelsius  = 273.15      // K
	referenceAt  = 25.0        // °C at which Path.Rate is stated
	referenceDry = 40.0        // 100 − 60 % RH, the humidity deficit at which a drying Path.Rate is stated
)

// Path is the truth about one attribute: how its mean moves in storage, and how
// far what is measured scatters about it.
//
// The mean of a batch in a pack at a climate after t months is
//
//	zero-order   initial + k·t
//	first-order  initial · exp(k·t)
//
// with k = Rate · BatchRate · PackRate · exp(−Ea/R · (1/T − 1/298.15 K)), times
// SoftFactor above SoftAt, and times (100 − RH)/40 where Drying.
// Attributes of kind weighing count percent of the net mass lost, grades a hidden
// score that is seen rounded to the nearest grade; both are zero-order from 0.
type Path struct {
	Attribute string
	Order     study.Model // study.ZeroOrder or study.FirstOrder

	Initial   []float64          // by batch
	Rate      float64            // per month at 25 °C, signed, of the reference batch and pack
	Ea        float64            // kJ/mol
	BatchRate []float64          // factor on the rate, by batch
	PackRate  map[string]float64 // factor on the rate, by pack or pack/orientation; 1 where absent

	SoftAt     float64 // °C above which the structure softens; 0: never
	SoftFactor float64 // factor on the rate there
	Drying     bool    // the rate goes with the humidity deficit of the air

	// UnitSD is the standard deviation between units, ReadingSD that between
	// readings of one unit: relative to the mean for first-order, in the
	// attribute's unit for zero-order. For weighings UnitSD is the relative
	// spread of the units' rates, ReadingSD that of the balance in g.
	UnitSD, ReadingSD float64
}

// Climate is where an arm is stored.
type Climate struct {
	Celsius  float64
	Humidity float64 // % RH; NaN where it is not controlled
}

// packRate gives the pack's factor, its orientation's own where there is one.
func (p *Path) packRate(pack string, o study.Orientation) float64 {
	if f, ok := p.PackRate[pack+"/"+string(o)]; ok {
		return f
	}
	if f, ok := p.PackRate[pack]; ok {
		return f
	}
	return 1
}

// RateAt gives the true rate per month, signed, on the scale of Order.
func (p *Path) RateAt(batch int, pack string, o study.Orientation, c Climate) float64 {
	k := p.Rate * p.BatchRate[batch] * p.packRate(pack, o)
	k *= math.Exp(-1000 * p.Ea / gasConstant * (1/(c.Celsius+zeroCelsius) - 1/(referenceAt+zeroCelsius)))
	if p.SoftAt > 0 && c.Celsius > p.SoftAt {
		k *= p.SoftFactor
	}
	if p.Drying && !math.IsNaN(c.Humidity) {
		k *= (100 - c.Humidity) / referenceDry
	}
	return k
}

// Mean gives the true mean after a number of months.
func (p *Path) Mean(batch int, pack string, o study.Orientation, c Climate, months float64) float64 {
	kt := p.RateAt(batch, pack, o, c) * months
	if p.Order == study.FirstOrder {
		return p.Initial[batch] * math.Exp(kt)
	}
	return p.Initial[batch] + kt
}

// Life gives the true shelf life in months: the time at which the mean path of
// the batch that gets there first meets an acceptance limit,
//
//	zero-order   (limit − initial)/k
//	first-order  ln(limit/initial)/k
//
// and which batch that is; +Inf and −1 where no path ever meets a limit. A limit
// of −Inf or +Inf is none. Grades are judged rounded: pass the highest grade
// accepted plus a half as their upper limit.
func (p *Path) Life(pack string, o study.Orientation, c Climate, lower, upper float64) (months float64, batch int) {
	months, batch = math.Inf(1), -1
	for b := range p.Initial {
		k := p.RateAt(b, pack, o, c)
		limit := upper
		if k < 0 {
			limit = lower
		}
		if k == 0 || math.IsInf(limit, 0) {
			continue
		}
		t := (limit - p.Initial[b]) / k
		if p.Order == study.FirstOrder {
			t = math.Log(limit/p.Initial[b]) / k
		}
		if t = max(t, 0); t < months {
			months, batch = t, b
		}
	}
	return months, batch
}
