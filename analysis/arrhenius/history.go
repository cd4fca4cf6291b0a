package arrhenius

import (
	"fmt"
	"math"
	"strconv"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
)

// Spell is a time at one temperature.
type Spell struct {
	Celsius float64
	Months  float64
}

// History is what a product goes through, in spells whose order does not matter:
// every model's change goes on by the rate of the moment, whatever was before.
type History struct {
	Name   string // for the warnings: "the log"
	Spells []Spell
	Part   bool // of other histories, whose warnings hold for it
}

// Exposure is what a history does to a product, as the fit has it. Lives are of
// the batch that each is worst for. Bounds are by profile likelihood at the
// confidence, one- or two-sided as those of the predictions.
//
// With x the model's own time, a history takes a path as far as the extent
//
//	Ξ = (Σ k(Tᵢ)^q·Δtᵢ)^(1/q),  q = 1, and 2 for the square root of time,
//
// of which the limit is met at Ξ*. So it uses the share (Ξ/Ξ*)^q of a life, and
// is as long as Σ (k(Tᵢ)/k(T))^q·Δtᵢ at one temperature T. Humidity stays that of
// storage.
type Exposure struct {
	Months           float64 // length
	Coldest, Hottest float64 // °C

	// MeanKinetic is the steady temperature, in °C, at which the history would
	// have done the same, by the fitted activation energy; NaN where that is not
	// above zero.
	MeanKinetic float64

	// Equivalent is how long at the storage temperature the history is worth, in
	// months. It hangs on Ea alone, so that its ends are the least and the most
	// over the interval of Ea; an end without bound is +Inf. NaN where no storage
	// temperature is stated.
	Equivalent, EquivalentLow, EquivalentHigh float64

	// Used is the share of the life that the history uses: above 1 where it
	// outlasts it, 0 where the path meets no limit, +Inf where it meets one at the
	// start. UsedBound is the most it may have used; +Inf where nothing bounds it.
	// Both are NaN where there is no limit.
	Used, UsedBound float64
	Batch           int // whose life is used most; −1 where the batches are pooled or no limit is met

	// Left is the time at the storage temperature that is left then, in months; 0
	// where none is, +Inf where no limit is ever met. LeftBound is the least that
	// is left. NaN where there is no limit or no storage temperature.
	Left, LeftBound float64

	Above, Below float64 // shares of the time above the hottest and below the coldest temperature studied
	AboveAgeing  float64 // share of Equivalent that is from above the hottest
}

// exposure is what leads a path: a month of a steady climate, or a history.
type exposure interface {
	// logExtent is the logarithm of the extent with rates of exp(−Ea·u + B·h).
	logExtent(ea, b float64) float64
	// reach gives u of the hottest and of the coldest part.
	reach() (hottest, coldest float64)
}

// steady is a unit of the model's own time in one climate.
type steady struct{ u, h float64 }

func (s steady) logExtent(ea, b float64) float64   { return -ea*s.u + b*s.h }
func (s steady) reach() (hottest, coldest float64) { return s.u, s.u }

// varied is a history.
type varied struct {
	u, logMonths []float64
	h            float64
	order        float64 // q
	hot, cold    float64 // of u
}

// vary places a history on the surface, at a humidity; one that is not known is
// the reference one. The reason is not empty where it cannot be judged.
func (s *surface) vary(h *History, humidity, order float64) (v *varied, reason string) {
	v = &varied{order: order, hot: math.Inf(1), cold: math.Inf(-1)}
	for _, x := range h.Spells {
		if !(x.Celsius > -ZeroCelsius) || math.IsInf(x.Celsius, 1) || !(x.Months >= 0) || math.IsInf(x.Months, 1) {
			return nil, fmt.Sprintf("%v months at %v °C are no part of a history", x.Months, x.Celsius)
		}
		if x.Months == 0 {
			continue
		}
		var u float64
		u, v.h = s.at(Target{x.Celsius, humidity})
		v.u, v.logMonths = append(v.u, u), append(v.logMonths, math.Log(x.Months))
		v.hot, v.cold = min(v.hot, u), max(v.cold, u)
	}
	if len(v.u) == 0 {
		return nil, "it has no length"
	}
	return v, ""
}

func (v *varied) logExtent(ea, b float64) float64 {
	// The largest term is at one end of the scale or another; it is found first,
	// so that no sum runs over.
	top := math.Inf(-1)
	for i, u := range v.u {
		top = max(top, v.logMonths[i]-v.order*ea*u)
	}
	sum := 0.0
	for i, u := range v.u {
		sum += math.Exp(v.logMonths[i] - v.order*ea*u - top)
	}
	return (top+math.Log(sum))/v.order + b*v.h
}

func (v *varied) reach() (hottest, coldest float64) { return v.hot, v.cold }

