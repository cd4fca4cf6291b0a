package climate

import (
	"math"

	"shelfspan/study/logger"
)

// mostBands is how many bands a strip has at the most; it has half as many at
// least, once there are so many readings.
const mostBands = 240

// Strip is a small picture of a history: the range of the temperatures in each of
// equal stretches of time from the first reading on.
type Strip struct {
	Milli int64 // the length of a stretch
	Bands []Band
}

// Band is a range of temperatures in °C; NaN where nothing is known.
type Band struct{ Low, High float64 }

func (b *Band) hold(celsius float64) {
	if !(celsius >= b.Low) {
		b.Low = celsius
	}
	if !(celsius <= b.High) {
		b.High = celsius
	}
}

// put adds a temperature; stretches double where time runs over the end.
func (s *Strip) put(elapsed int64, celsius float64) {
	if s.Milli == 0 {
		s.Milli = 1000
	}
	for elapsed/s.Milli >= mostBands {
		half := (len(s.Bands) + 1) / 2
		for i := range half {
			joined := s.Bands[2*i]
			if 2*i+1 < len(s.Bands) {
				if next := s.Bands[2*i+1]; !math.IsNaN(next.Low) {
					joined.hold(next.Low)
					joined.hold(next.High)
				}
			}
			s.Bands[i] = joined
		}
		s.Bands = s.Bands[:half]
		s.Milli *= 2
	}
	i := int(elapsed / s.Milli)
	for len(s.Bands) <= i {
		s.Bands = append(s.Bands, Band{math.NaN(), math.NaN()})
	}
	s.Bands[i].hold(celsius)
}

// join draws the line between two readings through the stretches that hold
// neither; the second is already put.
func (s *Strip) join(a, b *logger.Reading) {
	for i := a.Elapsed/s.Milli + 1; i < b.Elapsed/s.Milli; i++ {
		at := float64(i)*float64(s.Milli) + float64(s.Milli)/2
		part := (at - float64(a.Elapsed)) / float64(b.Elapsed-a.Elapsed)
		s.Bands[i].hold(a.Celsius + part*(b.Celsius-a.Celsius))
	}
}
