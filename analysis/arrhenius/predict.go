package arrhenius

import (
	"math"
	"slices"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/study"
)

// limits gives the limits that are judged: those that can be breached in the
// stated direction.
func limits(in *Input, m kinetics.Model) []kinetics.Limit {
	var list []kinetics.Limit
	if judged(in, false) {
		list = append(list, m.Limit(in.Lower, false, in.Basis))
	}
	if judged(in, true) {
		list = append(list, m.Limit(in.Upper, true, in.Basis))
	}
	return list
}

// judged reports whether a side has a limit that can be breached in the stated
// direction.
func judged(in *Input, upper bool) bool {
	if upper {
		return isFinite(in.Upper) && in.Direction != study.Falls
	}
	return isFinite(in.Lower) && in.Direction != study.Rises
}

// unfitForPercent gives the reason why a percentage of the initial value makes
// no sense, empty where it does.
func (f *fitted) unfitForPercent(in *Input) string {
	if in.Basis != study.BasisPercent || f.model == kinetics.FirstOrder || len(limits(in, f.model)) == 0 {
		return ""
	}
	for i := range f.free.batches {
		if !(f.intercept(i) > 0) {
			return "a fitted initial value is not positive, so that no percentage of it can be a limit"
		}
	}
	return ""
}

// intercept is a batch's fitted starting point.
func (f *fitted) intercept(batch int) float64 {
	free, c := f.free, len(f.u)
	a := free.levelZ[batch]
	for j := range c {
		a -= free.levelX[batch*c+j] * f.rate(j)
	}
	return a
}

// crossing is where a batch's path meets a limit, as the logarithm of an extent
// (see exposure), with the exponents held and everything linear, the batch's
// intercept and the rates' factor, free within a sum of squares of `room` above
// its least; +Inf where it never does, −Inf where it does from the start.
//
// With the exponents held the path is a straight line in v·x, v being the
// relative rates, so this is the crossing of a line's confidence limit: the
// smallest crossing within the ellipse of the line's coefficients.
func (f *fitted) crossing(batch int, limit kinetics.Limit, p place, room float64) float64 {
	free, c := f.free, len(f.u)
	own := p.factors[free.group(batch)]
	line := linear.Line{Level: free.levelZ[batch], Slope: own.kappa,
		LevelVar: 1 / free.size[batch], SlopeVar: 1 / own.weight, S: 1, DF: f.df}
	for j := own.from; j < own.to; j++ {
		line.Centre += free.levelX[batch*c+j] * f.v[j]
	}
	return math.Log(limit.MetBy(line, math.Sqrt(room))) + own.shift
}

// shortcut is the life of a batch by its start and the hottest condition's own
// rate, stretched to a temperature by Q10 = 2; NaN where that rate leads to no
// limit or the temperature is not below the hottest.
func (f *fitted) shortcut(in *Input, batch int, limits []kinetics.Limit, celsius float64) float64 {
	celsiusOf := func(k int) float64 { return in.Conditions[f.free.cells[k].condition].Celsius }
	hottest, to := f.free.cellsOf(f.free.group(batch))
	for k := hottest; k < to; k++ {
		if celsiusOf(k) > celsiusOf(hottest) {
			hottest = k
		}
	}
	hot := celsiusOf(hottest)
	line := linear.Line{Level: f.intercept(batch), Slope: f.free.rates[hottest]}
	x := math.Inf(1)
	for _, limit := range limits {
		x = min(x, limit.MetBy(line, 0))
	}
	if x == 0 || math.IsInf(x, 1) || celsius >= hot {
		return math.NaN()
	}
	return f.model.InverseTime(x) * AgeingFactor(conventionalQ10, hot, celsius)
}

// tie is the relative difference below which two batches' lives are the same:
// which of them limits must not hang on a last digit that machines differ in.
const tie = 1e-6

