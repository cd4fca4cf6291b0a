package climate

import (
	"math"

	"shelfspan/study/logger"
)

// mostListed bounds the excursions and gaps that are listed.
const mostListed = 100_000

// side watches one limit.
type side struct {
	limit  float64
	sign   float64 // 1 for the upper limit, −1 for the lower
	energy float64
	spells *spells // of the time outside; may be nil

	milli   float64 // outside
	count   int
	list    []Excursion
	current *course // nil while within the limit
}

// course is an excursion that goes on.
type course struct {
	Excursion
	milli   float64
	kinetic kinetic
	mean    mean
}

// beyond is how far a temperature is outside; 0 or less within.
func (s *side) beyond(celsius float64) float64 { return s.sign * (celsius - s.limit) }

// interval judges what lies between two readings, milli long, of which the first
// is already judged. Where the limit is crossed follows from the straight line
// between them.
func (s *side) interval(a, b *logger.Reading, milli float64) {
	va, vb := s.beyond(a.Celsius), s.beyond(b.Celsius)
	switch {
	case va <= 0 && vb <= 0:
	case va > 0 && vb > 0:
		s.spend(a.Celsius, b.Celsius, milli)
		s.see(b)
	case vb > 0:
		part := vb / (vb - va) * milli
		s.begin(b.At.After(-part), float64(b.Elapsed)-part, true)
		s.spend(s.limit, b.Celsius, part)
		s.see(b)
	default:
		part := va / (va - vb) * milli
		s.spend(a.Celsius, s.limit, part)
		s.end(a.At.After(part), true)
	}
}

// first judges a reading with nothing known before it.
func (s *side) first(x *logger.Reading) {
	if s.beyond(x.Celsius) > 0 {
		s.begin(x.At, float64(x.Elapsed), false)
		s.see(x)
	}
}

// cut ends what goes on at a reading with nothing known after it.
func (s *side) cut(x *logger.Reading) {
	if s.current != nil {
		s.end(x.At, false)
	}
}

func (s *side) begin(at logger.Stamp, elapsed float64, known bool) {
	s.current = &course{
		Excursion: Excursion{Above: s.sign > 0, Start: at, StartsKnown: known, begin: elapsed, Peak: Extreme{Celsius: math.NaN()}},
		kinetic:   newKinetic(s.energy),
	}
}

// see looks whether a reading is the farthest.
func (s *side) see(x *logger.Reading) {
	if p := &s.current.Peak; math.IsNaN(p.Celsius) || s.beyond(x.Celsius) > s.beyond(p.Celsius) {
		*p = Extreme{Celsius: x.Celsius, At: x.At}
	}
}

// spend counts time outside between two temperatures.
func (s *side) spend(from, to, milli float64) {
	c := s.current
	s.milli += milli
	c.milli += milli
	for _, celsius := range [2]float64{from, to} {
		c.kinetic.add(c.kinetic.exponent(celsius), milli/2)
		c.mean.add(celsius, milli/2)
		s.spells.add(celsius, milli/2)
	}
}

func (s *side) end(at logger.Stamp, known bool) {
	c := s.current
	s.current = nil
	s.count++
	c.End, c.EndsKnown, c.Hours = at, known, c.milli/hour
	c.Mean, c.MeanKinetic = c.Peak.Celsius, c.Peak.Celsius
	if c.milli > 0 {
		c.Mean, c.MeanKinetic = c.mean.value(), c.kinetic.celsius()
	}
	if len(s.list) < mostListed {
		s.list = append(s.list, c.Excursion)
	}
}
