package arrhenius

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
)

// UnitRate is one unit's own rate per month, as of a weighing.
type UnitRate struct {
	Batch     int
	Condition int // index into UnitRatesInput.Conditions
	PerMonth  float64
}

// UnitRatesInput is the rates of all units over all conditions.
type UnitRatesInput struct {
	Where      string
	Units      []UnitRate
	Conditions []Condition
	Upper      float64 // limit of the loss, from 0 on; +Inf where there is none
	Confidence float64
	PoolAlpha  float64 // significance level of the test whether batches differ in rate
	ByBatch    bool    // each batch has its own λ, whatever that test says
	At         []Target
	Histories  []History
	Storage    *Target
}

// FitUnitRates regresses the logarithm of each unit's rate on 1/T: where units
// are measured again and again, the unit is the sample, and units differ by a
// factor. It is linear least squares,
//
//	ln rate = λ − (Ea/R)(1/T − 1/Tref) + B·(RH − RHref) + error,
//
// so that the interval of Ea is Student's and is the profile-likelihood one. λ
// is each batch's own where the batches differ at PoolAlpha or where that is
// asked for, else common.
//
// A prediction is of the median unit, whose logarithm is the mean: the time at
// which the loss reaches Upper at the mean log rate, and the bound at the
// one-sided upper confidence limit of that mean. Half of the units are faster.
// The rate of a condition is the geometric mean of its units, its error from
// the spread within conditions.
//
// A rate that is not positive has no logarithm: nothing is fitted then.
func FitUnitRates(in UnitRatesInput) *Result {
	r := &Result{Model: kinetics.ZeroOrder, Bends: -1, LinearityF: math.NaN(), LinearityP: math.NaN(),
		Humidity: math.NaN(), HumiditySE: math.NaN(), HumidityReference: math.NaN(),
		Samples: len(in.Units), Convergence: "linear: solved directly"}
	d, reason := designUnits(&in)
	if reason == "" {
		reason = d.fit(&in)
	}
	if reason != "" {
		return r.refuse(in.Where, NotFitted, reason)
	}
	r.judgeHumidity(&Input{Where: in.Where, Conditions: in.Conditions, At: in.At}, d.layout)
	d.tell(r, &in)
	d.rates(r, &in)
	r.judgeLine(in.Where, in.Conditions, "units", d.lackOfFit(), func() int { return d.bends(&in) })
	d.predict(r, &in)
	r.Exposures = d.expose(r, &in)
	return r
}

// unitDesign is the columns the models of unit rates are made of, over units in
// an order that does not depend on the caller's.
type unitDesign struct {
	*layout
	*surface
	units     []UnitRate
	z         []float64       // ln of the rates
	common    linear.Column   // ones
	exponents []linear.Column // −u and, where fitted, h
	batch     []linear.Column // indicators
	condition []linear.Column

	line     *linear.Fit // of z on the levels and the exponents
	separate bool        // each batch has its own level
}

// arrangeUnits sorts out which batches and conditions the rates are of. The
// reason is not empty where they cannot be fitted.
func arrangeUnits(in *UnitRatesInput) (l *layout, reason string) {
	if reason := unanswerable(in.Confidence, in.At); reason != "" {
		return nil, reason
	}
	l = &layout{}
	for i, u := range in.Units {
		switch {
		case u.Condition < 0 || u.Condition >= len(in.Conditions):
			return nil, fmt.Sprintf("unit %d has no condition", i+1)
		case !isFinite(u.PerMonth):
			return nil, fmt.Sprintf("the rate of unit %d is no finite number", i+1)
		case u.PerMonth <= 0:
			return nil, fmt.Sprintf("a unit at %s has a rate of zero or less, which has no logarithm", in.Conditions[u.Condition].Name)
		}
		if k := in.Conditions[u.Condition].Celsius + ZeroCelsius; !(k > 0) || math.IsInf(k, 1) {
			return nil, fmt.Sprintf("%s has no temperature", in.Conditions[u.Condition].Name)
		}
		l.batches = append(l.batches, u.Batch)
		l.conditions = append(l.conditions, u.Condition)
	}
	slices.Sort(l.batches)
	slices.Sort(l.conditions)
	l.batches, l.conditions, l.groups = slices.Compact(l.batches), slices.Compact(l.conditions), 1
	for _, c := range l.conditions {
		l.cells = append(l.cells, cell{0, c})
	}
	if len(l.temperatures(&Input{Conditions: in.Conditions})) < 2 {
		return nil, "there are rates at fewer than two temperatures"
	}
	return l, ""
}

