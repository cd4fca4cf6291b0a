package regression

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// Evaluate chooses the model where it is asked to, fits the batches, tests what
// they share and finds the shelf life of each and of all. Warnings have no
// Where; the caller knows what was evaluated.
//
// The limit of the mean uses the residual mean square and the degrees of
// freedom of the model the poolability tests decided on: N − 2b for separate
// lines, N − b − 1 with a common slope, N − 2 pooled. It is one-sided at the
// confidence asked for where one side alone can be breached, because there is
// one limit or a direction is stated, and two-sided where there are two limits
// and the attribute may go either way.
//
// Limits in percent of the initial value are judged on the initial value of
// the same fit: zero-order and square-root-time compare y with its part of the
// intercept, second-order 1/y likewise (both Fieller), first-order the slope
// with the logarithm. Limits of the change from the initial value are judged
// on the slope alone, under zero-order and square-root-time.
func Evaluate(in Input) (Output, []finding.Warning) {
	e := evaluation{Input: in, out: unfitted(in)}
	e.run()
	return e.out, e.warnings
}

type evaluation struct {
	Input
	out      Output
	warnings []finding.Warning
}

func unfitted(in Input) Output {
	nan := math.NaN()
	out := Output{
		Status: NotFitted, Model: kinetics.Model(in.Model), Confidence: in.Confidence, Quantile: nan,
		JudgedLower: !math.IsInf(in.Lower, -1) && in.Direction != study.Rises,
		JudgedUpper: !math.IsInf(in.Upper, 1) && in.Direction != study.Falls,
		Pooling:     pooling.Result{SlopesF: nan, SlopesP: nan, InterceptsF: nan, InterceptsP: nan, S: nan},
		ResidualSD:  nan, ShelfLife: nan, Estimate: nan, Limiting: -1,
	}
	out.OneSided = out.JudgedLower != out.JudgedUpper
	if in.Model == "" {
		out.Model = kinetics.ZeroOrder
	}
	return out
}

func (e *evaluation) warn(code, format string, args ...any) {
	e.warnings = append(e.warnings, finding.Warning{Code: code, Text: fmt.Sprintf(format, args...)})
}

func (e *evaluation) run() {
	if !e.suitable() || !e.enoughTimes() || !e.choose() {
		return
	}
	out := &e.out
	confidence := e.Confidence
	if !out.OneSided {
		confidence = (1 + confidence) / 2
	}
	fit, err := e.paths(confidence)
	if err != nil {
		e.warn("not-fitted", "No line could be fitted: %v.", err)
		out.Fits = nil
		return
	}
	if e.Basis == study.BasisPercent && out.Model != kinetics.FirstOrder {
		for i, path := range fit.Of {
			if !(path.Start() > 0) {
				e.warn("initial-not-positive", "The fitted initial value of %s is not above zero, so that nothing can be judged in percent of it.",
					e.name(out.Fits[i].Batch))
				out.Fits = nil
				return
			}
		}
	}
	out.Pooling, out.ResidualSD, out.DF = fit.Pooling, fit.Pooling.S, fit.Pooling.DF
	out.Quantile = linear.StudentQuantile(confidence, fit.Pooling.DF)
	if err := e.judge(fit.Of); err != nil {
		nan := math.NaN()
		out.Status, out.Fits, out.Limiting = NotFitted, nil, -1
		out.ResidualSD, out.DF, out.ShelfLife, out.Estimate = nan, 0, nan, nan
		e.warn("not-fitted", "No bound was found: %v.", err)
		return
	}
	e.remark()
}

// suitable refuses what no model could be fitted to.
func (e *evaluation) suitable() bool {
	switch {
	case !(e.Confidence >= 0.5 && e.Confidence < 1):
		e.warn("not-fitted", "A confidence of %g is not between 0.5 and 1.", e.Confidence)
		return false
	case !(e.Baseline >= 0 && e.Baseline <= longest):
		e.warn("not-fitted", "A trend cannot count from %g months.", e.Baseline)
		return false
	case !measurable(e.Lower) && e.out.JudgedLower, !measurable(e.Upper) && e.out.JudgedUpper:
		e.warn("not-fitted", "Limits of %g to %g are out of the range of numbers reckoned with.", e.Lower, e.Upper)
		return false
	}
	for i, b := range e.Batches {
		for _, p := range b {
			switch {
			case !measurable(p.Value):
				e.warn("not-fitted", "A result of %s, %g, is out of the range of numbers reckoned with.", e.name(i), p.Value)
				return false
			case !(p.Months >= e.Baseline):
				e.warn("not-fitted", "A result of %s is from before the trend counts.", e.name(i))
				return false
			case p.Months > longest:
				e.warn("not-fitted", "A result of %s is from %g months, which no study lasts.", e.name(i), p.Months)
				return false
			}
		}
	}
	return true
}

