package comparison

import (
	"math"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
)

// Course is where a change starts from and how far it may go, so that a rate can
// be told in months.
type Course struct {
	Start    float64 // on the model's scale
	Model    kinetics.Model
	Baseline float64 // months from which the trend counts
	Limits   []kinetics.Limit
	Horizon  float64 // months beyond which a longer life is worth nothing; +Inf for none
}

// Life is the months in which a rate, in the model's own time, leads from the
// start to the first limit: 0 where the start is beyond one, +Inf where never.
func (c *Course) Life(rate float64) float64 {
	line := linear.Line{Level: c.Start, Slope: rate}
	life := math.Inf(1)
	for _, l := range c.Limits {
		switch tau := l.MetBy(line, 0); {
		case tau == 0:
			return 0
		case !math.IsInf(tau, 1):
			life = min(life, c.Baseline+c.Model.InverseTime(tau))
		}
	}
	return life
}

// Lost is what of the horizon a rate costs against another: the difference of
// their lives, either no longer than it.
func (c *Course) Lost(rate, against float64) float64 {
	return min(c.Life(against), c.Horizon) - min(c.Life(rate), c.Horizon)
}

// Range is the least and the most that is lost over rates from low to high. A
// life is longest where nothing changes and falls off to either side.
func (c *Course) Range(low, high, against float64) (least, most float64) {
	a, b := c.Lost(low, against), c.Lost(high, against)
	least, most = min(a, b), max(a, b)
	if low < 0 && high > 0 {
		least = min(least, c.Lost(0, against))
	}
	return least, most
}

// Margin is how much a rate may differ from another, on the side that shortens the
// life, before that costs more than some months of the horizon: the difference,
// signed, or ±Inf where no rate costs that. Where the life is longer than the
// horizon the rate may first use up what is over.
func (c *Course) Margin(against, months float64) float64 {
	life := min(c.Life(against), c.Horizon)
	if !(life > months) {
		return math.Copysign(math.Inf(1), c.harmful(against))
	}
	sign := c.harmful(against)
	over := func(d float64) bool { return min(c.Life(against+sign*d), c.Horizon) < life-months }
	high := max(math.Abs(against), 1e-12)
	for k := 0; !over(high); k++ {
		if k == 200 {
			return math.Copysign(math.Inf(1), sign)
		}
		high *= 2
	}
	low := 0.0
	for range 100 {
		mid := (low + high) / 2
		if over(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return sign * low
}

// RateFor is the rate, on the side of another that shortens the life, whose life is
// so many months; ±Inf where none is so short.
func (c *Course) RateFor(months, against float64) float64 {
	sign := c.harmful(against)
	over := func(rate float64) bool { return c.Life(sign*rate) < months }
	high := 1e-12 * (1 + math.Abs(c.Start))
	for k := 0; !over(high); k++ {
		if k == 400 {
			return math.Copysign(math.Inf(1), sign)
		}
		high *= 2
	}
	low := 0.0
	for range 200 {
		if mid := (low + high) / 2; over(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return sign * low
}

// harmful is the side on which a faster change shortens the life: that of the
// limit which is met, or would be met first by a change of either sign.
func (c *Course) harmful(against float64) float64 {
	step := max(math.Abs(against), 1e-6*(1+math.Abs(c.Start)))
	for range 60 {
		up, down := c.Life(against+step), c.Life(against-step)
		switch {
		case up < down:
			return 1
		case down < up:
			return -1
		}
		step *= 4
	}
	return 1
}
