package analysis

import (
	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/units"
	"shelfspan/study"
)

// unitRatesModel is the Model of weighings.
const unitRatesModel = "unit rates"

// weighing is the percent lost of every unit of one attribute.
type weighing struct {
	cells map[cell][]Sample
	base  map[cell]units.Base // the weakest base any unit's percentage refers to
	lost  map[cell][]string   // units without a time-zero mass
}

// weigh turns gross masses into percent lost since each unit's own start.
func (v *evaluator) weigh(attribute int) weighing {
	w := weighing{map[cell][]Sample{}, map[cell]units.Base{}, map[cell][]string{}}
	rank := map[units.Base]int{units.NetByTare: 0, units.NetByFill: 1, units.GrossShare: 2}
	for k, masses := range v.cells {
		if k.attribute != attribute {
			continue
		}
		type unit struct {
			batch int
			label string
		}
		start := map[unit]float64{}
		for i := range masses {
			if x := &masses[i]; x.Planned.IsZero() {
				start[unit{x.Batch, x.Unit}] = x.Value
			}
		}
		out := make([]Sample, 0, len(masses))
		without := map[string]bool{}
		for i := range masses {
			x := masses[i]
			m0, known := start[unit{x.Batch, x.Unit}]
			percent := func(mass float64) (float64, units.Base, bool) {
				return units.PercentLost(m0, mass, x.Tare, v.s.Packs[k.pack].NetFill)
			}
			p, base, ok := percent(x.Value)
			if !known || !ok {
				if !without[x.Unit] {
					without[x.Unit] = true
					w.lost[k] = append(w.lost[k], x.Unit)
				}
				continue
			}
			// The heavier of two readings is the one that lost less.
			low, _, _ := percent(x.High)
			high, _, _ := percent(x.Low)
			x.Value, x.Low, x.High = p, low, high
			if rank[base] > rank[w.base[k]] || w.base[k] == "" {
				w.base[k] = base
			}
			out = append(out, x)
		}
		w.cells[k] = out
	}
	return w
}

// byUnit gathers the samples that count from a baseline, in months, into units,
// in their order.
func byUnit(samples []Sample, baseline float64) []units.Unit {
	type key struct {
		batch int
		label string
	}
	index := map[key]int{}
	var out []units.Unit
	for i := range samples {
		x := &samples[i]
		months, counts := x.trendTime(baseline)
		if !counts {
			continue
		}
		k := key{x.Batch, x.Unit}
		j, ok := index[k]
		if !ok {
			j = len(out)
			index[k] = j
			out = append(out, units.Unit{Batch: x.Batch, Label: x.Unit})
		}
		out[j].Points = append(out[j].Points, kinetics.Point{Months: months, Value: x.Value})
	}
	return out
}

// unitRates evaluates weighings: a rate for each unit, the bound from the
// spread between units.
func (v *evaluator) unitRates(a *Analysis, where string) {
	k := cell{a.Attribute, a.Condition, a.Pack, a.Orientation}
	a.Model = unitRatesModel
	w := &v.weighed[a.Attribute]
	switch w.base[k] {
	case units.NetByFill:
		a.warn("net-by-fill", where, "Not every unit has a tare: percent lost refers to the pack's stated net fill there.")
	case units.GrossShare:
		a.warn("gross-mass", where, "Without a tare or a net fill, percent lost refers to the gross mass: the loss of content is larger than it looks.")
	}
	for _, u := range w.lost[k] {
		a.warn("no-initial-mass", where, "Unit "+u+" has no usable mass at time zero and is left out.")
	}
	out, warnings := units.Rates(byUnit(a.Samples, 0), v.input(a))
	v.take(a, out, warnings, where)
	for i := range a.Samples {
		a.Samples[i].Fitted = len(a.Fits) > 0 && a.Samples[i].Months > 0
	}
	a.Losses = v.losses(a, where)
}

// unitLines evaluates other units that are measured and put back: a line for
// each unit, the bound from the spread between units.
func (v *evaluator) unitLines(a *Analysis, where string) {
	for i := range a.Samples {
		switch x := &a.Samples[i]; {
		case x.Censor != study.Exact:
			v.refuseCensored(a, where, "units that are put back are not fitted with such values")
			return
		case x.Unit == "":
			a.Status = NotFitted
			a.warn("unit-unknown", where, "Units that are measured and put back can only be followed by their label, and a result has none: no regression.")
			return
		}
	}
	baseline := v.s.Attributes[a.Attribute].Baseline.Months(0)
	out, warnings := units.Lines(byUnit(a.Samples, baseline), v.input(a))
	v.take(a, out, warnings, where)
	for i := range a.Samples {
		_, counts := a.Samples[i].trendTime(baseline)
		a.Samples[i].Fitted = len(a.Fits) > 0 && counts
	}
}