// longest is beyond the longest duration a study can state, in months.
const longest = 1e7

// measurable reports whether a value is one whose squares and their products
// stay in the range of a float64.
func measurable(v float64) bool {
	return v == 0 || math.Abs(v) >= 1e-60 && math.Abs(v) <= 1e60
}

// enoughTimes asks for three distinct times of every batch, and makes room for
// their fits.
func (e *evaluation) enoughTimes() bool {
	var few []string
	fewest := math.MaxInt
	for i, b := range e.Batches {
		if len(b) == 0 {
			continue
		}
		e.out.Fits = append(e.out.Fits, Fit{Batch: i, N: len(b)})
		times := kinetics.DistinctTimes(b)
		fewest = min(fewest, times)
		if times < 3 {
			few = append(few, fmt.Sprintf("%s has %d", e.name(i), times))
		}
	}
	if len(e.out.Fits) == 0 {
		few = []string{"there are no results"}
	}
	if few != nil {
		e.out.Status, e.out.Fits = TooFewTimes, nil
		e.warn("too-few-times", "A line is fitted to results at three or more times: %s.", strings.Join(few, ", "))
		return false
	}
	if fewest < comfortable {
		e.warn("few-points", "A batch has results at %d times only: its line can hardly be checked, and the limit is wide.", fewest)
	}
	return true
}

// comfortable is the number of times below which a warning says that they are
// few; common practice, no source.
const comfortable = 4

func (e *evaluation) choose() bool {
	out := &e.out
	if e.Model == study.Auto {
		out.Model, out.Candidates = kinetics.Choose([][][]Point{e.Batches}, e.Baseline, e.Basis)
		return true
	}
	if !out.Model.Judges(e.Basis) {
		e.warn("not-fitted", "A change from the initial value in the attribute's own unit is judged under zero-order or square-root-time, not under %s.", out.Model)
		out.Fits = nil
		return false
	}
	outside := 0
	for _, b := range e.Batches {
		for _, p := range b {
			if !out.Model.InDomain(p.Value) {
				outside++
			}
		}
	}
	if outside > 0 {
		e.warn("non-positive", "%d of the results are zero or negative, where %s is not defined.", outside, out.Model)
		out.Fits = nil
		return false
	}
	return true
}

// paths fits the batches on the model's scale; confidence is that of each limit
// by itself.
func (e *evaluation) paths(confidence float64) (fit Paths, err error) {
	switch {
	case e.Paths != nil:
		return e.Paths(e.out.Model, confidence)
	case e.Lines != nil:
		fit.Pooling, err = e.Lines(e.out.Model)
	default:
		fit.Pooling, err = pooling.Fit(e.transformed(), e.Alpha)
	}
	if err != nil {
		return fit, err
	}
	quantile := linear.StudentQuantile(confidence, fit.Pooling.DF)
	for _, line := range fit.Pooling.Lines {
		fit.Of = append(fit.Of, straight{line, quantile})
	}
	return fit, nil
}

// transformed puts the batches on the model's scale.
func (e *evaluation) transformed() []pooling.Batch {
	n := 0
	for _, f := range e.out.Fits {
		n += f.N
	}
	work := make([]float64, 0, 2*n)
	batches := make([]pooling.Batch, len(e.out.Fits))
	for i, f := range e.out.Fits {
		start := len(work)
		for _, p := range e.Batches[f.Batch] {
			work = append(work, e.out.Model.Time(p.Months-e.Baseline))
		}
		for _, p := range e.Batches[f.Batch] {
			work = append(work, e.out.Model.Transform(p.Value))
		}
		batches[i] = pooling.Batch{X: work[start : start+f.N], Y: work[start+f.N:]}
	}
	return batches
}

// tie is the relative difference below which two batches' lives are the same:
// which of them limits must not hang on a last digit that machines differ in.
const tie = 1e-9

