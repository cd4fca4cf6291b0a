// Package randombatch treats the batches of a study as a sample of those that a
// process makes: intercepts and slopes vary at random, and the answer is about a
// batch not yet made.
package randombatch

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/mathext"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/regression"
	"shelfspan/study/finding"
)

// Input is everything an evaluation rests on, on the scale on which the batches
// make a line.
type Input struct {
	// Batches holds each batch's results, independent of each other, in any order.
	// A batch without any is passed over.
	Batches []pooling.Batch
	Names   []string // what warnings call the batches; may be nil

	// Limits holds the acceptance limits that can be breached: none, one, or a
	// lower and an upper one (see kinetics.Model.Limit). Where one is referred to
	// the start, a batch's path is compared with its own start.
	Limits []kinetics.Limit

	Coverage   float64 // share of batches to come that Paths speaks of, 0.95 say
	Confidence float64 // of the bounds; both at least 0.5 and at most 1 − 10⁻⁹
}

// NotConverged is the status where the likelihood has no maximum that the search
// could find; Fit holds the best point, and there are no lives.
const NotConverged regression.Status = "not-converged"

// Output is the outcome of an evaluation. Where nothing was fitted Fit is nil
// and the numbers are NaN.
type Output struct {
	Status regression.Status // by Paths
	Fit    *Fit

	// What each limit is judged at: as asked for, or where there are two, half of
	// what may go wrong on either side.
	Coverage, Confidence float64

	Mean  Life // of the mean path of batches
	Paths Life // of the path that the share Coverage of batches is better than

	judge *judge
}

// Life is when a path meets a limit.
type Life struct {
	Estimate  float64 // where the estimated path does; +Inf where never
	ShelfLife float64 // where its one-sided bound does; 0 where at the start; +Inf where never; never later than Estimate
	LimitedBy int     // index into Input.Limits; -1 where none is met
	DF        float64 // of the error of the bound at ShelfLife: Satterthwaite's for Mean, those between batches for Paths
}

// Evaluate fits the model of random batches (see REML) and finds two lives for
// batches not yet made, by a lower limit L (an upper one is its mirror image). With
// α + β·t the mean path, d(t) = d00 + 2·d01·t + d11·t² the variance between
// batches of their paths and z the normal quantile of Coverage:
//
// Mean. The estimate is the first t at which α̂ + β̂·t comes down to L; the shelf
// life that at which
//
//	α̂ + β̂·t − t(Confidence; ν(t))·√(c00 + 2·c01·t + c11·t²)
//
// does, c the covariance of the estimates by REML and ν(t) Satterthwaite's degrees
// of freedom of that variance, m − 1 where m batches have the same times and the
// fit is not singular, more where it is.
//
// Paths. The estimate is the first t at which α̂ + β̂·t − z·√d̂(t) comes down to L,
// by REML. The shelf life is that at which the generalized lower confidence limit
// of α + β·t − z·√d(t) does, from the batches' own least squares lines and the
// error within batches (see future): for lines known without error it is ȳ(t) −
// t′(Confidence; m − 1, z·√m)·s(t)/√m, with ȳ(t) and s(t) the mean and standard
// deviation of the m paths and t′ the quantile of the noncentral t, which is the
// tolerance limit of Chow & Shao, Biometrics 47, 1991, 1071 (from memory); the
// error of the lines, which makes s(t) larger than √d(t), is allowed for. It does
// not rest on the REML estimate of the covariance, so that a fit at the boundary,
// as few batches bring by chance, does not make it bold. A batch with one time
// alone has no line, and counts in Mean only.
//
// Each t is judged by itself, so that a bound covers the true time at which its
// path meets L as surely as it covers the path there. Crossings are looked for in
// steps of a fraction of the study's length.
//
// With two limits each is judged by itself at half of what may go wrong: outside
// either lies (1 − Coverage)/2 of paths at the most, with the confidence (1 +
// Confidence)/2 (Bonferroni).
//
// Times and lives are the model's own. Warnings have no Where.
func Evaluate(in Input) (Output, []finding.Warning) {
	nan := math.NaN()
	e := evaluation{Input: in, out: Output{
		Status: regression.NotFitted, Coverage: in.Coverage, Confidence: in.Confidence,
		Mean: Life{nan, nan, -1, nan}, Paths: Life{nan, nan, -1, nan},
	}}
	e.run()
	return e.out, e.warnings
}

type evaluation struct {
	Input
	out      Output
	warnings []finding.Warning
}

func (e *evaluation) warn(code, format string, args ...any) {
	e.warnings = append(e.warnings, finding.Warning{Code: code, Text: fmt.Sprintf(format, args...)})
}

