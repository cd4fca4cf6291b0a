// Package regression works out what a straight line says of one attribute at
// one condition in one pack and orientation: the model it is straight under,
// what the batches share, and when the confidence limit of the mean meets the
// acceptance limit (ICH Q1E, 2003, appendix B).
package regression

import (
	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
	"shelfspan/study"
)

// Point is one sample: elapsed months and value, repeat readings averaged.
type Point = kinetics.Point

// Input is everything an evaluation rests on.
type Input struct {
	// Batches holds each batch's results in any order. A batch without any is
	// passed over. None is from before Baseline.
	Batches [][]Point
	// Names says what warnings call the batches; may be nil.
	Names []string

	Lower, Upper float64         // acceptance limits on the basis: in the attribute's unit, or in percent (90 is 90 %); ±Inf where none
	Basis        study.Basis     // what the limits apply to; empty means the value
	Direction    study.Direction // falls leaves the lower limit alone to be judged, rises the upper; empty means either
	Model        study.Model     // empty means zero-order; auto chooses for these batches alone
	Baseline     float64         // months; time counts from here, and the initial value is the fitted one here

	// Lines, where set, fits the batches that have results, in their order, on a
	// model's scale, in place of a line through the results of each: for units
	// that are measured again and again, whose readings are not independent.
	Lines func(kinetics.Model) (pooling.Result, error)

	// Paths, where set, fits the batches that have results, in their order, by a
	// method that makes no line of least squares of them; confidence is that of
	// each limit by itself. An error ends the evaluation and is told.
	Paths func(model kinetics.Model, confidence float64) (Paths, error)

	Alpha      float64 // significance level of the poolability tests
	Confidence float64 // of the limit, at least 0.5 and below 1
}

// Status says how an evaluation ended.
type Status string

// The ways it can end.
const (
	Fitted          Status = "fitted"            // a limit is met at ShelfLife
	NeverReached    Status = "never-reached"     // no limit is ever met
	BreachedAtStart Status = "breached-at-start" // a limit is met or passed at the start
	TooFewTimes     Status = "too-few-times"     // a batch has fewer than three distinct times
	NotFitted       Status = "not-fitted"        // the reason stands in a warning
	NoCriterion     Status = "no-criterion"      // fitted, but there is no limit to be met
)

// Output is the outcome of an evaluation. Where nothing was fitted, Fits is
// empty and the numbers are NaN.
type Output struct {
	Status     Status
	Model      kinetics.Model
	Candidates []kinetics.Candidate // the comparison, where the model was auto

	JudgedLower, JudgedUpper bool // which limits can be breached
	OneSided                 bool // only one of them can be
	Confidence               float64
	Quantile                 float64 // of Student's t, by which the standard error is multiplied

	Pooling    pooling.Result // its lines are those of Fits, in their order; none where Paths were fitted
	ResidualSD float64        // on the model's scale
	DF         int

	Fits []Fit // one for each batch that has results, in their order, also where pooled

	ShelfLife float64 // months from the start of storage: the shortest of the batches'; +Inf where no limit is ever met
	Estimate  float64 // months, where the mean of the limiting batch meets the limit; the shortest where none limits
	Limiting  int     // index into Input.Batches; -1 where pooled or none limits
}

// Fit is one batch's line on the model's scale, and its life.
type Fit struct {
	Batch            int     // index into Input.Batches
	Intercept, Slope float64 // per month, or per root month; the intercept is the mean at Baseline; a curve's slope is NaN
	SlopeSE          float64 // by the model the poolability tests decided on
	N                int
	Estimate         float64 // months where the mean meets a limit; +Inf where never
	ShelfLife        float64 // months where its confidence limit does; 0 where at the start; +Inf where never
	LimitedBy        string  // "lower", "upper" or ""

	judgement
}
