package lifetime

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"

	"shelfspan/analysis/censored"
)

// Stratum is the units of two groups, say of two packs, that share what is not to be
// taken for a difference of the groups, say those of one batch.
type Stratum struct {
	Reference, Other []censored.Interval // in one unit of time
}

// Tells reports whether it is known of some units of it how long they lasted at the
// least, and of some how long at the most. Where none failed, or none passed, its
// likelihood comes to its supremum, 1, as its location goes without bound, whatever the
// difference and the scale: it says nothing of either, and without it the likelihood
// of the rest is the same. What is no lifetime counts here, so that it is not lost from
// sight.
func (s Stratum) Tells() bool {
	passed, failed := false, false
	for _, group := range [...][]censored.Interval{s.Reference, s.Other} {
		for _, i := range group {
			switch kind := i.Kind(); {
			case !i.Valid() || kind == censored.AtStart:
				return true
			case kind != censored.Unknown:
				passed = passed || kind != censored.Left
				failed = failed || kind != censored.Right
			}
		}
	}
	return passed && failed
}

// DifferenceInput is two groups of units in one stratum or in several.
type DifferenceInput struct {
	Strata       []Stratum
	Distribution Distribution
	Confidence   float64 // of the interval, two-sided; at least 0.5 and below 1
}

// Difference is how two groups of lifetimes of one distribution and one scale
// differ in their location: ln of the factor by which the time to a share failed,
// any share, is longer in the other group, whatever the stratum. Where Status is not
// Fitted, only it, Reason and the counts hold.
type Difference struct {
	Status       Status
	Reason       string // one sentence without a full stop
	Distribution Distribution

	LnRatio, SE   float64   // of the times, Other's to Reference's; SE from the observed information
	Low, High     float64   // of LnRatio, by the profile likelihood; an open end is ±Inf
	ChiSquare     float64   // of the likelihood-ratio test against no difference, on one degree of freedom
	P             float64   // of χ²'s distribution, to which that of the test comes with many units
	Locations     []float64 // of ln t in the reference, by stratum; NaN of one that does not tell
	Scale         float64   // σ, of all
	LogLikelihood float64

	Units, Failed [2]float64 // of Other and of Reference, that something is known of, in strata that tell where any does
	Strata        int        // that tell
}