// order is q of a model.
func order(m kinetics.Model) float64 {
	if m == kinetics.SquareRootTime {
		return 2
	}
	return 1
}

// describe tells of a history what hangs on the activation energy alone, with its
// interval, for a storage climate at u where there is one. cover spreads points
// over a range of Ea.
func (v *varied) describe(r *Result, h *History, temperatures []float64, storage float64, capLow, capHigh float64, cover func(low, high float64) []float64) Exposure {
	e := Exposure{Coldest: math.Inf(1), Hottest: math.Inf(-1), MeanKinetic: math.NaN(), Equivalent: math.NaN(), EquivalentLow: math.NaN(), EquivalentHigh: math.NaN(),
		Used: math.NaN(), UsedBound: math.NaN(), Left: math.NaN(), LeftBound: math.NaN(), Batch: -1}
	hottest, coldest := temperatures[len(temperatures)-1], temperatures[0]
	above := varied{order: v.order}
	i := 0
	for _, x := range h.Spells {
		if x.Months == 0 {
			continue
		}
		e.Months += x.Months
		e.Coldest, e.Hottest = min(e.Coldest, x.Celsius), max(e.Hottest, x.Celsius)
		switch {
		case x.Celsius > hottest:
			e.Above += x.Months
			above.u, above.logMonths = append(above.u, v.u[i]), append(above.logMonths, v.logMonths[i])
		case x.Celsius < coldest:
			e.Below += x.Months
		}
		i++
	}
	e.Above, e.Below = e.Above/e.Months, e.Below/e.Months
	extent := func(ea float64) float64 { return v.order * v.logExtent(ea, 0) }
	if len(above.u) > 0 {
		e.AboveAgeing = math.Exp(v.order*above.logExtent(r.EaKJ, 0) - extent(r.EaKJ))
	}
	if r.EaKJ > 0 {
		// −q·Ea·u = ln of the mean of exp(−q·Ea·uᵢ)
		mean := -(extent(r.EaKJ) - math.Log(e.Months)) / (v.order * r.EaKJ)
		e.MeanKinetic = 1/(mean*GasConstant/1000+1/(r.Reference+ZeroCelsius)) - ZeroCelsius
	}
	if math.IsNaN(storage) {
		return e
	}
	// Σ exp(−q·Ea·(uᵢ − u))·Δtᵢ is convex in Ea: the most is at an end, the least
	// where it turns or at one.
	equivalent := func(ea float64) float64 { return extent(ea) + v.order*ea*storage }
	e.Equivalent = math.Exp(equivalent(r.EaKJ))
	low, high := max(r.EaLow, capLow), min(r.EaHigh, capHigh)
	_, least := valley(equivalent, cover(low, high))
	e.EquivalentLow = math.Exp(min(least, equivalent(r.EaKJ)))
	e.EquivalentHigh = math.Exp(max(equivalent(low), equivalent(high), equivalent(r.EaKJ)))
	if math.IsInf(r.EaHigh, 1) && v.hot < storage || math.IsInf(r.EaLow, -1) && v.cold > storage {
		e.EquivalentHigh = math.Inf(1)
	}
	return e
}

// share is (Ξ/Ξ*)^q of logarithms, 0 where the limit is never met.
func share(logExtent, logCrossing, order float64) float64 {
	return math.Exp(order * (logExtent - logCrossing))
}

// left is the months at a storage rate that lie between two extents, all as
// logarithms; below zero where the limit is passed.
func left(logExtent, logCrossing, logStorage, order float64) float64 {
	switch apart := order * (logCrossing - logExtent); {
	case apart == 0:
		return 0
	case apart > 40: // e⁻⁴⁰ is lost beside 1
		return math.Exp(order * (logCrossing - logStorage))
	default:
		return math.Exp(order*(logExtent-logStorage)) * math.Expm1(apart)
	}
}

// expose judges the histories.
func (f *fitted) expose(r *Result, in *Input, limits []kinetics.Limit) []Exposure {
	if len(in.Histories) == 0 {
		return nil
	}
	storage, humidity := math.NaN(), math.NaN()
	if in.Storage != nil {
		storage, _ = f.at(*in.Storage)
		humidity = in.Storage.Humidity
	}
	q := order(f.model)
	temperatures := f.free.temperatures(in)
	t := linear.StudentQuantile(r.quantile(in.Confidence), f.df)
	allowance := f.sse * t * t / float64(f.df)
	low, high := f.region(f.excess+allowance, r.EaSE)
	var out []Exposure
	for i := range in.Histories {
		h := &in.Histories[i]
		v, reason := f.vary(h, humidity, q)
		if reason != "" {
			r.refuseHistory(in.Where, h, reason)
			out = append(out, noExposure())
			continue
		}
		e := v.describe(r, h, temperatures, storage, f.low, f.high, func(low, high float64) []float64 {
			return f.cover(low, high, min(v.hot, storage), max(v.cold, storage))
		})
		if judged(in, false) || judged(in, true) {
			f.spend(&e, v, limits, allowance, low, high, storage)
		}
		r.warnHistory(in.Where, h, &e, temperatures, in.Baseline)
		out = append(out, e)
	}
	return out
}