// predict gives the crossing times at the targets.
//
// The bound is the end of the set of crossing times τ for which
// SSE(τ) ≤ SSEmin·(1 + t²/ν), SSE(τ) being the least with the crossing time
// held: a profile likelihood (Bates & Watts 1988, chapter 6; Venzon &
// Moolgavkar, Appl. Stat. 37, 1988, 87–94). Instead of holding τ and moving the
// rest it takes the smallest τ over all parameters with SSE ≤ SSEmin·(1 +
// t²/ν), which is the same number: for given Ea it has a closed form, so that
// only Ea, and B where fitted, is searched. t is one-sided where one side alone
// can be breached, else two-sided.
//
// Where the mean path moves away from every limit the estimate is +Inf; the
// bound is too, unless the allowance still holds paths that go the other way.
//
// No Ea that the allowance holds is left out, a negative one neither: what
// hardly changes at the temperatures studied may, for all the data say, change
// faster where it is colder, as what crystallizes or sets does. The bound is
// short then and a warning says why. To rule it out would lengthen a shelf life
// by an assumption that the data do not carry.
func (f *fitted) predict(r *Result, in *Input, limits []kinetics.Limit) []Prediction {
	if !judged(in, false) && !judged(in, true) {
		return nil
	}
	r.OneSided = judged(in, false) != judged(in, true)
	t := linear.StudentQuantile(r.quantile(in.Confidence), f.df)
	allowance := f.sse * t * t / float64(f.df)
	low, high := f.region(f.excess+allowance, r.EaSE)
	temperatures := f.free.temperatures(in)

	predictions := make([]Prediction, len(in.At))
	for i, target := range in.At {
		u, h := f.at(target)
		climate := steady{u, h}
		best := Prediction{Celsius: target.Celsius, Humidity: target.Humidity, Batch: -1,
			Estimate: math.Inf(1), ShelfLife: math.Inf(1), Delta: math.Inf(1), Q10Life: math.NaN(),
			Extrapolated: target.Celsius < temperatures[0] || target.Celsius > temperatures[len(temperatures)-1]}
		for batch, name := range f.free.batches {
			estimate, bound, delta := math.Inf(1), math.Inf(1), math.Inf(1)
			for _, limit := range limits {
				e := f.toLimit(batch, limit, climate)
				estimate = min(estimate, e)
				bound = min(bound, e)
				if allowance > 0 {
					bound = min(bound, f.bound(batch, limit, allowance, low, high, climate))
				}
				if !math.IsInf(e, 0) {
					delta = min(delta, e-t*f.logSE(batch, limit, u, h))
				} else {
					delta = min(delta, e)
				}
			}
			months := func(logX float64) float64 { return in.months(f.model, logX) }
			shelf, mean := months(bound), months(estimate)
			if shelf < best.ShelfLife*(1-tie) || shelf <= best.ShelfLife*(1+tie) && mean < best.Estimate*(1-tie) {
				best.ShelfLife, best.Estimate, best.Delta, best.Batch = shelf, mean, months(delta), name
				best.Q10Life = f.shortcut(in, batch, limits, target.Celsius)
			}
		}
		predictions[i] = best
	}
	if f.ea >= 0 && low < 0 {
		r.warn(in.Where, "activation-energy-sign",
			"The data do not rule out that the change is faster where it is colder (an activation energy below zero): bounds at cold temperatures are short for that reason.")
	}
	return predictions
}

// quantile is the level of the quantile of a bound at a confidence.
func (r *Result) quantile(confidence float64) float64 {
	if r.OneSided {
		return confidence
	}
	return 1 - (1-confidence)/2
}

// bound is the smallest crossing, less the extent of an exposure and as a
// logarithm, over the exponents that the allowance permits, of which Ea runs from
// low to high.
func (f *fitted) bound(batch int, limit kinetics.Limit, allowance, low, high float64, x exposure) float64 {
	ea, logX := f.least(f.excess+allowance, low, high, x, func(p place, room, ea, b float64) float64 {
		return f.crossing(batch, limit, p, room) - x.logExtent(ea, b)
	})
	if math.IsInf(logX, 1) {
		return logX
	}
	if f.unbounded(ea, low, high, x) {
		return math.Inf(-1)
	}
	return logX
}

// unbounded reports whether nothing bounds the rates of an exposure at an Ea: an
// end is open there, and the exposure goes beyond the studied temperatures on
// that side.
func (f *fitted) unbounded(ea, low, high float64, x exposure) bool {
	hottest, coldest := f.studied()
	hot, cold := x.reach()
	return math.IsInf(high, 1) && hot < hottest && ea > f.high-1e-3*(f.high-f.ea) ||
		math.IsInf(low, -1) && cold > coldest && ea < f.low+1e-3*(f.ea-f.low)
}

