package tolerance

import (
	"fmt"
	"math"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/regression"
	"shelfspan/study/finding"
)

// Input is everything an evaluation rests on, on the scale on which the batches
// make a line.
type Input struct {
	// Batches holds each batch's results, one a unit, in any order. A batch
	// without any is passed over.
	Batches []pooling.Batch
	Names   []string // what warnings call the batches; may be nil

	// Limits holds the acceptance limits that can be breached, none, one or a
	// lower and an upper one (see kinetics.Model.Limit).
	Limits []kinetics.Limit

	Alpha float64 // significance level of the poolability tests
	Level
}

// Output is the outcome of an evaluation. Where nothing was fitted, Fits is
// empty and the numbers are NaN.
type Output struct {
	Status  regression.Status
	Pooling pooling.Result // its lines are those of Fits, in their order
	PerSide Level          // what each limit is judged at: the level asked for, or half of what may go wrong on either side
	Fits    []Fit          // one for each batch that has results, in their order, also where pooled

	ShelfLife float64 // the shortest of the batches'; +Inf where no limit is ever met
	Estimate  float64 // that of the limiting batch; the shortest where none limits
	Limiting  int     // index into Input.Batches; -1 where pooled or none limits
}

// Fit is one batch's life.
type Fit struct {
	Batch     int // index into Input.Batches
	N         int
	Estimate  float64 // where the fitted quantile of units meets a limit; +Inf where never
	ShelfLife float64 // where its tolerance limit does; 0 where at the start; +Inf where never
	LimitedBy int     // index into Input.Limits; -1 where none is met
}

// Evaluate fits the batches, tests what they share (see pooling.Fit) and finds
// the time until which at least the share Coverage of units stay within every
// limit, with the stated confidence (see Level.MetBy). Times are the model's own;
// the answers too. Warnings have no Where.
//
// With two limits each is judged by itself at half of what may go wrong: outside
// either lies (1 − Coverage)/2 of units at the most, with the confidence (1 +
// Confidence)/2 (Bonferroni). That is on the safe side of a two-sided tolerance
// interval.
//
// The units spoken of are those of the batches fitted: variation between batches
// is in it only as far as the lines differ, and a batch not yet made is not
// covered. Normal residuals of one variance are presupposed; a quantile far out
// hangs on that more than a mean does.
func Evaluate(in Input) (Output, []finding.Warning) {
	nan := math.NaN()
	e := evaluation{Input: in, out: Output{
		Status: regression.NotFitted, ShelfLife: nan, Estimate: nan, Limiting: -1, PerSide: in.Level,
		Pooling: pooling.Result{SlopesF: nan, SlopesP: nan, InterceptsF: nan, InterceptsP: nan, S: nan},
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
	if !e.suitable() {
		return
	}
	if !e.enoughTimes() {
		out.Status = regression.TooFewTimes
		return
	}
	var used []pooling.Batch
	for i, b := range e.Batches {
		if len(b.X) > 0 {
			used = append(used, b)
			out.Fits = append(out.Fits, Fit{Batch: i, N: len(b.X), LimitedBy: -1})
		}
	}
	fit, err := pooling.Fit(used, e.Alpha)
	if err != nil {
		e.warn("not-fitted", "No line could be fitted: %v.", err)
		out.Fits = nil
		return
	}
	out.Pooling = fit
	if len(e.Limits) > 1 {
		out.PerSide = Level{(1 + e.Coverage) / 2, (1 + e.Confidence) / 2}
	}
	e.judge()
	if fit.S == 0 {
		e.warn("no-residual", "The values lie on their lines without residual: no unit seems to differ from another, and the tolerance limit is the line itself.")
	}
	if len(used) == 1 {
		e.warn("one-batch", "There is one batch: the limit speaks of its units alone.")
	}
}

// suitable refuses what no model could be fitted to.
func (e *evaluation) suitable() bool {
	faults := pooling.Suitable(e.Batches, e.Names)
	if !e.Level.Valid() {
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

// enoughTimes asks for three distinct times of every batch that has results.
func (e *evaluation) enoughTimes() bool {
	short := pooling.Short(e.Batches, e.Names)
	results := 0
	for _, b := range e.Batches {
		results += len(b.X)
	}
	switch {
	case results == 0:
		e.warn("too-few-times", "A line is fitted to results at three or more times: there are no results.")
	case short != "":
		e.warn("too-few-times", "A line is fitted to results at three or more times: %s.", short)
	}
	return results > 0 && short == ""
}

// judge finds where each line's tolerance limit meets the acceptance limits.
func (e *evaluation) judge() {
	out := &e.out
	out.ShelfLife, out.Estimate = math.Inf(1), math.Inf(1)
	for i := range out.Fits {
		f := &out.Fits[i]
		f.ShelfLife, f.Estimate = math.Inf(1), math.Inf(1)
		for j, limit := range e.Limits {
			line := out.Pooling.Lines[i]
			f.Estimate = min(f.Estimate, out.PerSide.EstimateMetBy(line, limit))
			if life := out.PerSide.MetBy(line, limit); life < f.ShelfLife {
				f.ShelfLife, f.LimitedBy = life, j
			}
		}
		if f.ShelfLife < out.ShelfLife*(1-tie) || math.IsInf(out.ShelfLife, 1) && f.Estimate < out.Estimate {
			out.ShelfLife, out.Estimate, out.Limiting = f.ShelfLife, f.Estimate, f.Batch
		}
		if f.ShelfLife == 0 {
			e.warn("breached-at-start", "At the start the tolerance limit of %s is already at or beyond an acceptance limit.", e.lineName(f.Batch))
		}
		if out.Pooling.Decision == pooling.Pooled {
			for k := range out.Fits {
				out.Fits[k].ShelfLife, out.Fits[k].Estimate, out.Fits[k].LimitedBy = f.ShelfLife, f.Estimate, f.LimitedBy
			}
			break
		}
	}
	if out.Pooling.Decision == pooling.Pooled || math.IsInf(out.ShelfLife, 1) {
		out.Limiting = -1
	}
	switch {
	case len(e.Limits) == 0:
		out.Status = regression.NoCriterion
	case out.ShelfLife == 0:
		out.Status = regression.BreachedAtStart
	case math.IsInf(out.ShelfLife, 1):
		out.Status = regression.NeverReached
	default:
		out.Status = regression.Fitted
	}
}

// tie is the relative difference below which two batches' lives are the same:
// which of them limits must not hang on a last digit that machines differ in.
const tie = 1e-9

func (e *evaluation) lineName(i int) string {
	if e.out.Pooling.Decision == pooling.Pooled {
		return "the pooled batches"
	}
	return pooling.Name(e.Names, i)
}
