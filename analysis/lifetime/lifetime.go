// Package lifetime fits a distribution to lifetimes of which it is known only
// between which looks at a unit they ended, at one temperature or at several
// with an Arrhenius term, and tells by when a share of the units has failed.
//
// The logarithm of a lifetime has a location and a scale,
//
//	ln t = μ(T) + σ·z,  μ(T) = λ + (Ea/R)(1/T − 1/Tref),
//
// with T in kelvin, z standard normal (lognormal lifetimes) or of the smallest
// extreme value (Weibull), σ common to all temperatures. 1/Tref is the mean of
// 1/T over the temperatures that entered.
//
// The gas constant is that of CODATA 2018, exact in the 2019 SI.
package lifetime

import (
	"math"

	"shelfspan/analysis/censored"
	"shelfspan/study/finding"
)

const (
	gasConstant = 8.314462618 // J/(mol K)
	zeroCelsius = 273.15      // K
)

// Input is the units of one product, pack and attribute.
type Input struct {
	Where        string // what it is about, for the warnings
	Observations []Observation
	Distribution Distribution
	// Arrhenius gives the location a term in 1/T. Without it the temperatures are
	// not looked at, but told where there are several.
	Arrhenius  bool
	Confidence float64 // of the interval of Ea; at least 0.5 and below 1
}

// Observation is what is known of the lifetime of one unit or of several alike.
type Observation struct {
	censored.Interval // in any one unit of time, say months
	Celsius           float64
}

// Status says how a fit ended.
type Status string

// How a fit ended. In all but Fitted there is no estimate, and Reason says why.
const (
	Fitted    Status = "fitted"
	Refused   Status = "refused"    // the input is none
	NoData    Status = "no-data"    // of no unit anything is known
	AtStart   Status = "at-start"   // units failed before they were stored: no distribution of lifetimes begins so
	NoFailure Status = "no-failure" // no unit is known to have failed
	NoPass    Status = "no-pass"    // no unit is known to have passed
	// Separated: one moment at each temperature, on one line, parts the passes from
	// the failures, so that σ is not told from zero. Failures in one interval only
	// are such a case, and looks at one time only.
	Separated Status = "separated"
	// NoTrend: units looked at later failed no more often, so that σ has no finite
	// estimate.
	NoTrend Status = "no-trend"
	// OneTemperature: an Arrhenius term needs two.
	OneTemperature Status = "one-temperature"
	// EaOpen: the failures are all as hot as any pass or hotter, or the other way
	// round, so that Ea has no finite estimate.
	EaOpen       Status = "activation-energy-open"
	NotConverged Status = "not-converged"
	Flat         Status = "flat" // the data do not tell the parameters apart
)

// Result is what a fit came to. Where Status is not Fitted, only it, Reason, the
// counts of units and Warnings hold, and all else is zero.
type Result struct {
	Status       Status
	Reason       string // one sentence without a full stop
	Distribution Distribution

	Location, LocationSE float64 // λ: mean, or location, of ln t at Tref
	Scale, LogScaleSE    float64 // σ, and the standard error of ln σ
	EaKJ, EaSE           float64 // kJ/mol; zero without an Arrhenius term
	EaLow, EaHigh        float64 // profile-likelihood interval, two-sided; an open end is ±Inf
	Reference            float64 // Tref, °C; zero without an Arrhenius term
	// Covariance of λ, Ea where fitted, and ln σ, row by row, from the observed
	// information.
	Covariance []float64

	LogLikelihood float64 // of the times; a lifetime known exactly counts by its density
	Parameters    int
	AIC           float64 // −2·LogLikelihood + 2·Parameters
	// AICc is AIC + 2k(k + 1)/(n − k − 1), n being the units; +Inf where n is no
	// more than k + 1.
	AICc float64

	Units        float64 // that something is known of
	Failed       float64 // of them, that are known to have failed
	Unknown      float64 // that nothing is known of; they do not enter
	told         float64 // of Failed, those known not to have failed sooner than some look, and half of the rest
	Temperatures int     // distinct ones, of the units that something is known of

	Iterations int
	Decrement  float64 // length of the last step in standard errors
	Warnings   []finding.Warning

	fit *fitted
}

// fitted is what the bounds are found from.
type fitted struct {
	*sample
	where     string
	top       climbed
	steps     int // of all climbs to it
	arrhenius bool
	coldest   float64 // °C
	hottest   float64
}

func (r *Result) warn(where, code, text string) {
	r.Warnings = append(r.Warnings, finding.Warning{Code: code, Where: where, Text: text})
}

func (r *Result) refuse(where string, status Status, reason string) *Result {
	r.Status, r.Reason = status, reason
	r.warn(where, string(status), "No distribution of lifetimes was fitted: "+reason+".")
	return r
}

func isFinite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
