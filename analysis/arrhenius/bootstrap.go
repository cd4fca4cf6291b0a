package arrhenius

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/stat/distuv"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
)

// Resampling asks for made-up studies by which the bounds of predictions are
// checked.
type Resampling struct {
	Studies int    // how many; 0 for none
	Seed    uint64 // of their random numbers
	Made    func() // called for each one made, from any goroutine; may be nil
}

// Bootstrap is what made-up studies say of a prediction and its bounds: the
// parametric bootstrap (Efron & Tibshirani, An Introduction to the Bootstrap,
// 1993, 6.5 and 13.3, sections from memory). In each, the fitted temperature law,
// starts and residual standard deviation are the truth, and conditions, times and
// batches are those of the study; it is fitted as the study was.
//
// A study is made up by what is sufficient of it: with normal errors the batches'
// means, the free rates and the residual sum of squares about them are
// independent, so that they are drawn themselves and not the results.
type Bootstrap struct {
	Studies int
	Failed  int     // that had no fit; they count as lying below in Bound and are left out of what covers
	Bound   float64 // percentile bound: the quantile of the studies' estimates at one less the level of the prediction's bound; months
	// ProfileCovers and DeltaCovers are the shares of the studies whose bound of the
	// same batch, by profile likelihood and by the delta method, does not lie beyond
	// the true life. The level stated is Level.
	ProfileCovers, DeltaCovers float64
	Level                      float64
}

// resample makes studies up and says what they say of each prediction; a
// prediction that meets no limit is passed over.
func (f *fitted) resample(r *Result, in *Input, limits []kinetics.Limit) {
	if in.Resampling.Studies < 1 || f.sse == 0 {
		return
	}
	type question struct {
		prediction, batch int
		climate           steady
		u, h              float64
		truth             float64 // ln x
	}
	var questions []question
	for i := range r.Predictions {
		p := &r.Predictions[i]
		if p.Batch < 0 || math.IsInf(p.Estimate, 1) || p.Estimate == 0 {
			continue
		}
		q := question{prediction: i, batch: slices.Index(f.free.batches, p.Batch)}
		q.u, q.h = f.at(in.At[i])
		q.climate = steady{q.u, q.h}
		q.truth = f.first(q.batch, limits, q.climate)
		questions = append(questions, q)
	}
	if len(questions) == 0 {
		return
	}
	n := in.Resampling.Studies
	level := r.quantile(in.Confidence)
	quantile := linear.StudentQuantile(level, f.df)
	type answer struct{ estimate, profile, delta float64 }
	answers := make([]answer, n*len(questions)) // NaN where a study had no fit
	made := f.source()
	workers := min(runtime.GOMAXPROCS(0), n)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				out := answers[i*len(questions) : (i+1)*len(questions)]
				for j := range out {
					out[j] = answer{math.NaN(), math.NaN(), math.NaN()}
				}
				study, reason := fitTemperatures(in, made.draw(rand.New(rand.NewPCG(in.Resampling.Seed, uint64(i)))), f.humidity)
				if reason == "" {
					study.model = f.model
					allowance := study.sse * quantile * quantile / float64(study.df)
					low, high := study.region(study.excess+allowance, study.sd()*math.Sqrt(study.covariance(study.free.groups, study.free.groups)))
					for j, q := range questions {
						a := &out[j]
						a.estimate = study.first(q.batch, limits, q.climate)
						a.profile, a.delta = a.estimate, a.estimate
						for _, limit := range limits {
							a.profile = min(a.profile, study.bound(q.batch, limit, allowance, low, high, q.climate))
							if e := study.toLimit(q.batch, limit, q.climate); !math.IsInf(e, 0) {
								a.delta = min(a.delta, e-quantile*study.logSE(q.batch, limit, q.u, q.h))
							}
						}
					}
				}
				if in.Resampling.Made != nil {
					in.Resampling.Made()
				}
			}
		})
	}
	wg.Wait()
	for j, q := range questions {
		b := &Bootstrap{Studies: n, Level: level}
		estimates := make([]float64, n)
		profile, delta := 0, 0
		for i := range n {
			a := answers[i*len(questions)+j]
			if math.IsNaN(a.estimate) {
				b.Failed++
				estimates[i] = math.Inf(-1)
				continue
			}
			estimates[i] = a.estimate
			if a.profile <= q.truth {
				profile++
			}
			if a.delta <= q.truth {
				delta++
			}
		}
		slices.Sort(estimates)
		b.Bound = in.months(f.model, estimates[int(math.Floor((1-level)*float64(n)))])
		if fitted := n - b.Failed; fitted > 0 {
			b.ProfileCovers, b.DeltaCovers = float64(profile)/float64(fitted), float64(delta)/float64(fitted)
		} else {
			b.ProfileCovers, b.DeltaCovers = math.NaN(), math.NaN()
		}
		r.Predictions[q.prediction].Bootstrap = b
	}
}

// months takes the logarithm of the model's own time to months of storage.
func (in *Input) months(m kinetics.Model, logX float64) float64 {
	if math.IsInf(logX, -1) {
		return 0
	}
	return max(0, in.Baseline+m.InverseTime(math.Exp(logX)))
}

// toLimit is where a batch's fitted path meets a limit in a climate, as ln x.
func (f *fitted) toLimit(batch int, limit kinetics.Limit, climate steady) float64 {
	return f.crossing(batch, limit, f.look(f.ea, f.b), 0) - climate.logExtent(f.ea, f.b)
}

// first is where it meets the first of several.
func (f *fitted) first(batch int, limits []kinetics.Limit, climate steady) float64 {
	first := math.Inf(1)
	for _, limit := range limits {
		first = min(first, f.toLimit(batch, limit, climate))
	}
	return first
}

// source is what made-up studies are drawn from.
type source struct {
	free   *freeRates // of the study
	d      []float64  // W times the true rates
	levels []float64  // true means of the batches
	sd     float64
}

func (f *fitted) source() *source {
	c := len(f.u)
	rates := make([]float64, c)
	for j := range rates {
		rates[j] = f.rate(j)
	}
	t := &source{free: f.free, d: make([]float64, c), levels: make([]float64, len(f.free.batches)), sd: f.sd()}
	f.free.times(rates, t.d)
	for b := range t.levels {
		t.levels[b] = f.intercept(b)
		for j, rate := range rates {
			t.levels[b] += f.free.levelX[b*c+j] * rate
		}
	}
	return t
}

// draw makes a study up. Its free rates themselves are not worked out: the fit
// needs d = W·k̂ alone.
func (t *source) draw(random *rand.Rand) *freeRates {
	made := *t.free
	made.d = make([]float64, len(t.d))
	for j, d := range t.d {
		made.d[j] = d + t.sd*random.NormFloat64()
	}
	made.levelZ = make([]float64, len(t.levels))
	for b, level := range t.levels {
		made.levelZ[b] = level + t.sd/math.Sqrt(t.free.size[b])*random.NormFloat64()
	}
	if made.rss = 0; made.df > 0 {
		made.rss = t.sd * t.sd * distuv.ChiSquared{K: float64(made.df), Src: random}.Rand()
	}
	return &made
}
