package analysis

import (
	"math"
	"slices"

	"shelfspan/analysis/arrhenius"
	"shelfspan/analysis/units"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// arrhenius fits all temperatures at once, for every attribute that is measured
// as a number, in every pack and orientation with results.
func (v *evaluator) arrhenius() []*Arrhenius {
	var cells []cell
	for i := range v.s.Attributes {
		if k := v.s.Attributes[i].Kind; !wanted(v.o.Attributes, i) || k != study.Measure && k != study.Weighing {
			continue
		}
		for _, k := range v.arms(i) {
			if len(v.conditionsOf(k)) > 0 {
				cells = append(cells, k)
			}
		}
	}
	out := make([]*Arrhenius, len(cells))
	each(len(cells), func(i int) { out[i] = v.fitArrhenius(cells[i]) })
	return out
}

// conditionsOf lists the conditions with results that enter the fit of an arm:
// all but cycling ones and those left out.
func (v *evaluator) conditionsOf(k cell) []int {
	var out []int
	for c := range v.s.Conditions {
		k.condition = c
		if v.s.Conditions[c].Role != study.Cycling && !slices.Contains(v.o.LeaveOut, c) && len(v.cells[k]) > 0 {
			out = append(out, c)
		}
	}
	return out
}

func (v *evaluator) fitArrhenius(k cell) *Arrhenius {
	at := &v.s.Attributes[k.attribute]
	where := v.place(k)
	conditions := v.conditionsOf(k)
	a := &Arrhenius{
		Attribute: k.attribute, Pack: k.pack, Orientation: k.orientation, LeftOut: v.o.LeaveOut, ByBatch: v.o.ByBatch, BendsAt: -1,
		EaKJ: math.NaN(), EaLow: math.NaN(), EaHigh: math.NaN(), LinearityF: math.NaN(), LinearityP: math.NaN(),
		ResidualSD: math.NaN(), Humidity: math.NaN(), HumiditySE: math.NaN(), Q10: math.NaN(),
	}
	refuse := func(code, text string) *Arrhenius {
		a.Status = NotFitted
		a.Warnings = append(a.Warnings, finding.Warning{Code: code, Where: where, Text: text})
		return a
	}
	climates := make([]arrhenius.Condition, len(conditions))
	for i, c := range conditions {
		x := &v.s.Conditions[c]
		climates[i] = arrhenius.Condition{Name: x.ID, Celsius: x.Temperature, Humidity: x.Humidity}
	}
	targets, storage := v.targets()
	var store *arrhenius.Target
	if storage {
		store = &targets[0]
	}
	var r *arrhenius.Result
	switch {
	case at.Kind == study.Weighing:
		a.Model = unitRatesModel
		in := arrhenius.UnitRatesInput{
			Where: where, Conditions: climates, Upper: at.Upper, Confidence: v.confidence, PoolAlpha: v.alpha, ByBatch: v.o.ByBatch, At: targets,
			Histories: v.o.Histories, Storage: store,
		}
		for i, c := range conditions {
			k.condition = c
			for _, u := range byUnit(v.samples(k), 0) {
				if rate, ok := units.Rate(u.Points); ok {
					in.Units = append(in.Units, arrhenius.UnitRate{Batch: u.Batch, Condition: i, PerMonth: rate})
				}
			}
		}
		r = arrhenius.FitUnitRates(in)
	case at.Sampling == study.Returned:
		return refuse("returned-units", "Units that are measured and put back are not fitted over temperatures, but for weighings.")
	case v.o.model(at).Curved():
		return refuse("curve", "A curve over time has no one rate, so that there is no fit over temperatures by it; --model auto chooses among the models of a line for that fit.")
	default:
		in := arrhenius.Input{
			Where: where, Conditions: climates, Lower: at.Lower, Upper: at.Upper, Basis: at.Basis, Direction: at.Direction,
			Model: v.o.model(at), Confidence: v.confidence, At: targets, Baseline: at.Baseline.Months(0),
			ByBatch: v.o.ByBatch, Histories: v.o.Histories, Storage: store, Resampling: v.o.Resampling,
		}
		// A time-zero sample stands under no condition of its own and enters once.
		parts := append([]int{-1}, conditions...)
		stored := v.storedAnywhere(k, conditions)
		for i, c := range parts {
			own := k
			if own.condition = c; c < 0 {
				own.orientation = 0
			}
			for j := range v.cells[own] {
				x := &v.cells[own][j]
				months, counts := x.trendTime(in.Baseline)
				if !counts || !slices.Contains(stored, x.Batch) {
					continue
				}
				if x.Censor != study.Exact {
					return refuse("censored", "A result is censored (below or above a limit of measurement), and a limit is no number: no Arrhenius fit.")
				}
				in.Points = append(in.Points, arrhenius.Point{Batch: x.Batch, Condition: i - 1, Months: months, Value: x.Value})
			}
		}
		r = arrhenius.Fit(in)
		a.Model = string(r.Model)
	}
	a.Warnings = append(a.Warnings, r.Warnings...)
	a.Status, a.Samples, a.Temperatures = Status(r.Status), r.Samples, r.Temperatures
	if r.Status != arrhenius.Fitted {
		return a
	}
	a.EaKJ, a.EaLow, a.EaHigh, a.Rising = r.EaKJ, r.EaLow, r.EaHigh, r.Rising
	a.LinearityF, a.LinearityP, a.LinearityDF1, a.LinearityDF2 = r.LinearityF, r.LinearityP, r.LinearityDF1, r.LinearityDF2
	a.ResidualSD, a.DF = r.ResidualSD, r.DF
	a.Iterations, a.Convergence, a.OneSided = r.Iterations, r.Convergence, r.OneSided
	a.Humidity, a.HumiditySE, a.Q10, a.LnRate = r.Humidity, r.HumiditySE, r.Q10, r.LnRate
	if r.Bends >= 0 {
		a.BendsAt = conditions[r.Bends]
	}
	for _, x := range r.Rates {
		a.Rates = append(a.Rates, Rate{Condition: conditions[x.Condition], Batch: x.Batch, Celsius: x.Celsius, PerMonth: x.PerMonth, SE: x.SE})
	}
	for i, p := range r.Predictions {
		a.Predictions = append(a.Predictions, Prediction{
			Celsius: p.Celsius, Storage: storage && i == 0, Estimate: p.Estimate, ShelfLife: p.ShelfLife, Delta: p.Delta,
			Batch: p.Batch, Extrapolated: p.Extrapolated, Q10Life: p.Q10Life, Bootstrap: p.Bootstrap,
		})
	}
	for i, x := range r.Exposures {
		a.Exposures = append(a.Exposures, Exposure{Exposure: x, Name: v.o.Histories[i].Name})
	}
	return a
}

// storedAnywhere lists the batches with results after time zero in an arm's
// pack and orientation: a batch without any has no rate, and nothing to predict.
func (v *evaluator) storedAnywhere(k cell, conditions []int) []int {
	var out []int
	for _, c := range conditions {
		k.condition = c
		out = append(out, batchesOf(v.cells[k])...)
	}
	return out
}

// targets lists where to predict: the storage condition first, where there is
// one, and every further temperature at the storage condition's humidity.
func (v *evaluator) targets() (targets []arrhenius.Target, storage bool) {
	humidity := math.NaN()
	if at := v.s.StoreAt; at >= 0 && !math.IsNaN(v.s.Conditions[at].Temperature) {
		c := &v.s.Conditions[at]
		humidity = c.Humidity
		targets, storage = append(targets, arrhenius.Target{Celsius: c.Temperature, Humidity: humidity}), true
	}
	for _, celsius := range v.o.At {
		targets = append(targets, arrhenius.Target{Celsius: celsius, Humidity: humidity})
	}
	return targets, storage
}
