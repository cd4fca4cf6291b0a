package climate

import (
	"math"

	"shelfspan/analysis/arrhenius"
)

// kinetic sums w·exp(−θ/T) and w, where θ = ΔH/R in kelvin. The sum is kept as
// exp(top)·(sum + carry), top being the largest exponent so far, so that neither
// end of the scale is lost; carry is what rounding took off the sum (Neumaier, Z.
// angew. Math. Mech. 54, 1974, 39).
type kinetic struct {
	theta      float64
	top        float64
	sum, carry float64
	weight     float64
}

func newKinetic(energyKJ float64) kinetic {
	return kinetic{theta: energyKJ * 1000 / arrhenius.GasConstant, top: math.Inf(-1)}
}

// exponent is −θ/T.
func (k *kinetic) exponent(celsius float64) float64 { return -k.theta / kelvin(celsius) }

// add counts a temperature, given by its exponent, with a weight.
func (k *kinetic) add(exponent, weight float64) {
	if weight == 0 {
		return
	}
	k.weight += weight
	if exponent > k.top {
		shrink := math.Exp(k.top - exponent)
		k.sum, k.carry, k.top = k.sum*shrink, k.carry*shrink, exponent
		k.plus(weight)
		return
	}
	k.plus(weight * math.Exp(exponent-k.top))
}

func (k *kinetic) plus(x float64) {
	s := k.sum + x
	if k.sum >= x {
		k.carry += (k.sum - s) + x
	} else {
		k.carry += (x - s) + k.sum
	}
	k.sum = s
}

// celsius is the mean kinetic temperature,
//
//	T_K = θ / −ln(Σ wᵢ exp(−θ/Tᵢ) / Σ wᵢ);
//
// NaN where nothing was counted. ICH Q1A(R2), glossary, after Haynes, J. Pharm.
// Sci. 60, 1971, 927.
func (k *kinetic) celsius() float64 {
	if !(k.weight > 0) {
		return math.NaN()
	}
	return k.theta/-(k.top+math.Log((k.sum+k.carry)/k.weight)) - arrhenius.ZeroCelsius
}

// MeanKinetic is the mean kinetic temperature of a history in °C, by an energy in
// kJ/mol; NaN where the history has no length.
func MeanKinetic(h []arrhenius.Spell, energyKJ float64) float64 {
	k := newKinetic(energyKJ)
	for _, s := range h {
		k.add(k.exponent(s.Celsius), s.Months)
	}
	return k.celsius()
}

// mean is a mean with weights, summed as differences from its first value.
type mean struct{ origin, sum, carry, weight float64 }

func (m *mean) add(x, weight float64) {
	if m.weight == 0 && m.sum == 0 {
		m.origin = x
	}
	m.weight += weight
	y := (x - m.origin) * weight
	s := m.sum + y
	if math.Abs(m.sum) >= math.Abs(y) {
		m.carry += (m.sum - s) + y
	} else {
		m.carry += (y - s) + m.sum
	}
	m.sum = s
}

func (m *mean) value() float64 { return m.origin + (m.sum+m.carry)/m.weight }
