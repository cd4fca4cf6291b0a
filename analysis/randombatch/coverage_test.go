package randombatch

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
)

// studies of each setting; -v prints the table.
var studies = flag.Int("studies", 200, "simulated studies for each setting of the coverage test")

var pulls = []float64{0, 3, 6, 9, 12, 18, 24}

// draw makes a study: batch i has the line 100 − 0.4 t but for normal deviations
// with standard deviations sa and sb, and one result with a residual sd of 1 at
// each of times[i].
func draw(random *rand.Rand, times [][]float64, sa, sb float64) []pooling.Batch {
	batches := make([]pooling.Batch, len(times))
	for i := range batches {
		a, b := 100+sa*random.NormFloat64(), -0.4+sb*random.NormFloat64()
		for _, t := range times[i] {
			batches[i].X = append(batches[i].X, t)
			batches[i].Y = append(batches[i].Y, a+b*t+random.NormFloat64())
		}
	}
	return batches
}

func alike(batches int) (times [][]float64) {
	for range batches {
		times = append(times, pulls)
	}
	return times
}

// The share of studies in which the bound of the time at which a path meets its
// limit is no later than the true time, at a nominal 95 %. The limit stands where
// the true path meets it after 36 months, a year beyond the data. The bounds of
// the mean are Satterthwaite's, those of paths generalized ones, and neither is
// exact: over 10,000 studies each they cover in 94 % at the least, below which 3.5
// binomial standard errors of the studies drawn are allowed.
func TestCoverage(t *testing.T) {
	unequal := [][]float64{pulls, pulls, {0, 3, 6, 9, 12}, {0, 3, 6, 9, 12}, {0, 6, 12}, {0, 3, 6}}
	z := 1.6448536269514729
	for i, c := range []struct {
		name   string
		times  [][]float64
		sa, sb float64
	}{
		{"3 batches, no variation", alike(3), 0, 0},
		{"3 batches, little", alike(3), 0.5, 0.02},
		{"3 batches, intercepts", alike(3), 1, 0},
		{"3 batches, slopes", alike(3), 0, 0.05},
		{"3 batches, both", alike(3), 1, 0.05},
		{"3 batches, much", alike(3), 3, 0.1},
		{"5 batches, no variation", alike(5), 0, 0},
		{"5 batches, little", alike(5), 0.5, 0.02},
		{"5 batches, intercepts", alike(5), 1, 0},
		{"5 batches, slopes", alike(5), 0, 0.05},
		{"5 batches, both", alike(5), 1, 0.05},
		{"5 batches, much", alike(5), 3, 0.1},
		{"6 batches, no variation", alike(6), 0, 0},
		{"6 batches, little", alike(6), 0.5, 0.02},
		{"6 batches, intercepts", alike(6), 1, 0},
		{"6 batches, slopes", alike(6), 0, 0.05},
		{"6 batches, both", alike(6), 1, 0.05},
		{"6 batches, much", alike(6), 3, 0.1},
		{"10 batches, no variation", alike(10), 0, 0},
		{"10 batches, little", alike(10), 0.5, 0.02},
		{"10 batches, intercepts", alike(10), 1, 0},
		{"10 batches, slopes", alike(10), 0, 0.05},
		{"10 batches, both", alike(10), 1, 0.05},
		{"10 batches, much", alike(10), 3, 0.1},
		{"6 unequal batches, no variation", unequal, 0, 0},
		{"6 unequal batches, little", unequal, 0.5, 0.02},
		{"6 unequal batches, both", unequal, 1, 0.05},
		{"6 unequal batches, much", unequal, 3, 0.1},
	} {
		const at = 36.0
		mean := 100 - 0.4*at
		meanLimit := kinetics.Limit{Level: mean}
		pathLimit := kinetics.Limit{Level: mean - z*math.Hypot(c.sa, c.sb*at)}
		random := rand.New(rand.NewPCG(2026, uint64(i)))
		singular, means, paths := 0, 0, 0
		for range *studies {
			d := newDesign(draw(random, c.times, c.sa, c.sb))
			f, err := d.fit()
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
				continue
			}
			if f.Rank < 2 {
				singular++
			}
			// A bound that is beyond the limit at 36 months is a life of less: no
			// crossing needs to be looked for.
			j := d.judge(f, 0.95, 0.95)
			if j.meanLeft(at, meanLimit) <= 0 {
				means++
			}
			if j.pathsLeft(at, pathLimit) <= 0 {
				paths++
			}
		}
		n := float64(*studies)
		t.Logf("| %s | %.0f %% | %.2f %% | %.2f %% |", c.name, 100*float64(singular)/n, 100*float64(means)/n, 100*float64(paths)/n)
		least := 0.94 - 3.5*math.Sqrt(0.94*0.06/n)
		if float64(means)/n < least || float64(paths)/n < least {
			t.Errorf("%s: the mean is covered in %.4f and paths in %.4f of %d studies, want no less than %.4f", c.name, float64(means)/n, float64(paths)/n, *studies, least)
		}
	}
}
