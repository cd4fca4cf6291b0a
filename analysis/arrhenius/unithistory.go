package arrhenius

import (
	"math"

	"shelfspan/analysis/linear"
)

// expose judges the histories for the median unit, as predict does a steady
// climate. The loss is its rate times the extent of the history, so that
//
//	ln(share used) = λ_batch + B·h + ln Ξ(Ea) − ln Upper,
//
// whose most is sought over Ea; with Ea held the rest is linear and the most over
// it has a closed form, since the parameters that the bound allows fill an ellipse.
func (d *unitDesign) expose(r *Result, in *UnitRatesInput) []Exposure {
	storage, humidity := math.NaN(), math.NaN()
	if in.Storage != nil {
		storage, _ = d.at(*in.Storage)
		humidity = in.Storage.Humidity
	}
	temperatures := d.temperatures(&Input{Conditions: in.Conditions})
	var out []Exposure
	for i := range in.Histories {
		h := &in.Histories[i]
		v, reason := d.vary(h, humidity, 1)
		if reason != "" {
			r.refuseHistory(in.Where, h, reason)
			out = append(out, noExposure())
			continue
		}
		e := v.describe(r, h, temperatures, storage, math.Inf(-1), math.Inf(1), across)
		if isFinite(in.Upper) {
			d.spend(&e, v, math.Log(max(0, in.Upper)), linear.StudentQuantile(in.Confidence, d.line.DF), storage)
		}
		r.warnHistory(in.Where, h, &e, temperatures, 0)
		out = append(out, e)
	}
	return out
}

// across spreads points evenly over a range.
func across(low, high float64) []float64 {
	const parts = 64
	points := make([]float64, parts+1)
	for i := range points {
		points[i] = low + (high-low)*float64(i)/parts
	}
	return points
}

// spend tells what a history uses of a life that ends at a loss, given as its
// logarithm, and what is left, with t the quantile of the bounds.
func (d *unitDesign) spend(e *Exposure, v *varied, logUpper, t, storage float64) {
	fit, levels := d.line, len(d.levels())
	p, s := len(fit.Coefficients), fit.ResidualSD()
	energy := fit.Coefficients[levels]
	variance := fit.Covariance[levels*p+levels] // unscaled, of Ea
	half := t * s * math.Sqrt(variance)
	e.Used, e.UsedBound = math.Inf(-1), math.Inf(-1)
	if !math.IsNaN(storage) {
		e.Left, e.LeftBound = math.Inf(1), math.Inf(1)
	}
	// Apart from the humidity, which stands in the level.
	plain := *v
	plain.h = 0
	for k := range levels {
		level, own, along := fit.Coefficients[k], fit.Covariance[k*p+k], fit.Covariance[k*p+levels]
		if d.humidity {
			b := levels + 1
			level += v.h * fit.Coefficients[b]
			own += 2*v.h*fit.Covariance[k*p+b] + v.h*v.h*fit.Covariance[b*p+b]
			along += v.h * fit.Covariance[b*p+levels]
		}
		// most is the highest level with Ea held.
		most := func(ea float64) float64 {
			off := ea - energy
			room := max(0, s*s*t*t-off*off/variance)
			return level + along/variance*off + math.Sqrt(room*max(0, own-along*along/variance))
		}
		used := level + plain.logExtent(energy, 0) - logUpper
		_, least := valley(func(ea float64) float64 { return -(most(ea) + plain.logExtent(ea, 0) - logUpper) }, across(energy-half, energy+half))
		bound := max(used, -least)
		if bound > e.UsedBound {
			e.Used, e.UsedBound = used, bound
			if d.separate {
				e.Batch = d.batches[k]
			}
		}
		if math.IsNaN(storage) {
			continue
		}
		rest := func(level, ea float64) float64 {
			return left(plain.logExtent(ea, 0), logUpper-level, -ea*storage, 1)
		}
		now := rest(level, energy)
		_, fewest := valley(func(ea float64) float64 { return rest(most(ea), ea) }, across(energy-half, energy+half))
		e.Left, e.LeftBound = min(e.Left, max(0, now)), min(e.LeftBound, max(0, min(now, fewest)))
	}
	e.Used, e.UsedBound = math.Exp(e.Used), math.Exp(e.UsedBound)
}
