package arrhenius

import "math"

// surface is the sum of squares over the rates as a function of the two
// exponents, Ea in kJ/mol and B per % RH; the common factor κ of the rates is
// linear and always at its best.
type surface struct {
	free     *freeRates
	u, h     []float64 // by condition: 1000/R·(1/T − 1/Tref) and RH − RHref
	invRef   float64   // 1/Tref
	rhRef    float64
	humidity bool // B is fitted; else it is 0 everywhere

	v, w []float64
}

func newSurface(in *Input, f *freeRates, humidity bool) *surface {
	c := len(f.conditions)
	s := &surface{free: f, humidity: humidity, rhRef: math.NaN(),
		u: make([]float64, c), h: make([]float64, c), v: make([]float64, c), w: make([]float64, c)}
	for _, i := range f.conditions {
		s.invRef += 1 / (in.Conditions[i].Celsius + zeroCelsius) / float64(c)
	}
	if humidity {
		s.rhRef = 0
		for _, i := range f.conditions {
			s.rhRef += in.Conditions[i].Humidity / float64(c)
		}
	}
	for k, i := range f.conditions {
		s.u[k], s.h[k] = s.at(Target{in.Conditions[i].Celsius, in.Conditions[i].Humidity})
	}
	return s
}

// at gives a climate's place on the exponents; a humidity that is not known is
// the reference one.
func (s *surface) at(t Target) (u, h float64) {
	u = 1000 / gasConstant * (1/(t.Celsius+zeroCelsius) - s.invRef)
	if s.humidity && isFinite(t.Humidity) {
		h = t.Humidity - s.rhRef
	}
	return u, h
}

// place is the surface at one pair of exponents.
type place struct {
	excess float64 // SSE less that of the free-rate model
	kappa  float64 // best common factor, signed
	weight float64 // ‖W·v‖²: its unscaled variance is 1/weight
	shift  float64 // rates are κ·exp(−Ea·u + B·h − shift); the largest of the studied ones has exponent 0
}

// look evaluates the surface; it leaves the relative rates of the conditions in
// s.v.
func (s *surface) look(ea, b float64) place {
	p := place{shift: math.Inf(-1)}
	for i := range s.u {
		s.v[i] = -ea*s.u[i] + b*s.h[i]
		p.shift = max(p.shift, s.v[i])
	}
	for i := range s.v {
		s.v[i] = math.Exp(s.v[i] - p.shift)
	}
	s.free.times(s.v, s.w)
	wd := 0.0
	for i, w := range s.w {
		p.weight += w * w
		wd += w * s.free.d[i]
	}
	p.kappa = wd / p.weight
	for i, w := range s.w {
		r := p.kappa*w - s.free.d[i]
		p.excess += r * r
	}
	return p
}

// start looks for the place to start from on a grid wide enough for anything
// from a rate that falls with temperature to a protein that unfolds.
func (s *surface) start() (ea, b float64, at place) {
	at.excess = math.Inf(1)
	const reach, step = 3.0, 0.5 // of B·(RHmax − RHmin)/2
	span := 0.0
	for _, h := range s.h {
		span = max(span, math.Abs(h))
	}
	for e := -200.0; e <= 600; e += 5 {
		if !s.humidity {
			if p := s.look(e, 0); p.excess < at.excess {
				ea, at = e, p
			}
			continue
		}
		for x := -reach; x <= reach; x += step {
			if p := s.look(e, x/span); p.excess < at.excess {
				ea, b, at = e, x/span, p
			}
		}
	}
	return ea, b, at
}

// caps are activation energies at which only the hottest or the coldest
// condition still changes, to the machine's precision: the surface is flat
// beyond.
func (s *surface) caps() (low, high float64) {
	gap := func(sign float64) float64 {
		first, second := math.Inf(1), math.Inf(1)
		for _, u := range s.u {
			switch u *= sign; {
			case u < first:
				first, second = u, first
			case u > first && u < second:
				second = u
			}
		}
		return second - first
	}
	const exponent = 40 // e⁻⁴⁰ is lost beside 1
	return -exponent / gap(-1), exponent / gap(1)
}