// designUnits lays out the columns of rates that can be fitted.
func designUnits(in *UnitRatesInput) (d *unitDesign, reason string) {
	l, reason := arrangeUnits(in)
	if reason != "" {
		return nil, reason
	}
	climates := &Input{Conditions: in.Conditions}
	humidity := humidityTold(climates, l)
	s := newSurface(climates, &freeRates{layout: *l}, humidity)
	d = &unitDesign{layout: l, surface: s, units: slices.Clone(in.Units)}
	slices.SortFunc(d.units, func(a, b UnitRate) int {
		return comparePoints(Point{a.Batch, a.Condition, 0, a.PerMonth}, Point{b.Batch, b.Condition, 0, b.PerMonth})
	})
	n := len(d.units)
	column := func(name string) linear.Column { return linear.Column{Name: name, Values: make([]float64, n)} }
	d.z = make([]float64, n)
	d.common = column("the mean")
	d.exponents = []linear.Column{column("temperature")}
	if humidity {
		d.exponents = append(d.exponents, column("humidity"))
	}
	for range l.batches {
		d.batch = append(d.batch, column("a batch"))
	}
	for _, c := range l.conditions {
		d.condition = append(d.condition, column(in.Conditions[c].Name))
	}
	for i, u := range d.units {
		b, _ := slices.BinarySearch(l.batches, u.Batch)
		c, _ := slices.BinarySearch(l.conditions, u.Condition)
		d.z[i] = math.Log(u.PerMonth)
		d.common.Values[i] = 1
		d.exponents[0].Values[i] = -s.u[c]
		if humidity {
			d.exponents[1].Values[i] = s.h[c]
		}
		d.batch[b].Values[i] = 1
		d.condition[c].Values[i] = 1
	}
	return d, ""
}

// levels are the intercept columns: one, or one a batch.
func (d *unitDesign) levels() []linear.Column {
	if d.separate {
		return d.batch
	}
	return []linear.Column{d.common}
}

// fit fits a common level and, where the batches differ, their own. The reason
// is not empty where that could not be done.
func (d *unitDesign) fit(in *UnitRatesInput) (reason string) {
	pooled, err := linear.LeastSquares(slices.Concat(d.levels(), d.exponents), d.z)
	if err != nil || pooled.DF < 1 {
		return fmt.Sprintf("%d units are too few", len(d.units))
	}
	d.line = pooled
	if len(d.batch) == 1 {
		return ""
	}
	own, err := linear.LeastSquares(slices.Concat(d.batch, d.exponents), d.z)
	var rank *linear.RankError
	switch {
	case errors.As(err, &rank):
		return "the batches cannot be told from the temperatures; a batch has to be at two of them"
	case err != nil || own.DF < 1:
		return fmt.Sprintf("%d units are too few for %d batches", len(d.units), len(d.batch))
	}
	if _, p := extra(pooled, own); in.ByBatch || p < in.PoolAlpha {
		d.line, d.separate = own, true
	}
	return ""
}

// extra is the F-test of a model against a wider one by the extra sum of squares.
func extra(narrow, wide *linear.Fit) (f, p float64) {
	return linear.ExtraSumOfSquares(narrow.RSS-wide.RSS, narrow.DF-wide.DF, wide.RSS, wide.DF)
}

func (d *unitDesign) tell(r *Result, in *UnitRatesInput) {
	fit, levels := d.line, len(d.levels())
	r.Status, r.Rising, r.Temperatures = Fitted, true, len(d.temperatures(&Input{Conditions: in.Conditions}))
	lambda := 0.0
	for _, a := range fit.Coefficients[:levels] {
		lambda += a / float64(levels)
	}
	r.tellLine(lambda, fit.Coefficients[levels], d.invRef)
	r.EaSE = fit.SE(levels)
	half := linear.StudentQuantile(1-(1-in.Confidence)/2, fit.DF) * r.EaSE
	r.EaLow, r.EaHigh = r.EaKJ-half, r.EaKJ+half
	r.SSE, r.ResidualSD, r.DF = fit.RSS, fit.ResidualSD(), fit.DF
	if d.humidity {
		r.Humidity, r.HumiditySE, r.HumidityReference = fit.Coefficients[levels+1], fit.SE(levels+1), d.rhRef
	}
	if r.EaKJ < 0 {
		r.warn(in.Where, "negative-activation-energy",
			"The fitted activation energy is negative: the loss is slower where it is hotter. Look at the rates of each condition before trusting any prediction.")
	}
}