// spend tells what a history uses of a life, and what is left.
func (f *fitted) spend(e *Exposure, v *varied, limits []kinetics.Limit, allowance, low, high, storage float64) {
	q := v.order
	at := steady{storage, v.h} // NaN where there is none
	e.Used, e.UsedBound = 0, 0
	if !math.IsNaN(storage) {
		e.Left, e.LeftBound = math.Inf(1), math.Inf(1)
	}
	both := spread{v, at}
	for batch, name := range f.free.batches {
		used, usedBound := 0.0, 0.0
		for _, limit := range limits {
			crossing := f.crossing(batch, limit, f.look(f.ea, f.b), 0)
			extent := v.logExtent(f.ea, f.b)
			used = max(used, share(extent, crossing, q))
			usedBound = max(usedBound, used)
			if allowance > 0 {
				// The bound is the fewest times over that the history leads to the limit.
				usedBound = max(usedBound, share(0, f.bound(batch, limit, allowance, low, high, v), q))
			}
			if math.IsNaN(storage) {
				continue
			}
			rest := max(0, left(extent, crossing, at.logExtent(f.ea, f.b), q))
			e.Left, e.LeftBound = min(e.Left, rest), min(e.LeftBound, rest)
			if allowance > 0 {
				ea, least := f.least(f.excess+allowance, low, high, both, func(p place, room, ea, b float64) float64 {
					return left(v.logExtent(ea, b), f.crossing(batch, limit, p, room), at.logExtent(ea, b), q)
				})
				if f.unbounded(ea, low, high, both) {
					least = 0
				}
				e.LeftBound = min(e.LeftBound, max(0, least))
			}
		}
		if usedBound > e.UsedBound*(1+tie) || usedBound >= e.UsedBound*(1-tie) && used > e.Used*(1+tie) {
			e.Used, e.UsedBound, e.Batch = used, usedBound, name
		}
	}
	if math.IsInf(e.UsedBound, 1) && !math.IsNaN(storage) {
		e.LeftBound = 0
	}
}

// spread is a history and the storage climate it is held against.
type spread struct {
	*varied
	storage steady
}

func (s spread) reach() (hottest, coldest float64) {
	hot, cold := s.varied.reach()
	if math.IsNaN(s.storage.u) {
		return hot, cold
	}
	return min(hot, s.storage.u), max(cold, s.storage.u)
}

func noExposure() Exposure {
	n := math.NaN()
	return Exposure{Months: n, Coldest: n, Hottest: n, MeanKinetic: n, Equivalent: n, EquivalentLow: n, EquivalentHigh: n, Used: n, UsedBound: n, Left: n, LeftBound: n,
		Batch: -1, Above: n, Below: n, AboveAgeing: n}
}

func (r *Result) refuseHistory(where string, h *History, reason string) {
	r.warn(where, "history-not-judged", "What "+h.Name+" does could not be judged: "+reason+".")
}

// warnHistory says where a history goes beyond what was studied.
func (r *Result) warnHistory(where string, h *History, e *Exposure, temperatures []float64, baseline float64) {
	if h.Part {
		return
	}
	celsius := func(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) + " °C" }
	if hottest := temperatures[len(temperatures)-1]; e.Above > 0 {
		r.warn(where, "hotter-than-studied", fmt.Sprintf("%s of the time in %s, and %s of the ageing, is above %s, the hottest temperature studied: what the product does there, as melting or parting, the study does not say.",
			percent(e.Above), h.Name, percent(e.AboveAgeing), celsius(hottest)))
	}
	if coldest := temperatures[0]; e.Below > 0 {
		text := fmt.Sprintf("%s of the time in %s is below %s, the coldest temperature studied", percent(e.Below), h.Name, celsius(coldest))
		if e.Coldest < 0 {
			text += ", and some of it below 0 °C: what freezing and thawing does is not in the rates"
		} else {
			text += ": its share of the ageing is extrapolated"
		}
		r.warn(where, "colder-than-studied", text+".")
	}
	if baseline > 0 && !math.IsNaN(e.Used) {
		r.warn(where, "counted-from-baseline", "The share of the life that is used counts from the baseline on, as if "+h.Name+" began there.")
	}
}

// percent writes a share; one above zero is never written as none.
func percent(share float64) string {
	switch {
	case share < 0.001:
		return "less than 0.1 %"
	case share < 0.0995:
		return strconv.FormatFloat(100*share, 'f', 1, 64) + " %"
	}
	return strconv.FormatFloat(100*share, 'f', 0, 64) + " %"
}
