package arrhenius

import "math"

// surface is the sum of squares over the rates as a function of the two
// exponents, Ea in kJ/mol and B per % RH; the common factor κ of the rates of
// each group is linear and always at its best.
type surface struct {
	free     *freeRates
	u, h     []float64 // by cell: 1000/R·(1/T − 1/Tref) and RH − RHref
	invRef   float64   // 1/Tref
	rhRef    float64
	humidity bool // B is fitted; else it is 0 everywhere

	v, w    []float64
	factors []factor
}

func newSurface(in *Input, f *freeRates, humidity bool) *surface {
	n, c := float64(len(f.conditions)), len(f.cells)
	s := &surface{free: f, humidity: humidity, rhRef: math.NaN(),
		u: make([]float64, c), h: make([]float64, c), v: make([]float64, c), w: make([]float64, c), factors: make([]factor, f.groups)}
	for _, i := range f.conditions {
		s.invRef += 1 / (in.Conditions[i].Celsius + ZeroCelsius) / n
	}
	if humidity {
		s.rhRef = 0
		for _, i := range f.conditions {
			s.rhRef += in.Conditions[i].Humidity / n
		}
	}
	for k, x := range f.cells {
		s.u[k], s.h[k] = s.at(Target{in.Conditions[x.condition].Celsius, in.Conditions[x.condition].Humidity})
	}
	for g := range s.factors {
		s.factors[g].from, s.factors[g].to = f.cellsOf(g)
	}
	return s
}

// at gives a climate's place on the exponents; a humidity that is not known is
// the reference one.
func (s *surface) at(t Target) (u, h float64) {
	u = 1000 / GasConstant * (1/(t.Celsius+ZeroCelsius) - s.invRef)
	if s.humidity && isFinite(t.Humidity) {
		h = t.Humidity - s.rhRef
	}
	return u, h
}

// place is the surface at one pair of exponents.
type place struct {
	excess  float64  // SSE less that of the free-rate model
	factors []factor // by group; until the next look
}

// factor is what the rates of a group have in common.
type factor struct {
	from, to int     // the group's cells
	kappa    float64 // best common factor, signed
	weight   float64 // ‖W·v‖²: its unscaled variance is 1/weight
	shift    float64 // rates are κ·exp(−Ea·u + B·h − shift); the largest of the studied ones has exponent 0
}

// look evaluates the surface; it leaves the relative rates of the cells in
// s.v. No result bears on the rates of two groups, so that W is made of a block
// for each and their factors are found one by one.
func (s *surface) look(ea, b float64) place {
	for g := range s.factors {
		x := &s.factors[g]
		x.shift = math.Inf(-1)
		for i := x.from; i < x.to; i++ {
			s.v[i] = -ea*s.u[i] + b*s.h[i]
			x.shift = max(x.shift, s.v[i])
		}
		for i := x.from; i < x.to; i++ {
			s.v[i] = math.Exp(s.v[i] - x.shift)
		}
	}
	s.free.times(s.v, s.w)
	p := place{factors: s.factors}
	for g := range s.factors {
		x := &s.factors[g]
		wd := 0.0
		x.weight = 0
		for i := x.from; i < x.to; i++ {
			x.weight += s.w[i] * s.w[i]
			wd += s.w[i] * s.free.d[i]
		}
		x.kappa = wd / x.weight
		for i := x.from; i < x.to; i++ {
			r := x.kappa*s.w[i] - s.free.d[i]
			p.excess += r * r
		}
	}
	return p
}

// start looks for the place to start from on a grid wide enough for anything
// from a rate that falls with temperature to a protein that unfolds.
func (s *surface) start() (ea, b float64) {
	least := math.Inf(1)
	const reach, step = 3.0, 0.5 // of B·(RHmax − RHmin)/2
	span := 0.0
	for _, h := range s.h {
		span = max(span, math.Abs(h))
	}
	for e := -200.0; e <= 600; e += 5 {
		if !s.humidity {
			if p := s.look(e, 0); p.excess < least {
				ea, least = e, p.excess
			}
			continue
		}
		for x := -reach; x <= reach; x += step {
			if p := s.look(e, x/span); p.excess < least {
				ea, b, least = e, x/span, p.excess
			}
		}
	}
	return ea, b
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
