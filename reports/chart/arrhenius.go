package chart

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// inverse is 1000/T of a temperature in °C.
func inverse(celsius float64) float64 { return 1000 / (celsius + 273.15) }

// Arrhenius draws ln of the rate against 1000/T, with °C above: the rate of
// each condition with its standard error, the line fitted through all of them,
// and the temperatures predicted for. A rate whose sign is against the fit has
// no logarithm and is named in the legend instead. The second value is false
// where nothing was fitted.
func Arrhenius(d *study.Dataset, r *analysis.Arrhenius) (*Chart, bool) {
	if r.Status != analysis.Fitted || len(r.Rates) == 0 {
		return nil, false
	}
	c := &Chart{
		x:   axis{label: "1000 / T (1/K)"},
		y:   axis{label: "ln of rate (rate per month)"},
		top: &axis{label: "temperature (°C)"},
	}
	sign := majority(r.Rates)
	mark := marker{color: Palette[0]}
	ps := points{marker: mark, size: 3.4}
	var rates []analysis.Rate // of the points
	ps.says = func(i int) string { return words.Rate(d.Study, r, &rates[i]) }
	var xs, ys, celsius []float64
	var absent []string
	for _, q := range r.Rates {
		xs, celsius = append(xs, inverse(q.Celsius)), append(celsius, q.Celsius)
		rate := q.PerMonth * sign
		if !(rate > 0) {
			absent = append(absent, d.Study.Conditions[q.Condition].ID)
			continue
		}
		ln := math.Log(rate)
		low, high := math.Log(rate-q.SE), math.Log(rate+q.SE) // NaN where the error reaches zero: open below
		ps.at, rates = append(ps.at, xy{inverse(q.Celsius), ln}), append(rates, q)
		ps.low, ps.high = append(ps.low, low), append(ps.high, high)
		ys = append(ys, ln, high)
		if low > ln-3 {
			ys = append(ys, low)
		}
	}
	on := points{marker: marker{color: ink, sides: 4, hollow: true}, size: 3.2}
	var predicted []string
	var lives []analysis.Prediction // of the points predicted for
	on.says = func(i int) string { return words.Life(r, &lives[i]) }
	coldest, hottest := slices.Min(celsius), slices.Max(celsius)
	for _, p := range r.Predictions {
		if !finite(p.Celsius) || p.Celsius <= -200 || p.Celsius > 300 {
			continue
		}
		xs, celsius = append(xs, inverse(p.Celsius)), append(celsius, p.Celsius)
		c.events = append(c.events, event{at: inverse(p.Celsius), line: dashed(grey, 0.8, 1, 2.5)})
		predicted = append(predicted, number(p.Celsius, decimalsOf(p.Celsius)))
		if r.LnRate != nil {
			on.at, lives = append(on.at, xy{inverse(p.Celsius), r.LnRate(p.Celsius)}), append(lives, p)
		}
	}
	c.x.min, c.x.max = fitting(xs)
	c.x.ticks = niceTicks(c.x.min, c.x.max, 6)
	slices.Sort(celsius)
	celsius = slices.Compact(celsius)
	slices.Reverse(celsius) // ticks ascend along x
	for _, t := range celsius {
		c.top.ticks = append(c.top.ticks, tick{inverse(t), number(t, decimalsOf(t))})
	}
	if r.LnRate != nil {
		within, beyond := line{style: solid(ink, 1.5)}, line{style: dashed(ink, 1.2, 4, 2.5)}
		lo, hi := inverse(hottest), inverse(coldest)
		curve := func(from, to float64) (out []xy) {
			for k := range 25 {
				x := from + (to-from)*float64(k)/24
				out = append(out, xy{x, r.LnRate(1000/x - 273.15)})
			}
			return out
		}
		within.points = curve(lo, hi)
		c.lines = append(c.lines, within)
		for _, ends := range [][2]float64{{c.x.min, lo}, {hi, c.x.max}} {
			beyond.points = curve(ends[0], ends[1])
			c.lines = append(c.lines, beyond)
		}
		for _, x := range []float64{c.x.min, lo, hi, c.x.max} {
			ys = append(ys, r.LnRate(1000/x-273.15))
		}
	}
	c.y.min, c.y.max = fitting(ys)
	c.y.ticks = niceTicks(c.y.min, c.y.max, 6)
	c.points = append(c.points, on, ps)

	full, outside := solid(ink, 1.5), dashed(ink, 1.2, 4, 2.5)
	c.legend = []entry{
		{text: "rate of one condition ± 1 standard error", marker: &mark},
		{text: "Arrhenius line through all", line: &full},
		{text: "outside the temperatures studied", line: &outside},
	}
	if len(on.at) > 0 {
		c.legend = append(c.legend, entry{text: "predicted for, °C: " + strings.Join(predicted, ", "), marker: &on.marker})
	}
	if len(absent) > 0 {
		c.legend = append(c.legend, entry{text: "not shown, rate of the other sign or zero: " + strings.Join(absent, ", "), shared: "a rate of the other sign or zero is not shown"})
	}
	c.Description = fmt.Sprintf("Arrhenius plot of %s: ln of the rate against the inverse of the temperature, %d conditions from %s to %s °C.",
		words.Place(d.Study, r.Attribute, r.Pack, r.Orientation), len(r.Rates), words.Number(coldest, 4), words.Number(hottest, 4))
	return c, true
}

// majority is the sign most of the rates have, by weight of their size against
// their error.
func majority(rates []analysis.Rate) float64 {
	sum := 0.0
	for _, r := range rates {
		if r.SE > 0 {
			sum += r.PerMonth / r.SE
		} else {
			sum += r.PerMonth
		}
	}
	if sum < 0 {
		return -1
	}
	return 1
}

func decimalsOf(x float64) int {
	if x == math.Trunc(x) {
		return 0
	}
	return 1
}
