package analysis

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"shelfspan/analysis/comparison"
	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/simultaneous"
	"shelfspan/study"
)

// simultaneousSeed is that of the points the distribution of several comparisons
// is summed over.
const simultaneousSeed = 1

// compare makes all comparisons of the field.
func (f *field) compare() {
	if k := f.at().Kind; k == study.Grade || k == study.PassFail {
		f.compareCounts()
		return
	}
	a, reason := f.gather()
	if reason != "" {
		f.warn("not-compared", "Rates are not compared: "+reason+".")
		return
	}
	if len(a.Observations) == 0 {
		return
	}
	if _, curved := f.model(); curved {
		f.warn("compared-by-lines", "The model is a curve: rates are compared by straight lines.")
	}
	reference := f.referenceCombination(a)
	if pack := f.v.referencePack(); a.combinations[reference].pack != pack {
		f.warn("control-without-results", fmt.Sprintf("%s, which packs are to be compared with, has no results here: they are compared with %s.", f.v.s.Packs[pack].ID, f.combinationName(a.combinations[reference])))
	}
	fit, err := comparison.Compare(a.Input, reference)
	if err != nil {
		f.warn("not-compared", "Rates are not compared: "+err.Error()+".")
		return
	}
	for _, i := range fit.Lost {
		arm := a.Arms[i]
		f.warn("arm-without-rate", fmt.Sprintf("Batch %s in %s has results at one time alone, which make no rate.", f.v.s.Batches[arm.Batch].ID, f.combinationName(a.combinations[arm.Combination])))
	}
	for _, c := range fit.Apart {
		f.warn("combination-apart", fmt.Sprintf("No batches lead from %s to what it would be compared with, %s: they cannot be told from batches. --against pack=ID may name one that has more to compare.", f.combinationName(a.combinations[c]), f.combinationName(a.combinations[reference])))
	}
	f.compareCombinations(a, fit, reference)
	f.compareFactors(a, fit, reference)
}

// referenceCombination is the control pack, or the one named, in the first
// orientation with data.
func (f *field) referenceCombination(a *arms) int {
	pack := f.v.referencePack()
	i := slices.IndexFunc(a.combinations, func(c combination) bool { return c.pack == pack })
	return max(i, 0)
}

// referencePack is the pack that others are compared with.
func (v *evaluator) referencePack() int {
	if id, named := v.o.Interactions.Against["pack"]; named {
		return slices.IndexFunc(v.s.Packs, func(p study.Pack) bool { return p.ID == id })
	}
	if i := slices.IndexFunc(v.s.Packs, func(p study.Pack) bool { return p.Control }); i >= 0 {
		return i
	}
	return 0
}

func (f *field) combinationName(c combination) string {
	p := &f.v.s.Packs[c.pack]
	if len(p.Orientations) > 1 {
		return strings.TrimSpace(p.ID + " " + string(p.Orientations[c.orientation]))
	}
	return p.ID
}

// family is comparisons whose number is allowed for together.
type family struct {
	comparisons []*Comparison
	contrasts   [][]float64
	estimates   []comparison.Estimate
}

func (m *family) add(c *Comparison, contrast []float64, e comparison.Estimate) {
	m.comparisons = append(m.comparisons, c)
	m.contrasts = append(m.contrasts, contrast)
	m.estimates = append(m.estimates, e)
}

// new starts a comparison of the field.
func (f *field) new(factor, level, against string) *Comparison {
	nan := math.NaN()
	m, _ := f.model()
	model := string(m)
	if f.at().Kind == study.Weighing {
		model = unitRatesModel
	}
	return &Comparison{
		Attribute: f.attribute, Condition: f.condition, Factor: factor, Level: level, Against: against, Pack: -1, Orientation: -1, Model: model,
		Rate: nan, AgainstRate: nan, Difference: nan, SE: nan, Low: nan, High: nan, P: nan, PAdjusted: nan, Shift: nan,
		Life: nan, AgainstLife: nan, Lost: nan, LostLow: nan, Hidden: nan,
	}
}

// The factors that packs are compared by.
const (
	FactorPack        = "pack"
	FactorOrientation = "orientation"
	FactorScale       = "scale"
)

