package regression

import (
	"math"
	"math/rand/v2"
	"testing"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
	"shelfspan/study"
)

// studies simulated for each setting.
const studies = 2000

// pulls of every simulated study, months.
var pulls = [...]float64{0, 3, 6, 9, 12, 18, 24}

// truth is a simulated batch: its line on the model's scale.
type truth struct{ intercept, slope float64 }

// simulate draws one result a pull with a normal error on the model's scale.
func simulate(random *rand.Rand, in *Input, batches []truth, sd float64) {
	model := kinetics.Model(in.Model)
	for i, b := range batches {
		in.Batches[i] = in.Batches[i][:0]
		for _, months := range pulls {
			z := b.intercept + b.slope*model.Time(months) + sd*random.NormFloat64()
			in.Batches[i] = append(in.Batches[i], Point{Months: months, Value: model.Inverse(z)})
		}
	}
}

// For one batch no test chooses the model, and the limit is exact: the shelf
// life is no longer than the true one, where the true mean meets the limit, at
// the confidence stated. Three standard errors of a binomial share are allowed.
func TestLimitCoversForOneBatch(t *testing.T) {
	for _, c := range []struct {
		name     string
		in       Input
		line     truth
		sd, life float64
		share    float64
	}{
		// 100 − 0.4 t meets 90 at 25.
		{"lower limit", Input{Lower: 90, Upper: none, Model: study.ZeroOrder, Confidence: 0.95}, truth{100, -0.4}, 1, 25, 0.95},
		{"at 99 %", Input{Lower: 90, Upper: none, Model: study.ZeroOrder, Confidence: 0.99}, truth{100, -0.4}, 1, 25, 0.99},
		{"upper limit", Input{Lower: -none, Upper: 1.5, Model: study.ZeroOrder, Confidence: 0.9}, truth{0.3, 0.04}, 0.05, 30, 0.9},
		// Half of what may go wrong at 95 % two-sided is on either side.
		{"two-sided", Input{Lower: 90, Upper: 120, Model: study.ZeroOrder, Confidence: 0.95}, truth{100, -0.4}, 1, 25, 0.975},
		// a(1 − 0.9) = 0.4 t at 25; the initial value is fitted.
		{"percent of initial", Input{Lower: 90, Upper: none, Model: study.ZeroOrder, Basis: study.BasisPercent, Confidence: 0.95}, truth{100, -0.4}, 1, 25, 0.95},
		// 4.6 − 0.02 t meets ln 60 at (4.6 − ln 60)/0.02.
		{"first-order", Input{Lower: 60, Upper: none, Model: study.FirstOrder, Confidence: 0.95}, truth{4.6, -0.02}, 0.02, (4.6 - math.Log(60)) / 0.02, 0.95},
		// 100 − 4√t meets 80 at 25.
		{"square-root-time", Input{Lower: 80, Upper: none, Model: study.SquareRootTime, Confidence: 0.95}, truth{100, -4}, 1, 25, 0.95},
	} {
		t.Run(c.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(2026, 1))
			c.in.Alpha = 0.25
			c.in.Batches = make([][]Point, 1)
			covered := 0
			for range studies {
				simulate(random, &c.in, []truth{c.line}, c.sd)
				if out, _ := Evaluate(c.in); out.ShelfLife <= c.life {
					covered++
				}
			}
			share := float64(covered) / studies
			if allowed := 3 * math.Sqrt(c.share*(1-c.share)/studies); math.Abs(share-c.share) > allowed {
				t.Errorf("covers in %.4f of the studies, want %.4f ± %.4f", share, c.share, allowed)
			}
		})
	}
}

// After the poolability tests the limit is that of a procedure and not exact.
// What it does at a nominal 95 % is on record here: the share of studies whose
// shelf life is no longer than that of the worst batch, and what was decided.
// Assay 100 % falling to 90 %, standard deviation 1, one result a pull, three
// batches: it covers in 97.5 % where the batches are alike, in 95.3 % where they
// are plainly different, and in as little as 74 % where one differs by too
// little for the tests to see. A change in these counts is a change in the procedure.
func TestCoverageOfThreeBatchesIsOnRecord(t *testing.T) {
	for _, c := range []struct {
		name                              string
		alpha                             float64
		batches                           [3]truth
		covered, pooled, common, separate int
	}{
		{"alike", 0.25, [3]truth{{100, -0.4}, {100, -0.4}, {100, -0.4}}, 1951, 1170, 352, 478},
		{"slopes a little apart", 0.25, [3]truth{{100, -0.37}, {100, -0.4}, {100, -0.43}}, 1607, 788, 525, 687},
		{"slopes apart", 0.25, [3]truth{{100, -0.33}, {100, -0.4}, {100, -0.47}}, 1717, 93, 499, 1408},
		{"slopes far apart", 0.25, [3]truth{{100, -0.2}, {100, -0.4}, {100, -0.6}}, 1905, 0, 0, 2000},
		{"one slope steeper", 0.25, [3]truth{{100, -0.4}, {100, -0.4}, {100, -0.47}}, 1484, 549, 572, 879},
		{"intercepts a little apart", 0.25, [3]truth{{100.5, -0.4}, {100, -0.4}, {99.5, -0.4}}, 1843, 532, 990, 478},
		{"intercepts apart", 0.25, [3]truth{{102, -0.4}, {100, -0.4}, {98, -0.4}}, 1894, 0, 1522, 478},
		{"slopes a little apart, tested at 0.05", 0.05, [3]truth{{100, -0.37}, {100, -0.4}, {100, -0.43}}, 1285, 1571, 229, 200},
		{"slopes apart, tested at 0.05", 0.05, [3]truth{{100, -0.33}, {100, -0.4}, {100, -0.47}}, 1196, 623, 680, 697},
	} {
		t.Run(c.name, func(t *testing.T) {
			worst := math.Inf(1)
			for _, b := range c.batches {
				worst = min(worst, (90-b.intercept)/b.slope)
			}
			random := rand.New(rand.NewPCG(2026, 3))
			in := Input{Batches: make([][]Point, 3), Lower: 90, Upper: none, Model: study.ZeroOrder, Alpha: c.alpha, Confidence: 0.95}
			covered := 0
			decided := map[pooling.Decision]int{}
			for range studies {
				simulate(random, &in, c.batches[:], 1)
				out, _ := Evaluate(in)
				decided[out.Pooling.Decision]++
				if out.ShelfLife <= worst {
					covered++
				}
			}
			pooled, common, separate := decided[pooling.Pooled], decided[pooling.CommonSlope], decided[pooling.Separate]
			if covered != c.covered || pooled != c.pooled || common != c.common || separate != c.separate {
				t.Errorf("covered %d, pooled %d, common slope %d, separate %d of %d; on record are %d, %d, %d, %d",
					covered, pooled, common, separate, studies, c.covered, c.pooled, c.common, c.separate)
			}
		})
	}
}