// judge finds where each path and its limit meet the acceptance limits.
func (e *evaluation) judge(paths []Path) error {
	out := &e.out
	by := &criterion{
		model: out.Model, basis: e.Basis, baseline: e.Baseline,
		lower: out.Model.Limit(e.Lower, false, e.Basis), upper: out.Model.Limit(e.Upper, true, e.Basis),
		judgedLower: out.JudgedLower, judgedUpper: out.JudgedUpper,
	}
	out.ShelfLife, out.Estimate = math.Inf(1), math.Inf(1)
	for i := range out.Fits {
		f := &out.Fits[i]
		f.judgement = judgement{paths[i], by}
		f.Intercept = paths[i].Start()
		f.Slope, f.SlopeSE = paths[i].Slope()
		lower, upper, err := f.meets()
		if err != nil {
			return err
		}
		f.Estimate, f.ShelfLife = min(lower.estimate, upper.estimate), min(lower.bound, upper.bound)
		switch {
		case math.IsInf(f.ShelfLife, 1):
		case lower.bound <= upper.bound:
			f.LimitedBy = "lower"
		default:
			f.LimitedBy = "upper"
		}
		// Of equal lives, as where several are breached at the start, the one whose
		// mean meets a limit first.
		if f.ShelfLife < out.ShelfLife*(1-tie) || f.ShelfLife <= out.ShelfLife*(1+tie) && f.Estimate < out.Estimate*(1-tie) {
			out.ShelfLife, out.Estimate, out.Limiting = f.ShelfLife, f.Estimate, f.Batch
		}
	}
	if out.Pooling.Decision == pooling.Pooled || math.IsInf(out.ShelfLife, 1) {
		out.Limiting = -1
	}
	switch {
	case !out.JudgedLower && !out.JudgedUpper:
		out.Status = NoCriterion
	case out.ShelfLife == 0:
		out.Status = BreachedAtStart
	case math.IsInf(out.ShelfLife, 1):
		out.Status = NeverReached
	default:
		out.Status = Fitted
	}
	return nil
}

// remark says what qualifies a fit.
func (e *evaluation) remark() {
	out := &e.out
	if len(out.Fits) == 1 {
		e.warn("one-batch", "There is one batch: whether batches may be pooled cannot be tested, and the limit says nothing of other batches.")
	}
	if e.allEqual() {
		e.warn("no-variation", "All %d values are equal: no residual is left, and the confidence limit is the line itself. Values rounded that far hide both change and error.",
			e.values())
	} else if out.ResidualSD == 0 {
		e.warn("no-residual", "The values lie on their lines without residual: the confidence limit is the line itself.")
	}
	for _, f := range out.Fits {
		slope := f.Slope
		if out.Model.Decreasing() {
			slope = -slope
		}
		contrary := e.Direction == study.Falls && slope > 0 || e.Direction == study.Rises && slope < 0
		if contrary && !e.allEqual() && math.Abs(f.Slope) > out.Quantile*f.SlopeSE {
			e.warn("direction-contradicted", "The attribute is said to %s, but the fitted line of %s goes the other way beyond its error.",
				strings.TrimSuffix(string(e.Direction), "s"), e.lineName(f.Batch))
			if out.Pooling.Decision == pooling.Pooled {
				break
			}
		}
	}
	for _, f := range out.Fits {
		if f.ShelfLife == 0 {
			e.warn("breached-at-start", "At the start the confidence limit of %s is already at or beyond the %s acceptance limit.",
				e.lineName(f.Batch), f.LimitedBy)
			if out.Pooling.Decision == pooling.Pooled {
				break
			}
		}
	}
}

func (e *evaluation) values() (n int) {
	for _, b := range e.Batches {
		n += len(b)
	}
	return n
}

func (e *evaluation) allEqual() bool {
	first := e.Batches[e.out.Fits[0].Batch][0].Value
	for _, b := range e.Batches {
		for _, p := range b {
			if p.Value != first {
				return false
			}
		}
	}
	return true
}

// name is what a warning calls a batch.
func (e *evaluation) name(i int) string {
	if i < len(e.Names) {
		return e.Names[i]
	}
	return "batch " + strconv.Itoa(i+1)
}

func (e *evaluation) lineName(i int) string {
	if e.out.Pooling.Decision == pooling.Pooled {
		return "the pooled batches"
	}
	return e.name(i)
}
