package lifetime

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"shelfspan/analysis/censored"
)

// DifferenceInput is two groups of units, say those of two packs.
type DifferenceInput struct {
	Reference, Other []censored.Interval // in one unit of time
	Distribution     Distribution
	Confidence       float64 // of the interval, two-sided; at least 0.5 and below 1
}

// Difference is how two groups of lifetimes of one distribution and one scale
// differ in their location: ln of the factor by which the time to a share failed,
// any share, is longer in the other group. Where Status is not Fitted, only it,
// Reason and the counts hold.
type Difference struct {
	Status       Status
	Reason       string // one sentence without a full stop
	Distribution Distribution

	LnRatio, SE   float64 // of the times, Other's to Reference's; SE from the observed information
	Low, High     float64 // of LnRatio, by the profile likelihood; an open end is ±Inf
	ChiSquare     float64 // of the likelihood-ratio test against one location for both, on one degree of freedom
	P             float64
	Location      float64 // of ln t in the reference
	Scale         float64 // σ, of both
	LogLikelihood float64

	Units, Failed [2]float64 // of Other and of Reference, that something is known of
}

// FitDifference fits
//
//	ln t = μ + Δ·[the unit is of Other] + σ·z
//
// by maximum likelihood to lifetimes of which it is known between which looks they
// ended: an accelerated failure time model of two groups (Meeker & Escobar,
// Statistical Methods for Reliability Data, 1998, chapter 17). The p-value of Δ is
// that of the likelihood ratio, and its interval, by the profile likelihood, goes
// with it: at the same level one excludes zero where the other is below it.
func FitDifference(in DifferenceInput) *Difference {
	d := &Difference{Distribution: in.Distribution}
	all := Input{Distribution: in.Distribution, Confidence: in.Confidence}
	var x []float64
	for g, group := range [][]censored.Interval{in.Other, in.Reference} {
		for _, i := range group {
			all.Observations = append(all.Observations, Observation{Interval: i})
			if !i.Valid() || i.Kind() == censored.Unknown {
				continue // arrange refuses the one and leaves out the other
			}
			x = append(x, float64(1-g))
			d.Units[g] += i.Units
			if !math.IsInf(i.By, 1) {
				d.Failed[g] += i.Units
			}
		}
	}
	refuse := func(status Status, reason string) *Difference {
		d.Status, d.Reason = status, reason
		return d
	}
	f, status, reason := arrange(&all, &Result{})
	if status != Fitted {
		return refuse(status, reason)
	}
	f.x, f.span, f.arrhenius = x, 1, true // Δ stands where an activation energy would
	switch status, reason := f.nonexistent(); status {
	case Fitted:
	case OneTemperature:
		return refuse(NoData, "of the units of one of the two nothing is known")
	case Separated:
		return refuse(status, "in each of the two one moment parts the units that passed from those that failed, so that the spread of the lifetimes is not told from zero")
	case EaOpen:
		return refuse(status, "in one of the two no unit failed, or none passed, so that the difference has no finite estimate")
	default:
		return refuse(status, reason)
	}
	columns := [][]float64{ones(len(f.x)), f.x}
	f.ascend(columns)
	if status, reason := f.trouble(); status != Fitted {
		return refuse(status, reason)
	}
	r := &Result{}
	r.tell(f)
	if !isFinite(r.EaKJ) || !isFinite(r.EaSE) || !isFinite(r.Scale) || !isFinite(r.LogLikelihood) {
		return refuse(NotConverged, "the estimate is beyond the numbers that can be reckoned with")
	}
	d.Location, d.LnRatio, d.SE, d.Scale, d.LogLikelihood = r.Location, r.EaKJ, r.EaSE, r.Scale, r.LogLikelihood
	return d.compare(f, in.Confidence)
}

// compare adds the test and the interval.
func (d *Difference) compare(f *fitted, confidence float64) *Difference {
	phi := f.top.at[2]
	p := &problem{sample: f.sample, columns: [][]float64{ones(len(f.x))}, origin: make([]float64, len(f.x))}
	held := func() *profile {
		return f.profile(p, []float64{f.top.at[0], phi}, func(delta float64) {
			for i, x := range f.x {
				p.origin[i] = delta * x
			}
		})
	}
	none := held()
	depth := none.depth(-f.tilt)
	const farthest = 100 // of a logarithm of time
	z := mathext.NormalQuantile(1 - (1-confidence)/2)
	estimate := -f.top.at[1] / phi
	end := func(side float64) (float64, bool) {
		at, open, sound := held().end(estimate, side*d.SE, z, farthest)
		if open {
			return math.Inf(int(side)), sound
		}
		return f.tilt + at, sound
	}
	var low, high bool
	d.Low, low = end(-1)
	d.High, high = end(1)
	if !none.sound || !low || !high {
		d.Status, d.Reason = NotConverged, "the likelihood could not be followed to the ends of the interval"
		return d
	}
	d.ChiSquare = depth * depth
	d.P = math.Erfc(depth / math.Sqrt2)
	d.Status = Fitted
	return d
}
