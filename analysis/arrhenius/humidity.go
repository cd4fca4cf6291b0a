package arrhenius

import (
	"fmt"
	"math"
)

// judgeHumidity reports whether B is fitted: some temperature was run at two
// humidities and every condition states its own. Where humidity is left in Ea
// or ignored, a warning says so.
func (r *Result) judgeHumidity(in *Input, l *layout) bool {
	if humidityTold(in, l) {
		for _, t := range in.At {
			if !isFinite(t.Humidity) {
				r.warn(in.Where, "humidity-assumed", fmt.Sprintf("No humidity is stated for %v °C; the mean humidity of the conditions is taken.", t.Celsius))
			}
		}
		return true
	}
	first, differ, unknown := math.NaN(), false, ""
	for _, c := range l.conditions {
		switch h := in.Conditions[c].Humidity; {
		case !isFinite(h):
			unknown = in.Conditions[c].Name
		case math.IsNaN(first):
			first = h
		default:
			differ = differ || h != first
		}
	}
	switch {
	case differ && pairs(in, l) && unknown != "":
		r.warn(in.Where, "humidity-in-activation-energy",
			fmt.Sprintf("The effect of humidity could not be fitted because %s states none: the activation energy takes it in.", unknown))
	case differ:
		r.warn(in.Where, "humidity-in-activation-energy",
			"The conditions differ in humidity and no temperature was run at two: the activation energy takes in what humidity does.")
	}
	return false
}

func humidityTold(in *Input, l *layout) bool {
	for _, c := range l.conditions {
		if !isFinite(in.Conditions[c].Humidity) {
			return false
		}
	}
	return pairs(in, l)
}

// pairs reports whether some temperature was run at two humidities.
func pairs(in *Input, l *layout) bool {
	for i, a := range l.conditions {
		for _, b := range l.conditions[:i] {
			p, q := in.Conditions[a], in.Conditions[b]
			if p.Celsius == q.Celsius && isFinite(p.Humidity) && isFinite(q.Humidity) && p.Humidity != q.Humidity {
				return true
			}
		}
	}
	return false
}
