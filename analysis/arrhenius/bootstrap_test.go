package arrhenius

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"shelfspan/study"
)

// Studies drawn by what is sufficient of them are those drawn result by result
// and fitted whole: the quantile and the spread of their estimates agree within
// what 2,000 of each leave open, and so does the share of bounds that cover.
func TestResampledAsWholeStudies(t *testing.T) {
	loose := balm(1, 25, 30, 40)
	loose.starts, loose.times = []float64{100}, []float64{1, 2, 3, 4, 5, 6, 9, 12, 18}
	for name, w := range map[string]truth{"tight": balm(0.5, 25, 30, 40, 45), "loose": loose} {
		in := w.seeded(3)
		in.At = in.At[:1]
		const studies = 2000
		in.Resampling = Resampling{Studies: studies, Seed: 7}
		fit := Fit(in)
		p := fit.Predictions[0]
		b := p.Bootstrap
		if b == nil || b.Failed > studies/100 {
			t.Fatalf("%s: %+v", name, b)
		}
		// The fit is the truth of the studies drawn here, result by result.
		law := w
		law.sd, law.model = fit.ResidualSD, fit.Model
		law.ea, law.rate = fit.EaKJ, math.Exp(fit.LnRate(40))
		law.starts = startsOf(t, in)
		var estimates []float64
		profile, delta := 0, 0
		random := rand.New(rand.NewPCG(11, 12))
		again := in
		again.Resampling = Resampling{}
		for range studies {
			again.Points = law.points(random)
			r := Fit(again)
			if r.Status != Fitted {
				estimates = append(estimates, 0)
				continue
			}
			// Of the batch that limits the study, as the bootstrap judges it.
			q := r.Predictions[0]
			if q.Batch == p.Batch {
				estimates = append(estimates, q.Estimate)
				if q.ShelfLife <= p.Estimate {
					profile++
				}
				if q.Delta <= p.Estimate {
					delta++
				}
			}
		}
		if len(estimates) < studies {
			t.Fatalf("%s: another batch limits in %d studies; the check needs one that always does", name, studies-len(estimates))
		}
		slices.Sort(estimates)
		// The order statistics between which the true quantile lies but for one in 10,000.
		k, half := 0.05*studies, 4*math.Sqrt(studies*0.05*0.95)
		if low, high := estimates[int(k-half)], estimates[int(k+half)]; !(low < b.Bound && b.Bound < high) {
			t.Errorf("%s: bound %g, of whole studies between %g and %g", name, b.Bound, low, high)
		}
		for what, shares := range map[string][2]float64{"profile": {b.ProfileCovers, float64(profile) / studies}, "delta": {b.DeltaCovers, float64(delta) / studies}} {
			if math.Abs(shares[0]-shares[1]) > 4*math.Sqrt(2*0.06*0.94/studies) {
				t.Errorf("%s: %s covers in %.4f, of whole studies in %.4f", name, what, shares[0], shares[1])
			}
		}
		t.Logf("%s: estimate %.2f, bounds: profile %.2f, delta %.2f, bootstrap %.2f; covers: profile %.4f, delta %.4f, failed %d",
			name, p.Estimate, p.ShelfLife, p.Delta, b.Bound, b.ProfileCovers, b.DeltaCovers, b.Failed)
	}
}

// startsOf gives the fitted starts, from the crossings of limits far and near:
// the estimates at two limits lie on one line through the start.
func startsOf(t *testing.T, in Input) []float64 {
	t.Helper()
	l, _, reason := arrange(&in, -1)
	if reason != "" {
		t.Fatal(reason)
	}
	free, err := fitFreeRates(&in, l, "zero-order")
	if err != nil {
		t.Fatal(err)
	}
	f, reason := fitTemperatures(&in, free, false)
	if reason != "" {
		t.Fatal(reason)
	}
	var starts []float64
	for b := range free.batches {
		starts = append(starts, f.intercept(b))
	}
	return starts
}

// The answer hangs on the seed, and not on the number of cores.
func TestResamplingIsSeeded(t *testing.T) {
	in := balm(0.5, 25, 30, 40, 45).seeded(3)
	in.Resampling = Resampling{Studies: 200, Seed: 1}
	first := *Fit(in).Predictions[0].Bootstrap
	old := runtime.GOMAXPROCS(1)
	one := *Fit(in).Predictions[0].Bootstrap
	runtime.GOMAXPROCS(old)
	in.Resampling.Seed = 2
	other := *Fit(in).Predictions[0].Bootstrap
	if first != one || first == other {
		t.Errorf("%+v on %d cores, %+v on one, %+v by another seed", first, old, one, other)
	}
}

func BenchmarkResampling(b *testing.B) {
	w := balm(0.5, 25, 30, 40, 45)
	w.starts = []float64{100, 101, 99}
	w.times = nil
	for i := range 16 {
		w.times = append(w.times, float64(i+1))
	}
	in := w.seeded(1)
	in.Model = study.ZeroOrder
	in.At = in.At[:1]
	in.Resampling = Resampling{Studies: 2000, Seed: 1}
	b.ReportAllocs()
	for b.Loop() {
		if r := Fit(in); r.Predictions[0].Bootstrap == nil {
			b.Fatal(r.Reason)
		}
	}
	b.ReportMetric(float64(len(in.Points)), "results")
}
