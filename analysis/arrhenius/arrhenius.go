// Package arrhenius fits one temperature law to the results of all conditions
// at once, and predicts from it when a limit is met at another temperature.
//
// On the scale of a degradation model (package kinetics) a batch starts at its
// own intercept and changes at a rate that depends on the condition alone,
//
//	g(y) = a_batch ± k(T)·τ(t),  k(T) = exp(λ − (Ea/R)(1/T − 1/Tref) + B·(RH − RHref)),
//
// with T in kelvin. λ, Ea and, where it can be told, B are common to all
// batches, or λ is each batch's own where that is asked for. 1/Tref is the mean of 1/T and RHref the mean humidity, each over the
// conditions that entered: there λ and Ea are least correlated.
//
// The gas constant is that of CODATA 2018, exact in the 2019 SI.
package arrhenius

import (
	"fmt"
	"math"

	"shelfspan/analysis/kinetics"
	"shelfspan/study"
	"shelfspan/study/finding"
)

const (
	GasConstant = 8.314462618 // J/(mol K)
	ZeroCelsius = 273.15      // 0 °C in K
)

// LinearityLevel is the p-value below which the conditions are said not to follow one
// activation energy; common practice, no source.
const LinearityLevel = 0.05

// Input is one attribute in one pack and orientation, over all conditions.
type Input struct {
	Where      string // what it is about, for the warnings
	Points     []Point
	Conditions []Condition
	// Lower and Upper are the acceptance limits on their basis, ±Inf where
	// there is none; percent for percent-of-initial.
	Lower, Upper float64
	Basis        study.Basis
	Direction    study.Direction
	Model        study.Model // auto is chosen on the free-rate fit
	Confidence   float64     // at least 0.5 and below 1
	At           []Target    // where to predict
	Histories    []History   // what to judge
	Storage      *Target     // what the histories are held against; nil where there is none
	Baseline     float64     // months from which the trend counts; earlier points are not fitted
	Resampling   Resampling  // made-up studies by which the predictions' bounds are checked
	ByBatch      bool        // each batch has its own λ, and the free-rate model a slope for each batch at each condition
	Groups       []int       // by Point.Batch: batches of one group share a λ, and each group has its own; nil for one group; not with ByBatch
}

// Point is one result, repeat readings averaged. A result at time zero enters
// once, however many conditions it counts for.
type Point struct {
	Batch     int     // 0, 1, 2 …
	Condition int     // index into Conditions; −1 at time zero
	Months    float64 // elapsed
	Value     float64
}

// Condition is a storage climate.
type Condition struct {
	Name     string // for the warnings
	Celsius  float64
	Humidity float64 // % RH; NaN where none is stated
}

// Target is a climate to predict at.
type Target struct {
	Celsius  float64
	Humidity float64 // % RH; NaN: the reference humidity
}

// Status says how a fit ended.
type Status string

// How a fit ended.
const (
	Fitted      Status = "fitted"
	NotFitted   Status = "not-fitted"    // Reason says why
	TooFewTimes Status = "too-few-times" // fewer than 3 distinct times in all
)

// Result is what all temperatures say together. Where Status is not Fitted
// only Status, Reason, Model, Candidates, Samples and Warnings hold, and all
// else is zero or NaN.
type Result struct {
	Status     Status
	Reason     string // why it was not fitted; one sentence without a full stop
	Model      kinetics.Model
	Candidates []kinetics.Candidate // the comparison of auto; nil where the model was declared

	EaKJ, EaSE    float64 // activation energy and its asymptotic standard error, kJ/mol
	EaLow, EaHigh float64 // profile-likelihood interval, two-sided; an open end is ±Inf
	LogRate       float64 // λ: ln of the rate per month at Tref and RHref; the mean of the batches' own
	Reference     float64 // Tref, °C
	Rising        bool    // the attribute itself rises

	Humidity, HumiditySE float64 // B per % RH; NaN where not fitted
	HumidityReference    float64 // RHref, % RH; NaN where not fitted

	Rates                      []Rate // by the free-rate model, in the order of Conditions within that of the batches
	LinearityF, LinearityP     float64
	LinearityDF1, LinearityDF2 int
	Bends                      int // index of the condition that bends the line where linearity fails; −1 otherwise, or where it cannot be told

	SSE, ResidualSD float64 // on the model's scale; of unit rates, of their logarithms
	DF              int
	Temperatures    int     // distinct ones that entered
	Samples         int     // points that entered
	Iterations      int     // of the nonlinear fit
	Convergence     string  // how the fit ended
	Q10             float64 // k(35 °C)/k(25 °C); a conventional shortcut, never the answer
	OneSided        bool    // the quantile of the predictions' bounds is; two-sided where the attribute may miss either limit

	Predictions []Prediction // in the order of At; nil where there is no limit to meet
	Exposures   []Exposure   // in the order of Histories
	// LnRate is the ln of the fitted rate per month at a temperature in °C and
	// the reference humidity.
	LnRate   func(celsius float64) float64
	Warnings []finding.Warning
}

// Rate is one condition's rate by the free-rate model.
type Rate struct {
	Condition int
	Batch     int // whose rate it is; −1 where the batches share it
	Celsius   float64
	PerMonth  float64 // signed, on the model's scale
	SE        float64
}

// Prediction is when a limit is met in a climate. Times are in months.
type Prediction struct {
	Celsius, Humidity float64
	Estimate          float64    // where the mean path of the limiting batch meets a limit; +Inf where never
	ShelfLife         float64    // profile-likelihood bound, the shortest over the batches; 0 where breached at the start; may be finite where Estimate is +Inf but the direction of the change is in doubt
	Delta             float64    // delta-method bound of the same batch, on ln x, for comparison
	Batch             int        // that limits; −1 where no limit is ever met, or where the batches are pooled
	Extrapolated      bool       // outside the temperatures that entered
	Bootstrap         *Bootstrap // nil where not asked for, or where no limit is met
	Q10Life           float64    // by the conventional shortcut from the hottest condition's own rate, Q10 = 2, without the baseline; NaN where not meaningful
}

func (r *Result) warn(where, code, text string) {
	r.Warnings = append(r.Warnings, finding.Warning{Code: code, Where: where, Text: text})
}

func (r *Result) refuse(where string, status Status, reason string) *Result {
	r.Status, r.Reason = status, reason
	r.warn(where, string(status), "No Arrhenius fit: "+reason+".")
	return r
}

// unanswerable says why a question cannot be answered, whatever the data; empty
// where it can.
func unanswerable(confidence float64, at []Target) string {
	if !(confidence >= 0.5 && confidence < 1) {
		return "the confidence is not between 0.5 and 1"
	}
	for _, t := range at {
		if !(t.Celsius > -ZeroCelsius) || math.IsInf(t.Celsius, 1) {
			return fmt.Sprintf("%v °C, to be predicted at, is no temperature", t.Celsius)
		}
	}
	return ""
}

// tellLine fills in the fitted temperature law.
func (r *Result) tellLine(lambda, ea, invRef float64) {
	r.LogRate, r.EaKJ, r.Reference, r.Q10 = lambda, ea, 1/invRef-ZeroCelsius, Q10(ea)
	r.LnRate = func(celsius float64) float64 {
		return lambda - ea*1000/GasConstant*(1/(celsius+ZeroCelsius)-invRef)
	}
}