// compareCombinations compares packs, orientations, and whether orientations
// matter alike in several packs.
func (f *field) compareCombinations(a *arms, fit *comparison.Fit, reference int) {
	known := func(c int) bool { return !math.IsNaN(fit.Coefficients[fit.Batches+c]) }
	within := func(m *family, factor string, c, against int) {
		x := f.new(factor, f.combinationName(a.combinations[c]), f.combinationName(a.combinations[against]))
		x.Pack, x.Orientation = a.combinations[c].pack, a.combinations[c].orientation
		if !known(c) || !known(against) {
			x.Outcome, x.Reason = NotCompared, "it cannot be told from differences between batches"
			if !a.hasRate(fit, c) || !a.hasRate(fit, against) {
				x.Reason = "results at one time alone make no rate"
			}
			f.out = append(f.out, x)
			return
		}
		weights := map[int]float64{c: 1}
		weights[against] -= 1
		contrast, _ := fit.Contrast(weights)
		x.Rate, x.AgainstRate = fit.MeanRate(c), fit.MeanRate(against)
		x.LastMonths = a.last(ofCombination(c), ofCombination(against))
		m.add(x, contrast, fit.Of(contrast))
	}
	at := func(pack, orientation int) int {
		return slices.IndexFunc(a.combinations, func(c combination) bool { return c.pack == pack && c.orientation == orientation })
	}
	control := a.combinations[reference].pack
	packs, orientations, both := &family{}, &family{}, &family{}
	if f.x.Adjust == Tukey {
		for i := range a.combinations {
			for j := range i {
				within(packs, FactorPack, i, j)
			}
		}
	} else {
		for i, c := range a.combinations {
			first := slices.IndexFunc(a.combinations, func(x combination) bool { return x.pack == c.pack })
			switch same := at(control, c.orientation); {
			case c.pack == control:
			case same >= 0:
				within(packs, FactorPack, i, same)
			case i == first:
				within(packs, FactorPack, i, reference)
			}
			if i != first {
				within(orientations, FactorOrientation, i, first)
			}
		}
	}
	// How much more an orientation does in one pack than in another.
	type turned struct{ from, to int }
	var base *turned
	for i, c := range a.combinations {
		first := slices.IndexFunc(a.combinations, func(x combination) bool { return x.pack == c.pack })
		if i == first || !known(i) || !known(first) {
			continue
		}
		if base == nil {
			base = &turned{first, i}
			continue
		}
		b, o := a.combinations[base.to], f.v.s.Packs[c.pack].Orientations[c.orientation]
		if b.pack == c.pack || f.v.s.Packs[b.pack].Orientations[b.orientation] != o {
			continue
		}
		x := f.new(FactorPack+" × "+FactorOrientation, fmt.Sprintf("%s %s", f.v.s.Packs[c.pack].ID, o), fmt.Sprintf("%s %s", f.v.s.Packs[b.pack].ID, o))
		x.Pack, x.Orientation = c.pack, c.orientation
		contrast, _ := fit.Contrast(map[int]float64{i: 1, first: -1, base.to: -1, base.from: 1})
		x.LastMonths = a.last(ofCombination(i), ofCombination(base.to))
		// What the orientation does in the other pack is what this one is held against.
		x.AgainstRate = fit.MeanRate(first) + fit.Coefficients[fit.Batches+base.to] - fit.Coefficients[fit.Batches+base.from]
		x.Rate = fit.MeanRate(i)
		both.add(x, contrast, fit.Of(contrast))
	}
	which := f.errorOf(a, fit)
	for _, m := range []*family{packs, orientations, both} {
		f.settle(m, fit.Covariance, fit.Variance, fit.DF, which, a, func(x *Comparison) float64 {
			return a.start(fit, max(at(x.Pack, x.Orientation), 0))
		})
	}
}

func ofCombination(c int) func(comparison.Arm) bool {
	return func(x comparison.Arm) bool { return x.Combination == c }
}

func (f *field) errorOf(a *arms, fit *comparison.Fit) ErrorOf {
	switch {
	case fit.Varies:
		return ErrorArms
	case a.byUnit:
		return ErrorUnits
	case fit.OwnDF < 1: // no two batches show the same difference
		return ErrorThose
	}
	return ErrorResidual
}

// settle finds the simultaneous intervals of a family and what they say.
func (f *field) settle(m *family, covariance *mat.SymDense, variance float64, df int, which ErrorOf, a *arms, start func(*Comparison) float64) {
	if len(m.comparisons) == 0 {
		return
	}
	if df < 1 || !(variance > 0) {
		for _, c := range m.comparisons {
			c.Outcome, c.Reason = NotCompared, "the results leave nothing to judge their scatter by"
		}
		f.out = append(f.out, m.comparisons...)
		return
	}
	ps := make([]float64, len(m.estimates))
	ts := make([]float64, len(m.estimates))
	for i, e := range m.estimates {
		ps[i], ts[i] = e.P, e.T
	}
	adjusted, quantile, err := f.adjust(m, covariance, df, ts, ps)
	if err != nil {
		for _, c := range m.comparisons {
			c.Outcome, c.Reason = NotCompared, err.Error()
		}
		f.out = append(f.out, m.comparisons...)
		return
	}
	for i, c := range m.comparisons {
		e := m.estimates[i]
		c.Difference, c.SE, c.DF, c.P, c.PAdjusted, c.Error = e.Value, e.SE, e.DF, e.P, adjusted[i], which
		c.Low, c.High = e.Value-quantile*e.SE, e.Value+quantile*e.SE
		f.judge(c, a, start(c), quantile)
		f.out = append(f.out, c)
	}
}