// studied gives the exponents of the hottest and the coldest condition.
func (f *fitted) studied() (hottest, coldest float64) {
	hottest, coldest = math.Inf(1), math.Inf(-1)
	for _, u := range f.u {
		hottest, coldest = min(hottest, u), max(coldest, u)
	}
	return hottest, coldest
}

// least is the smallest value of what hangs on a place of the surface, on the
// room it has below the level and on the exponents, over all that the level
// permits. Ea runs from low to high, an open end to where the surface is flat.
func (f *fitted) least(level, low, high float64, x exposure, value func(p place, room, ea, b float64) float64) (ea, least float64) {
	at := func(ea float64) float64 {
		if !f.humidity {
			p := f.look(ea, 0)
			if p.excess > level {
				return math.Inf(1)
			}
			return value(p, level-p.excess, ea, 0)
		}
		return f.overHumidity(level, ea, value)
	}
	if math.IsInf(low, -1) {
		low = f.low
	}
	if math.IsInf(high, 1) {
		high = f.high
	}
	hot, cold := x.reach()
	return valley(at, f.cover(low, high, hot, cold))
}

// cover spreads points over a range of Ea as close together as anything changes
// there: half a unit of the exponents between any two of the climates, among
// them the hottest and the coldest that is asked about, and a fraction of the range towards the fit, about which
// the sum of squares is narrowest.
func (f *fitted) cover(low, high, hot, cold float64) []float64 {
	hottest, coldest := f.studied()
	hottest, coldest = min(hottest, hot), max(coldest, cold)
	points := []float64{low, high}
	if low < f.ea && f.ea < high {
		points = append(points, f.ea)
	}
	if step := 0.5 / (coldest - hottest); step < high-low {
		for x := low + step; x < high; x += step {
			points = append(points, x)
		}
	}
	// Each of these is a third nearer than the one before.
	for side := 2.0 / 3; side > 1e-4; side *= 2.0 / 3 {
		points = append(points, f.ea-side*(f.ea-low), f.ea+side*(high-f.ea))
	}
	slices.Sort(points)
	// Of two points that rounding alone tells apart, which is lower says nothing.
	return slices.CompactFunc(points, func(a, b float64) bool { return math.Abs(a-b) < 1e-6*(high-low) })
}

// overHumidity is the smallest value over B with Ea held.
func (f *fitted) overHumidity(level, ea float64, value func(p place, room, ea, b float64) float64) float64 {
	best, excess := f.bestHumidity(ea)
	if excess > level {
		return math.Inf(1)
	}
	step := max(f.acrossB*math.Sqrt(level-excess)/4, f.reachB*1e-9)
	_, least := descend(func(b float64) float64 {
		p := f.look(ea, b)
		if p.excess > level {
			return math.Inf(1)
		}
		return value(p, level-p.excess, ea, b)
	}, best, step, f.b-f.reachB, f.b+f.reachB)
	return least
}

// logSE is the delta method's standard error of ln x at the crossing: with the
// path's start a, rate k and the limit's level β, ln x = ln(β − α·a) − ln k, where
// α is what its share leaves of the start. a is the
// batch's mean less the rates times its mean x, which makes it independent of
// the rates but for those.
func (f *fitted) logSE(batch int, limit kinetics.Limit, u, h float64) float64 {
	free, c := f.free, len(f.u)
	pull := 0.0
	if alpha := 1 - limit.Share; alpha != 0 {
		pull = alpha / (limit.Level - alpha*f.intercept(batch))
	}
	// The other groups' λ do not enter.
	parameters := [3]int{free.group(batch), free.groups, free.groups + 1}
	g := [3]float64{-1, u, -h}
	for j := range c {
		share := pull * free.levelX[batch*c+j] * f.rate(j)
		g[0] += share
		g[1] -= share * f.u[j]
		g[2] += share * f.h[j]
	}
	variance := pull * pull / free.size[batch]
	n := 2
	if f.humidity {
		n = 3
	}
	for i, pi := range parameters[:n] {
		for j, pj := range parameters[:n] {
			variance += g[i] * g[j] * f.covariance(pi, pj)
		}
	}
	return f.sd() * math.Sqrt(variance)
}