// FitDifference fits
//
//	ln t = μ(stratum) + Δ·[the unit is of Other] + σ·z
//
// by maximum likelihood to lifetimes of which it is known between which looks they
// ended: an accelerated failure time model of two groups (Meeker & Escobar,
// Statistical Methods for Reliability Data, 1998, chapter 17), with the strata as
// a factor. The p-value of Δ is that of the likelihood ratio, and its interval, by the
// profile likelihood, goes with it: at the same level one excludes zero where the other
// is below it. That Δ is one in all strata is not tested. Strata that do not tell are
// left out, which changes no number.
func FitDifference(in DifferenceInput) *Difference {
	d := &Difference{Distribution: in.Distribution}
	telling := make([]int, 0, len(in.Strata))
	for k, s := range in.Strata {
		if s.Tells() {
			telling = append(telling, k)
		}
	}
	if d.Strata = len(telling); d.Strata == 0 {
		for k := range in.Strata {
			telling = append(telling, k) // so that the counts are of something
		}
	}
	all := Input{Distribution: in.Distribution, Confidence: in.Confidence}
	var x []float64
	var stratum []int
	var passed [2]float64 // at some time
	for place, k := range telling {
		for g, group := range [...][]censored.Interval{in.Strata[k].Other, in.Strata[k].Reference} {
			for _, i := range group {
				all.Observations = append(all.Observations, Observation{Interval: i})
				if !i.Valid() || i.Kind() == censored.Unknown {
					continue // arrange refuses the one and leaves out the other
				}
				x, stratum = append(x, float64(1-g)), append(stratum, place)
				d.Units[g] += i.Units
				if !math.IsInf(i.By, 1) {
					d.Failed[g] += i.Units
				}
				if i.Kind() != censored.Left {
					passed[g] += i.Units
				}
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
	if failed := d.Failed[0] + d.Failed[1]; d.Strata == 0 && failed > 0 && failed < d.Units[0]+d.Units[1] {
		return refuse(EaOpen, "in no batch units are known both to have failed and to have passed, so that the difference has no finite estimate")
	}
	f.x, f.stratum, f.span, f.arrhenius = x, stratum, 1, true // Δ stands where an activation energy would
	switch status, reason := f.nonexistent(); status {
	case Fitted:
	case OneTemperature:
		return refuse(NoData, "of the units of one of the two nothing is known")
	case Separated:
		within := "in each of the two one moment parts"
		if d.Strata > 1 {
			within = "in each batch one moment for each of the two, of one ratio in all batches, may part"
		}
		return refuse(status, within+" the units that passed from those that failed, so that the spread of the lifetimes is not told from zero")
	case EaOpen:
		if min(d.Failed[0], d.Failed[1]) > 0 && min(passed[0], passed[1]) > 0 {
			return refuse(status, "in no batch units of the one failed while some of the other passed, so that the difference has no finite estimate")
		}
		return refuse(status, "in one of the two no unit failed, or none passed, so that the difference has no finite estimate")
	default:
		return refuse(status, reason)
	}
	locations := make([][]float64, len(telling))
	for k := range locations {
		locations[k] = make([]float64, len(x))
	}
	for i, k := range stratum {
		locations[k][i] = 1
	}
	f.ascend(append(slices.Clone(locations), f.x), len(locations))
	if status, reason := f.trouble(); status != Fitted {
		return refuse(status, reason)
	}
	d.tell(f, telling, len(in.Strata))
	if !isFinite(d.LnRatio) || !isFinite(d.SE) || !isFinite(d.Scale) || !isFinite(d.LogLikelihood) {
		return refuse(NotConverged, "the estimate is beyond the numbers that can be reckoned with")
	}
	return d.compare(f, locations, in.Confidence)
}

// tell fills in the estimates: a location is its line's less γ/φ, and so is Δ.
func (d *Difference) tell(f *fitted, telling []int, strata int) {
	at, inverse := f.top.at, f.top.inverse
	n := len(at)
	phi, delta := n-1, n-2
	d.Locations = make([]float64, strata)
	for k := range d.Locations {
		d.Locations[k] = math.NaN()
	}
	for place, k := range telling {
		d.Locations[k] = f.line[place] - at[place]/at[phi]
	}
	d.LnRatio = f.line[delta] - at[delta]/at[phi]
	byDelta, byPhi := -1/at[phi], at[delta]/(at[phi]*at[phi])
	d.SE = math.Sqrt(byDelta*byDelta*inverse[delta*n+delta] + 2*byDelta*byPhi*inverse[delta*n+phi] + byPhi*byPhi*inverse[phi*n+phi])
	d.Scale, d.LogLikelihood = 1/at[phi], f.top.height-f.logTimes
}

// compare adds the test and the interval.
func (d *Difference) compare(f *fitted, locations [][]float64, confidence float64) *Difference {
	n := len(locations)
	phi := f.top.at[n+1]
	p := &problem{sample: f.sample, columns: locations, origin: make([]float64, len(f.x))}
	held := func() *profile {
		return f.profile(p, append(slices.Clone(f.top.at[:n]), phi), func(delta float64) {
			for i, x := range f.x {
				p.origin[i] = delta * x
			}
		})
	}
	none := held()
	depth := none.depth(-f.line[n])
	const farthest = 100 // of a logarithm of time
	z := mathext.NormalQuantile(1 - (1-confidence)/2)
	estimate := -f.top.at[n] / phi
	end := func(side float64) (float64, bool) {
		at, open, sound := held().end(estimate, side*d.SE, z, farthest)
		if open {
			return math.Inf(int(side)), sound
		}
		return f.line[n] + at, sound
	}
	var low, high bool
	d.Low, low = end(-1)
	d.High, high = end(1)
	if !none.sound || !low || !high {
		return &Difference{Status: NotConverged, Reason: "the likelihood could not be followed to the ends of the interval", Distribution: d.Distribution, Units: d.Units, Failed: d.Failed, Strata: d.Strata}
	}
	d.ChiSquare = depth * depth
	d.P = math.Erfc(depth / math.Sqrt2)
	d.Status = Fitted
	return d
}