// adjust gives the adjusted p-values of a family and the quantile of its
// intervals.
func (f *field) adjust(m *family, covariance *mat.SymDense, df int, ts, ps []float64) (adjusted []float64, quantile float64, err error) {
	confidence := f.v.confidence
	switch f.x.Adjust {
	case None:
		return ps, student(1-(1-confidence)/2, df), nil
	case Holm:
		adjusted, err = simultaneous.Holm(ps)
		return adjusted, student(1-(1-confidence)/2/float64(len(ps)), df), err
	}
	d := f.x.distributions.get(m.contrasts, covariance, df, confidence)
	if d.err != nil {
		return nil, 0, d.err
	}
	adjusted, err = d.of.P(ts)
	return adjusted, d.critical, err
}

// judge says what a comparison came to, in months where there is a criterion.
func (f *field) judge(c *Comparison, a *arms, start, quantile float64) {
	course := f.course(a, start)
	c.Shift = shift(course, c.AgainstRate, c.Rate, c.LastMonths)
	surely := c.Low > 0 || c.High < 0
	scale := slowing{1, 1, 1}
	if f.condition != f.v.s.StoreAt {
		scale = f.toStorage(c, a)
	}
	if len(course.Limits) == 0 || math.IsNaN(start) || math.IsNaN(scale.estimate) {
		c.Outcome = NotShown
		if surely {
			c.Outcome = Differs
		}
		return
	}
	c.ThroughArrhenius = f.condition != f.v.s.StoreAt
	against := scale.estimate * c.AgainstRate
	c.Life, c.AgainstLife = course.Life(scale.estimate*c.Rate), course.Life(against)
	c.Lost = course.Lost(scale.estimate*c.Rate, against)
	c.LostLow, c.Hidden = scale.lost(course, c)
	margin := course.Margin(against, f.x.MarginMonths) / scale.estimate
	harmful := surely && math.Signbit(c.Difference) == math.Signbit(margin)
	switch {
	case c.LostLow > 0 && surely:
		c.Outcome = Harm
	case c.Hidden <= f.x.MarginMonths && harmful:
		c.Outcome = FasterWithin
	case surely && !harmful:
		c.Outcome = Slower
	case c.Hidden <= f.x.MarginMonths:
		c.Outcome = NoHarmShown
	default:
		c.Outcome = CannotTell
		if c.MorePulls = -1; !c.ThroughArrhenius { // the activation energy hides it too, whatever the pulls here
			c.MorePulls = f.morePulls(c, a, margin, quantile)
		}
	}
}

// course is the way from a start to the limits of the attribute.
func (f *field) course(a *arms, start float64) *comparison.Course {
	at := f.at()
	c := &comparison.Course{Start: start, Model: a.model, Baseline: a.baseline, Horizon: f.x.Horizon}
	basis := at.Basis
	if at.Kind == study.Weighing {
		basis = study.BasisValue
	}
	add := func(limit float64, upper bool) {
		if !math.IsInf(limit, 0) {
			c.Limits = append(c.Limits, a.model.Limit(limit, upper, basis))
		}
	}
	if at.Direction != study.Rises {
		add(at.Lower, false)
	}
	if at.Direction != study.Falls {
		add(at.Upper, true)
	}
	return c
}

// shift is what two rates have made of one start by a time, in the attribute's own
// unit.
func shift(c *comparison.Course, against, rate, months float64) float64 {
	tau := c.Model.Time(max(0, months-c.Baseline))
	return c.Model.Inverse(c.Start+rate*tau) - c.Model.Inverse(c.Start+against*tau)
}

const mostPulls = 24

// morePulls is about how many more pulls would tell: with them, at the spacing of
// the last ones and in all arms, the interval would be narrow enough either to
// show the harm that is estimated, or to leave none beyond the margin hidden. −1
// where the error is not that of the results, or more than 24 would not do.
func (f *field) morePulls(c *Comparison, a *arms, margin, quantile float64) int {
	if c.Error != ErrorResidual && c.Error != ErrorThose || a.byUnit || !(c.SE > 0) {
		return -1
	}
	var times []float64
	for _, p := range a.pulls {
		if len(p) > len(times) {
			times = p
		}
	}
	if len(times) < 2 {
		return -1
	}
	times = append([]float64{0}, times...)
	step := times[len(times)-1] - times[len(times)-2]
	before := sumOfSquares(a.model, times)
	for n := 1; n <= mostPulls; n++ {
		times = append(times, times[len(times)-1]+step)
		half := quantile * c.SE * math.Sqrt(before/sumOfSquares(a.model, times))
		toward := c.Difference
		if margin < 0 {
			toward = -toward
		}
		if toward > half || toward+half <= math.Abs(margin) {
			return n
		}
	}
	return -1
}

func sumOfSquares(m kinetics.Model, months []float64) float64 {
	mean := 0.0
	for _, t := range months {
		mean += m.Time(t) / float64(len(months))
	}
	sum := 0.0
	for _, t := range months {
		sum += (m.Time(t) - mean) * (m.Time(t) - mean)
	}
	return sum
}
