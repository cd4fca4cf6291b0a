package climate

import (
	"math"

	"shelfspan/analysis/arrhenius"
	"shelfspan/study"
	"shelfspan/study/lane"
)

// perDay is how many spells a daily swing is taken for. Of a sine, so many equal
// parts give sums of exponentials to the last digits.
const perDay = 48

// hoursPerMonth is a month of 30.4375 days.
const hoursPerMonth = 24 * study.DaysPerMonth

// LaneRecord is what a lane comes to. Temperatures are in °C.
type LaneRecord struct {
	EnergyKJ          float64
	MeanKinetic, Mean float64
	Min, Max          float64
	Hours             float64
	Above, Below      Side // Count is of legs
	Legs              []LegRecord
	Spells            []arrhenius.Spell
}

// LegRecord is one leg of a lane.
type LegRecord struct {
	Name         string
	Low, High    float64
	MeanKinetic  float64
	Hours        float64
	Above, Below float64 // hours beyond the limits
}

// Lane judges a lane by limits and energy; gaps are no matter of it. Where the
// temperature of a leg swings it is taken to follow a sine about the middle, once
// a day: common practice, no source.
func Lane(l *lane.Lane, s Settings) *LaneRecord {
	r := &LaneRecord{EnergyKJ: s.EnergyKJ, Min: math.Inf(1), Max: math.Inf(-1),
		Above: Side{Limit: math.NaN()}, Below: Side{Limit: math.NaN()}}
	if isFinite(s.Upper) {
		r.Above.Limit = s.Upper
	}
	if isFinite(s.Lower) {
		r.Below.Limit = s.Lower
	}
	all := newKinetic(s.EnergyKJ)
	var over mean
	for _, leg := range l.Legs {
		x := LegRecord{Name: leg.Name, Low: leg.Low, High: leg.High, Hours: leg.Months * hoursPerMonth}
		own := newKinetic(s.EnergyKJ)
		for _, spell := range swing(leg) {
			all.add(all.exponent(spell.Celsius), spell.Months)
			own.add(own.exponent(spell.Celsius), spell.Months)
			r.Spells = append(r.Spells, spell)
		}
		over.add(leg.Low/2+leg.High/2, leg.Months)
		x.MeanKinetic = own.celsius()
		if isFinite(s.Upper) {
			x.Above = x.Hours * beyondShare(s.Upper, leg.Low, leg.High)
		}
		if isFinite(s.Lower) {
			x.Below = x.Hours * beyondShare(-s.Lower, -leg.High, -leg.Low)
		}
		r.Hours += x.Hours
		r.Above.add(x.Above)
		r.Below.add(x.Below)
		r.Min, r.Max = min(r.Min, leg.Low), max(r.Max, leg.High)
		r.Legs = append(r.Legs, x)
	}
	r.MeanKinetic, r.Mean = all.celsius(), over.value()
	return r
}

func (s *Side) add(hours float64) {
	if hours > 0 {
		s.Hours += hours
		s.Count++
	}
}

// swing gives the spells of a leg.
func swing(leg lane.Leg) []arrhenius.Spell {
	if leg.Low == leg.High {
		return []arrhenius.Spell{{Celsius: leg.Low, Months: leg.Months}}
	}
	out := make([]arrhenius.Spell, perDay)
	for i := range out {
		out[i] = arrhenius.Spell{
			Celsius: (leg.Low+leg.High)/2 + (leg.High-leg.Low)/2*math.Sin(2*math.Pi*(float64(i)+0.5)/perDay),
			Months:  leg.Months / perDay,
		}
	}
	return out
}

// beyondShare is the share of the time that a sine between low and high is above
// a limit.
func beyondShare(limit, low, high float64) float64 {
	switch {
	case low > limit:
		return 1
	case high <= limit:
		return 0
	}
	return math.Acos((limit-(low+high)/2)/((high-low)/2)) / math.Pi
}

// SpellsAbove is the part of Spells above the upper limit.
func (r *LaneRecord) SpellsAbove() (out []arrhenius.Spell) {
	for _, s := range r.Spells {
		if s.Celsius > r.Above.Limit {
			out = append(out, s)
		}
	}
	return out
}
