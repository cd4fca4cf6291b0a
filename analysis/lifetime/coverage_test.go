package lifetime

import (
	"math"
	"math/rand/v2"
	"testing"

	"shelfspan/analysis/censored"
)

// design is how units are looked at, and the truth that they come from.
type design struct {
	truth    Distribution
	celsius  []float64
	each     int // units at a temperature
	looks    []float64
	returned bool // looked at again and again; else opened once, in turn at each of the looks
	scale    float64
}

// The truth: a median of 14 months at 40 °C, 85 kJ/mol.
const (
	trueMedian = 14.0
	trueEa     = 85.0
)

// location is the true location of ln t.
func (d *design) location(celsius float64) float64 {
	mu := math.Log(trueMedian) - d.scale*d.truth.family().quantile(0.5)
	return mu + 1000*trueEa/gasConstant*(1/(celsius+zeroCelsius)-1/(40+zeroCelsius))
}

// study draws the units of one study.
func (d *design) study(random *rand.Rand, out []Observation) []Observation {
	out = out[:0]
	family := d.truth.family()
	for _, celsius := range d.celsius {
		for k := range d.each {
			life := math.Exp(d.location(celsius) + d.scale*family.quantile(random.Float64()))
			o := Observation{Celsius: celsius, Interval: censored.Interval{By: math.Inf(1), Units: 1}}
			look := func(at float64) {
				if life > at {
					o.After = at
				} else {
					o.By = min(o.By, at)
				}
			}
			if d.returned {
				for _, at := range d.looks {
					look(at)
				}
			} else {
				look(d.looks[k%len(d.looks)])
			}
			out = append(out, o)
		}
	}
	return out
}

// studies simulated for each setting here; what DEVELOPERS.md has on record is of
// 4,000.
const studies = 200

// How often the one-sided 95 % bounds of the 5 % quantile are no later than the
// truth, of the studies that gave an estimate. The counts are on record: a change
// in them is a change in the method, but for two that may hang on a last digit.
func TestCoverageIsOnRecord(t *testing.T) {
	one, hot := []float64{40}, []float64{40, 45, 50}
	long, short := []float64{3, 6, 9, 12, 18, 24}, []float64{1, 2, 3, 6, 9, 12}
	for _, c := range []struct {
		name                  string
		design                design
		fitted                Distribution
		predict               float64
		estimated, wald, prof int
	}{
		{"60 opened once, lognormal", design{Lognormal, one, 60, long, false, 0.5}, Lognormal, 40, 200, 167, 176},
		{"240 opened once, lognormal", design{Lognormal, one, 240, long, false, 0.5}, Lognormal, 40, 200, 176, 181},
		{"60 opened once, Weibull", design{Weibull, one, 60, long, false, 0.4}, Weibull, 40, 200, 164, 175},
		{"20 returned, lognormal", design{Lognormal, one, 20, long, true, 0.5}, Lognormal, 40, 200, 172, 184},
		{"20 returned, Weibull", design{Weibull, one, 20, long, true, 0.4}, Weibull, 40, 200, 171, 180},
		{"80 returned, Weibull", design{Weibull, one, 80, long, true, 0.4}, Weibull, 40, 200, 186, 190},
		{"3 × 60 opened once, lognormal, at 25 °C", design{Lognormal, hot, 60, short, false, 0.5}, Lognormal, 25, 200, 196, 195},
		{"3 × 12 returned, lognormal, at 25 °C", design{Lognormal, hot, 12, short, true, 0.5}, Lognormal, 25, 200, 187, 187},
		{"3 × 12 returned, Weibull, at 25 °C", design{Weibull, hot, 12, short, true, 0.4}, Weibull, 25, 200, 187, 186},
		{"3 × 12 returned, Weibull fitted as lognormal, at 25 °C", design{Weibull, hot, 12, short, true, 0.4}, Lognormal, 25, 200, 163, 164},
		{"3 × 60 returned, Weibull fitted as lognormal, at 25 °C", design{Weibull, hot, 60, short, true, 0.4}, Lognormal, 25, 200, 133, 133},
		{"80 returned, Weibull fitted as lognormal", design{Weibull, one, 80, long, true, 0.4}, Lognormal, 40, 200, 99, 113},
		{"80 returned, lognormal fitted as Weibull", design{Lognormal, one, 80, long, true, 0.5}, Weibull, 40, 200, 200, 200},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			d := &c.design
			truth := math.Exp(d.location(c.predict) + d.scale*d.truth.family().quantile(0.05))
			in := Input{Distribution: c.fitted, Arrhenius: len(d.celsius) > 1, Confidence: 0.95}
			estimated, wald, prof := 0, 0, 0
			for k := range studies {
				in.Observations = d.study(rand.New(rand.NewPCG(2026, uint64(k))), in.Observations)
				q, err := Fit(in).Quantile(0.05, c.predict, 0.95)
				if err != nil {
					continue
				}
				estimated++
				if q.Wald <= truth {
					wald++
				}
				if q.Profile <= truth {
					prof++
				}
			}
			share := func(n int) float64 { return 100 * float64(n) / float64(estimated) }
			t.Logf("%d estimated of %d, Wald %.2f %%, profile %.2f %%", estimated, studies, share(wald), share(prof))
			off := func(a, b int) bool { return a-b > 2 || b-a > 2 }
			if off(estimated, c.estimated) || off(wald, c.wald) || off(prof, c.prof) {
				t.Errorf("estimated %d, covered by Wald %d, by the profile %d; on record are %d, %d, %d", estimated, wald, prof, c.estimated, c.wald, c.prof)
			}
		})
	}
}