func (e *evaluation) run() {
	out := &e.out
	if !e.sound() {
		return
	}
	d, short := suitable(e.Batches)
	if short != "" {
		out.Status = regression.TooFewTimes
		e.warn("too-few-times", "%s", short)
		return
	}
	fit, err := d.fit()
	out.Fit = fit
	if errors.Is(err, ErrNotConverged) {
		out.Status = NotConverged
		e.warn("not-converged", "The random batches have no answer: %v.", err)
		return
	}
	if len(e.Limits) > 1 {
		out.Coverage, out.Confidence = (1+e.Coverage)/2, (1+e.Confidence)/2
	}
	out.judge = d.judge(fit, out.Coverage, out.Confidence)
	out.Mean, out.Paths = e.life(out.judge.mean), e.life(out.judge.quantile)
	out.Mean.DF, out.Paths.DF = out.judge.meanDF(e.Limits, out.Mean), float64(d.lines-1)
	switch {
	case len(e.Limits) == 0:
		out.Status = regression.NoCriterion
	case out.Paths.ShelfLife == 0:
		out.Status = regression.BreachedAtStart
	case math.IsInf(out.Paths.ShelfLife, 1):
		out.Status = regression.NeverReached
	default:
		out.Status = regression.Fitted
	}
	e.remark(d)
}

// life is the earliest over the limits.
func (e *evaluation) life(meets func(kinetics.Limit) (estimate, life float64)) Life {
	first := Life{Estimate: math.Inf(1), ShelfLife: math.Inf(1), LimitedBy: -1}
	for i, limit := range e.Limits {
		estimate, life := meets(limit)
		first.Estimate = min(first.Estimate, estimate)
		if life < first.ShelfLife {
			first.ShelfLife, first.LimitedBy = life, i
		}
	}
	return first
}

// sound refuses numbers that nothing could be reckoned with.
func (e *evaluation) sound() bool {
	faults := pooling.Suitable(e.Batches, e.Names)
	in := func(p float64) bool { return p >= 0.5 && p <= 1-1e-9 }
	if !in(e.Coverage) || !in(e.Confidence) {
		faults = append(faults, fmt.Sprintf("A coverage of %g at a confidence of %g is not asked for: both are at least 0.5 and below 1 by a billionth or more.", e.Coverage, e.Confidence))
	}
	if len(e.Limits) > 2 {
		faults = append(faults, fmt.Sprintf("There are %d limits, where there can be a lower and an upper one.", len(e.Limits)))
	}
	for _, l := range e.Limits {
		if !(math.IsInf(l.Level, 0) || pooling.Measurable(l.Level)) || !pooling.Measurable(l.Share) {
			faults = append(faults, fmt.Sprintf("A limit at %g, %g of the start, is out of the range of numbers reckoned with.", l.Level, l.Share))
		}
	}
	for _, f := range faults {
		e.warn("not-fitted", "%s", f)
	}
	return faults == nil
}

// few is the number of batches below which a warning says how little they tell
// of the spread between batches; common practice, no source.
const few = 6

// remark says what qualifies a fit.
func (e *evaluation) remark(d *design) {
	out := &e.out
	if d.lines < few {
		df := float64(d.lines - 1)
		times := math.Sqrt(df / (2 * mathext.GammaIncRegInv(df/2, 0.05)))
		text := fmt.Sprintf("%d batches tell little of how batches spread: the true standard deviation between them may be %.1f times that found, at 95 %% confidence. The bound for batches to come is wide for that reason; only more batches narrow it.", d.lines, times)
		if d.lines == 2 {
			text += " Whether intercepts and slopes vary together cannot be seen in two."
		}
		e.warn("few-batches", "%s", text)
	}
	switch {
	case d.rss == 0:
		e.warn("no-residual", "The values lie on their batches' lines without residual: the lines are taken as they are, without error.")
	case out.Fit.Rank == 0:
		e.warn("no-batch-variation", "No variation between batches is found beyond the error of the results. That is no proof that there is none; the bound for batches to come allows for what that error may hide.")
	case out.Fit.Rank == 1:
		e.warn("boundary", "The variation between batches is estimated at the boundary of what is possible: intercepts and slopes vary as one, which few batches or large errors often bring by chance.")
	}
	var without []string
	for i, b := range e.Batches {
		if len(b.X) > 0 && pooling.DistinctTimes(b) == 1 {
			without = append(without, pooling.Name(e.Names, i))
		}
	}
	if without != nil {
		e.warn("batch-without-line", "Results at one time alone make no line: %s counts in the mean of batches, but not in the bound for batches to come.", strings.Join(without, ", "))
	}
	for _, l := range [...]struct {
		Life
		what string
	}{{out.Mean, "the mean path"}, {out.Paths, "the path of nearly all batches"}} {
		if l.ShelfLife == 0 {
			e.warn("breached-at-start", "At the start the bound of %s is already at or beyond an acceptance limit.", l.what)
		}
	}
}
