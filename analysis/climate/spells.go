package climate

import (
	"math"

	"shelfspan/analysis/arrhenius"
	"shelfspan/study"
)

const (
	coldest = -273.15
	hottest = 200.0
	perBin  = 100 // bins of 0.01 °C
)

// spells is how long it was at which temperature, in bins of 0.01 °C, each with
// its own mean temperature. Loggers resolve no more, so that a bin mostly holds
// one value; where it holds several its mean takes their place, which for an
// activation energy of 100 kJ/mol puts a rate wrong by 10⁻⁷ at the most.
type spells struct {
	milli, moment []float64 // moment is Σ milli·(T − the bin's middle)
}

func newSpells() *spells {
	n := int(math.Round((hottest-coldest)*perBin)) + 2
	return &spells{make([]float64, n), make([]float64, n)}
}

func bin(celsius float64) int { return int(math.Round((celsius - coldest) * perBin)) }

func middle(bin int) float64 { return coldest + float64(bin)/perBin }

// add counts time at a temperature between absolute zero and 200 °C.
func (s *spells) add(celsius, milli float64) {
	if s == nil {
		return
	}
	i := min(max(bin(celsius), 0), len(s.milli)-1)
	s.milli[i] += milli
	s.moment[i] += milli * (celsius - middle(i))
}

// monthMilli is a month of 30.4375 days.
const monthMilli = study.DaysPerMonth * 24 * hour

func (s *spells) list() []arrhenius.Spell {
	if s == nil {
		return nil
	}
	h := []arrhenius.Spell{}
	for i, milli := range s.milli {
		if milli > 0 {
			h = append(h, arrhenius.Spell{Celsius: middle(i) + s.moment[i]/milli, Months: milli / monthMilli})
		}
	}
	return h
}