// free fits a level for each condition; nil where that cannot be done or leaves
// nothing to judge the scatter by. One level has to go where the conditions have
// their own.
func (d *unitDesign) free() *linear.Fit {
	free, err := linear.LeastSquares(slices.Concat(d.condition, d.levels()[1:]), d.z)
	if err != nil || free.DF < 1 {
		return nil
	}
	return free
}

// rates tells the conditions' rates.
func (d *unitDesign) rates(r *Result, in *UnitRatesInput) {
	s := r.ResidualSD
	if free := d.free(); free != nil {
		s = free.ResidualSD()
	}
	for k, c := range d.conditions {
		mean, n := 0.0, 0.0
		for i, member := range d.condition[k].Values {
			mean += member * d.z[i]
			n += member
		}
		rate := math.Exp(mean / n)
		r.Rates = append(r.Rates, Rate{Condition: c, Batch: -1, Celsius: in.Conditions[c].Celsius, PerMonth: rate, SE: rate * s / math.Sqrt(n)})
	}
}

// lackOfFit tests the line against levels of the conditions' own.
func (d *unitDesign) lackOfFit() lineTest {
	free := d.free()
	if free == nil || d.line.DF <= free.DF {
		return lineTest{}
	}
	f, p := extra(d.line, free)
	return lineTest{f, p, d.line.DF - free.DF, free.DF, true}
}

// bends finds the condition without which one activation energy fits the rest
// best, by the same test on the rest; −1 where the rest can no longer be tested.
func (d *unitDesign) bends(in *UnitRatesInput) int {
	worst, best := -1, -1.0
	for _, c := range d.conditions {
		without := *in
		without.Units = slices.DeleteFunc(slices.Clone(d.units), func(u UnitRate) bool { return u.Condition == c })
		rest, reason := designUnits(&without)
		if reason != "" || len(rest.temperatures(&Input{Conditions: in.Conditions})) < 3 || rest.fit(in) != "" {
			continue
		}
		if t := rest.lackOfFit(); t.tested && t.p > best {
			worst, best = c, t.p
		}
	}
	return worst
}

// predict tells when the loss reaches the limit.
func (d *unitDesign) predict(r *Result, in *UnitRatesInput) {
	fit := d.line
	if !isFinite(in.Upper) {
		return
	}
	r.OneSided = true
	t := linear.StudentQuantile(in.Confidence, fit.DF)
	temperatures := d.temperatures(&Input{Conditions: in.Conditions})
	levels, p := len(d.levels()), len(fit.Coefficients)
	r.Predictions = make([]Prediction, len(in.At))
	for i, target := range in.At {
		u, h := d.at(target)
		best := Prediction{Celsius: target.Celsius, Humidity: target.Humidity, ShelfLife: math.Inf(1), Batch: -1, Q10Life: math.NaN(),
			Extrapolated: target.Celsius < temperatures[0] || target.Celsius > temperatures[len(temperatures)-1]}
		for k := range levels {
			x := make([]float64, p)
			x[k], x[levels] = 1, -u
			if d.humidity {
				x[levels+1] = h
			}
			mean, variance := 0.0, 0.0
			for a := range x {
				mean += x[a] * fit.Coefficients[a]
				for b := range x {
					variance += x[a] * x[b] * fit.Covariance[a*p+b]
				}
			}
			limit := max(0, in.Upper)
			estimate := limit * math.Exp(-mean)
			bound := limit * math.Exp(-mean-t*fit.ResidualSD()*math.Sqrt(max(0, variance)))
			if k == 0 || bound < best.ShelfLife {
				best.Estimate, best.ShelfLife, best.Delta = estimate, bound, bound
				if d.separate {
					best.Batch = d.batches[k]
				}
			}
		}
		hottest := slices.MaxFunc(r.Rates, func(a, b Rate) int { return cmp.Compare(a.Celsius, b.Celsius) })
		if target.Celsius < hottest.Celsius && in.Upper > 0 {
			best.Q10Life = in.Upper / hottest.PerMonth * AgeingFactor(conventionalQ10, hottest.Celsius, target.Celsius)
		}
		r.Predictions[i] = best
	}
}
