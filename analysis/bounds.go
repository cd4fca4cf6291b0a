package analysis

import (
	"math"
	"slices"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/randombatch"
	"shelfspan/analysis/tolerance"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// BoundKind says of what a Bound speaks.
type BoundKind string

// The bounds that can stand side by side.
const (
	BoundMean        BoundKind = "mean"            // of the mean, by what the poolability tests let the batches share (ICH Q1E)
	BoundUnits       BoundKind = "units"           // of the share Coverage of the units of these batches (see tolerance.Evaluate)
	BoundBatchesMean BoundKind = "batches-mean"    // of the mean path of all batches that the process makes (see randombatch.Evaluate)
	BoundToCome      BoundKind = "batches-to-come" // of the path that the share Coverage of them is better than
)

const (
	usualCoverage = 0.95 // where no other is asked for; common practice
	manyBatches   = 5    // from which on random batches are worked out unasked; common practice, no source
)

// NotConverged is the Status of a Bound whose likelihood has no maximum that the
// search could find.
const NotConverged = Status(randombatch.NotConverged)

// Bound is one answer to when an attribute meets its criterion. They differ in
// what is to stay within it: the mean of these batches, nearly all of their units,
// the mean of all batches, nearly all batches.
type Bound struct {
	Kind   BoundKind
	Status Status // fitted, never-reached, breached-at-start; else there is no answer
	Reason string // why there is none; "" otherwise

	Estimate  float64 // months where what is spoken of meets the criterion by the fit; +Inf where never; NaN where there is no answer
	ShelfLife float64 // months where its confidence bound does; 0 where at the start; +Inf, NaN as above

	// Coverage is the share of units or batches, NaN for means, and Confidence that
	// of the bound, as asked for; PerSide is what each limit is judged at, which is
	// more where there are two.
	Coverage, Confidence               float64
	CoveragePerSide, ConfidencePerSide float64

	DF float64 // of the bound's error; not always whole; NaN where there is no answer
	// Curve gives the bounds on both sides at a time in months, in the attribute's own
	// unit; one of a side that is not judged is NaN. It is nil but for that for a
	// batch to come, where it was asked for and limits are of the value itself.
	Curve func(months float64) (lower, upper float64)

	Asked   bool // it is to govern where it is shorter than that of the mean
	Governs bool // of the bounds of an analysis exactly one does
}

// HasAnswer reports whether there is a shelf life by the bound, be it without end.
func (b *Bound) HasAnswer() bool { return b.Reason == "" }

// Governing is the bound that the shelf life of the analysis rests on; nil where
// there are no bounds side by side.
func (a *Analysis) Governing() *Bound {
	for i := range a.Bounds {
		if a.Bounds[i].Governs {
			return &a.Bounds[i]
		}
	}
	return nil
}

// ByMean reports whether the shelf life is where the confidence limit of a fitted
// line meets the criterion, and not that of batches to come.
func (a *Analysis) ByMean() bool {
	b := a.Governing()
	return b == nil || b.Kind == BoundMean
}

// setBounds puts the bounds of an analysis side by side, where it is a regression
// on independent samples that has a criterion, and lets the bound for a batch to
// come govern where it is asked for and shorter than that of the mean.
func (v *evaluator) setBounds(a *Analysis, where string) {
	if !amenable(a) {
		return
	}
	at := &v.s.Attributes[a.Attribute]
	batches, exact := v.points(a.Samples, at.Baseline.Months(0))
	model := kinetics.Model(a.Model)
	if at.Sampling == study.Returned || !exact || !slices.Contains(kinetics.Models[:], model) {
		if v.o.RandomBatches {
			a.warn("batches-not-random", where, "The bound for a batch to come is not worked out here, where no straight line is fitted to samples that are each measured once: the bound of the mean governs.")
		}
		return
	}
	s := scaled{model: model, basis: at.Basis, baseline: at.Baseline.Months(0), batches: make([]pooling.Batch, len(batches))}
	for i, b := range batches {
		for _, p := range b {
			s.batches[i].X = append(s.batches[i].X, model.Time(p.Months-s.baseline))
			s.batches[i].Y = append(s.batches[i].Y, model.Transform(p.Value))
		}
	}
	if !math.IsInf(at.Lower, -1) && at.Direction != study.Rises {
		s.limits = append(s.limits, model.Limit(at.Lower, false, at.Basis))
	}
	if !math.IsInf(at.Upper, 1) && at.Direction != study.Falls {
		s.limits = append(s.limits, model.Limit(at.Upper, true, at.Basis))
	}
	mean := Bound{
		Kind: BoundMean, Status: a.Status, Estimate: a.Estimate, ShelfLife: a.ShelfLife,
		Coverage: math.NaN(), Confidence: v.confidence, CoveragePerSide: math.NaN(), ConfidencePerSide: v.confidence,
		DF: float64(a.DF), Governs: true,
	}
	if !a.OneSided {
		mean.ConfidencePerSide = (1 + v.confidence) / 2
	}
	a.Bounds = []Bound{mean, v.unitBound(&s)}
	if v.o.RandomBatches || len(a.Fits) >= manyBatches {
		bounds, warnings := v.randomBatches(&s)
		a.Bounds = append(a.Bounds, bounds[:]...)
		if v.o.RandomBatches {
			a.Warnings = append(a.Warnings, located(warnings, where)...)
			a.rest(where)
		}
	}
}

// rest lets the analysis rest on the shorter of the bound of the mean, which
// stands first, and that for a batch to come, which stands last.
func (a *Analysis) rest(where string) {
	mean, next := &a.Bounds[0], &a.Bounds[len(a.Bounds)-1]
	switch {
	case !next.HasAnswer():
		a.warn("no-bound-to-come", where, "The bound for a batch to come was asked for and cannot be stated; the bound of the mean governs in its place, and says nothing of batches to come.")
	case next.ShelfLife <= mean.ShelfLife:
		mean.Governs, next.Governs = false, true
		a.Status, a.ShelfLife, a.Estimate, a.LimitingBatch = next.Status, next.ShelfLife, next.Estimate, -1
	}
}

// scaled is what a regression was made of, on its model's scale.
type scaled struct {
	model    kinetics.Model
	baseline float64
	batches  []pooling.Batch // of the study, in its order
	limits   []kinetics.Limit
	basis    study.Basis
}

// months takes a life back to months from the start of storage.
func (s *scaled) months(tau float64) float64 {
	if tau == 0 {
		return 0 // at the start: not even the baseline is reached
	}
	return s.baseline + s.model.InverseTime(tau)
}

// unitBound is the bound of units.
func (v *evaluator) unitBound(s *scaled) Bound {
	out, warnings := tolerance.Evaluate(tolerance.Input{
		Batches: s.batches, Names: v.batchNames(), Limits: s.limits, Alpha: v.alpha,
		Level: tolerance.Level{Coverage: v.o.coverage(), Confidence: v.confidence},
	})
	b := Bound{
		Kind: BoundUnits, Status: Status(out.Status), Estimate: s.months(out.Estimate), ShelfLife: s.months(out.ShelfLife),
		Coverage: v.o.coverage(), Confidence: v.confidence,
		CoveragePerSide: out.PerSide.Coverage, ConfidencePerSide: out.PerSide.Confidence, DF: float64(out.Pooling.DF),
	}
	return b.orReason(warnings)
}

// randomBatches is the two bounds of batches not yet made, with what qualifies
// them.
func (v *evaluator) randomBatches(s *scaled) (bounds [2]Bound, warnings []finding.Warning) {
	out, warnings := randombatch.Evaluate(randombatch.Input{
		Batches: s.batches, Names: v.batchNames(), Limits: s.limits, Coverage: v.o.coverage(), Confidence: v.confidence,
	})
	bound := func(kind BoundKind, life randombatch.Life, coverage, perSide float64) Bound {
		b := Bound{
			Kind: kind, Status: Status(out.Status), Estimate: s.months(life.Estimate), ShelfLife: s.months(life.ShelfLife),
			Coverage: coverage, Confidence: v.confidence, CoveragePerSide: perSide, ConfidencePerSide: out.Confidence, DF: life.DF,
		}
		if b.Status.regressed() { // by its own life, where out.Status is by that of paths
			b.Status = ended(life.ShelfLife)
		}
		return b.orReason(warnings)
	}
	bounds[0] = bound(BoundBatchesMean, out.Mean, math.NaN(), math.NaN())
	bounds[1] = bound(BoundToCome, out.Paths, v.o.coverage(), out.Coverage)
	bounds[1].Asked = v.o.RandomBatches
	if bounds[1].Asked && bounds[1].HasAnswer() && (s.basis == study.BasisValue || s.basis == "") {
		bounds[1].Curve = s.curve(&out)
	}
	return bounds, warnings
}

// regressed reports whether there is a shelf life by regression, be it without end.
func (s Status) regressed() bool { return s == Fitted || s == NeverReached || s == BreachedAtStart }

// curve is the bound for a batch to come over time.
func (s *scaled) curve(out *randombatch.Output) func(months float64) (lower, upper float64) {
	var judged [2]bool // on the model's scale, below and above
	for _, l := range s.limits {
		if l.Above {
			judged[1] = true
		} else {
			judged[0] = true
		}
	}
	return func(months float64) (lower, upper float64) {
		lower, upper = math.NaN(), math.NaN()
		if !(months >= s.baseline) {
			return lower, upper
		}
		at := s.model.Time(months - s.baseline)
		if judged[0] {
			lower = s.model.Inverse(out.At(at, false).PathBound)
		}
		if judged[1] {
			upper = s.model.Inverse(out.At(at, true).PathBound)
		}
		if s.model.Decreasing() {
			lower, upper = upper, lower
		}
		return lower, upper
	}
}

// ended is the Status of a shelf life.
func ended(life float64) Status {
	switch {
	case life == 0:
		return BreachedAtStart
	case math.IsInf(life, 1):
		return NeverReached
	}
	return Fitted
}

// orReason leaves a bound that has an answer as it is; one that has none gets the
// reason that stands in the warning of its status, and no number.
func (b Bound) orReason(warnings []finding.Warning) Bound {
	if b.Status.regressed() {
		return b
	}
	b.Estimate, b.ShelfLife, b.DF = math.NaN(), math.NaN(), math.NaN()
	b.Reason = "no answer"
	for _, w := range warnings {
		if w.Code == string(b.Status) {
			b.Reason = w.Text
		}
	}
	return b
}

// coverage is the share of units or batches that a bound speaks of.
func (o *Options) coverage() float64 {
	if o.Coverage > 0 {
		return o.Coverage
	}
	return usualCoverage
}

// boundDepartures warns of a bound asked for that no study states.
func (o *Options) boundDepartures(add func(format string, args ...any)) {
	if !o.RandomBatches {
		return
	}
	add("The bound for a batch to come was asked for, at a coverage of %g, where the study goes by the mean of its batches", o.coverage())
}
