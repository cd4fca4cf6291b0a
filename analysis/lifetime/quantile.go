package lifetime

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mathext"

	"shelfspan/study/finding"
)

// Quantile is the time by which a share of the units has failed, in the unit of
// time of the observations.
type Quantile struct {
	Share, Celsius, Confidence float64
	Estimate                   float64
	LogSE                      float64 // standard error of ln Estimate
	// Wald is the one-sided lower bound exp(ln Estimate − z·LogSE). It is for
	// comparison: where the likelihood is lopsided, as with few failures, it is bolder
	// than the profile's.
	Wald float64
	// Profile is the one-sided lower bound by the profile likelihood of the
	// quantile itself, for comparison too; 0 where the data set it none.
	Profile float64
	// Calibrated is the profile bound set lower for how few units failed, the one to
	// go by; never above Profile, and 0 where the data set it none (Open).
	Calibrated   float64
	Open         bool
	Extrapolated bool // to a temperature outside those that were fitted
	Warnings     []finding.Warning
}

// Why a quantile cannot be told.
var (
	ErrNotFitted   = errors.New("no distribution of lifetimes was fitted")
	ErrShare       = errors.New("a share lies between 0 and 1")
	ErrConfidence  = errors.New("a confidence is from 0.5 up to 1")
	ErrTemperature = errors.New("a temperature is above −273.15 °C")
)

// Quantile tells by when a share of the units has failed at a temperature, and
// its one-sided lower bounds at a confidence. Without an Arrhenius term the
// temperature does not matter.
//
// The profile bound is the least time t for which 2·(ℓmax − ℓ(t)) ≤ z², z being the
// one-sided normal quantile and ℓ(t) the greatest log-likelihood with the
// quantile held at t: half of χ²'s tail on one degree of freedom is on either side
// (Meeker & Escobar 1998, section 8.3). With the quantile held the likelihood is
// that of fewer parameters and of the log times less ln t.
//
// The calibrated bound is the same with m·ln(1 + t²/ν) in the place of z². m is the
// units known to have failed at a time or between two looks, and half of those known
// to have failed before their first; ν = max(1, m − p), p being the parameters, m no less
// than ν there; t is the one-sided quantile of Student's distribution on ν degrees of freedom. For the
// mean of a normal sample 2·(ℓmax − ℓ) is m·ln(1 + t²/(m − 1)), exactly, so that with
// ν = m − 1 the cut is at Student's bound. The signed root of the statistic of other
// location-scale models, censored ones too, is taken to behave likewise where few units
// failed. That is a derivation of our own, by analogy with the normal sample and checked by
// simulation; there is no source. The scale counts among the p because a quantile in
// the tail hangs on it: of complete lognormal samples, where the noncentral t distribution
// tells the coverage, the bound of the 5 % quantile covers 98.9 % to 93.6 % for 3 units or
// more, and with ν = m − 1 it would cover 90.9 % to 94.1 %. The bound of their median is so
// a little below Student's.
//
// Where units are few the profile bound is bold, by six points in 100 of 6 units that
// all fail, and Wald's by fifteen; the calibrated one keeps its 95 % but for a point in
// simulated studies, and is far on the safe side where a handful fail of many.
// DEVELOPERS.md has the record. None covers the choice of the distribution, on which a
// small share hangs.
func (r *Result) Quantile(share, celsius, confidence float64) (Quantile, error) {
	q := Quantile{Share: share, Celsius: celsius, Confidence: confidence}
	switch {
	case r.Status != Fitted:
		return q, ErrNotFitted
	case !(share > 0 && share < 1):
		return q, ErrShare
	case !(confidence >= 0.5 && confidence < 1):
		return q, ErrConfidence
	case r.fit.arrhenius && (!(celsius > -zeroCelsius) || math.IsInf(celsius, 1)):
		return q, ErrTemperature
	}
	f := r.fit
	at, n := f.top.at, len(f.top.at)
	phi := at[n-1]
	zp := f.family.quantile(share)
	z := mathext.NormalQuantile(confidence)
	x := 0.0
	if f.arrhenius {
		x = f.at(celsius)
	}

	// ln t less the line through the middle of the data is (zp − γ·v)/φ.
	middle := f.middle(x)
	gradient := []float64{-1 / phi, -x / phi, 0}[:n]
	logT := (zp - at[0]) / phi
	if f.arrhenius {
		logT -= at[1] * x / phi
	}
	gradient[n-1] = -logT / phi
	variance := 0.0
	for a := range n {
		for b := range n {
			variance += gradient[a] * f.top.inverse[a*n+b] * gradient[b]
		}
	}
	q.LogSE = math.Sqrt(max(0, variance))
	q.Estimate = math.Exp(middle + logT)
	q.Wald = math.Exp(middle + logT - z*q.LogSE)
	q.Extrapolated = f.arrhenius && (celsius < f.coldest || celsius > f.hottest)
	f.bound(&q, logT, zp, x, z, calibratedCut(r.told, n, confidence))
	f.qualify(&q, r.Units)
	return q, nil
}

// bound finds the profile bound and the calibrated one, at which the profile is as
// deep as z and as cut, which is no less.
func (f *fitted) bound(q *Quantile, logT, zp, x, z, cut float64) {
	n := len(f.top.at)
	p := &problem{sample: f.sample, origin: make([]float64, len(f.x)), offset: zp}
	start := []float64{f.top.at[n-1]}
	if f.arrhenius {
		away := make([]float64, len(f.x))
		for i, v := range f.x {
			away[i] = v - x
		}
		p.columns, start = [][]float64{away}, []float64{f.top.at[1], f.top.at[n-1]}
	}
	pr := f.profile(p, start, func(logT float64) {
		for i := range p.origin {
			p.origin[i] = logT
		}
	})
	// Farther down no time is a number.
	const farthest = 2000
	at, open, sound := pr.end(logT, -q.LogSE, z, farthest)
	if sound && !open {
		q.Profile = math.Exp(f.middle(x) + at)
		at, open, sound = pr.onward(at, z, -q.LogSE, cut, farthest)
	}
	if sound && !open {
		q.Calibrated = math.Exp(f.middle(x) + at)
	}
	if !sound {
		q.warn(f.where, "profile-not-converged", "The profile-likelihood bound of the lifetime could not be reckoned; no lifetime is taken as bounded.")
	}
	q.Open = q.Calibrated == 0
}

func (q *Quantile) warn(where, code, text string) {
	q.Warnings = append(q.Warnings, finding.Warning{Code: code, Where: where, Text: text})
}

// qualify adds what qualifies the quantile.
func (f *fitted) qualify(q *Quantile, units float64) {
	switch {
	case q.Open && q.Profile > 0:
		q.warn(f.where, "lifetime-open", "Too few units failed to set the lifetime a lower bound above zero at this confidence.")
	case q.Open:
		q.warn(f.where, "lifetime-open", "The data set the lifetime no lower bound above zero at this confidence.")
	}
	if q.Share*units < 1 {
		q.warn(f.where, "distribution-tail", "The share is less than one of the units that were looked at: the lifetime rests on the distribution that was taken for granted, not on what was seen.")
	}
	if q.Extrapolated {
		q.warn(f.where, "temperature-extrapolated", "The lifetime is at a temperature outside those that were studied, and rests on one activation energy up to there.")
	}
}

// FailedBy is the share of units that has failed by a time above zero at a
// temperature, by the fitted distribution; NaN where none was fitted. Without an
// Arrhenius term the temperature does not matter.
func (r *Result) FailedBy(time, celsius float64) float64 {
	if r.Status != Fitted || !(time > 0) {
		return math.NaN()
	}
	f := r.fit
	at, n := f.top.at, len(f.top.at)
	x := 0.0
	if f.arrhenius {
		x = f.at(celsius)
	}
	z := at[0] + at[n-1]*(math.Log(time)-f.middle(x))
	if f.arrhenius {
		z += at[1] * x
	}
	return math.Exp(f.family.left(z).l)
}

// middle is where the line is at a place on the scale of 1/T.
func (f *fitted) middle(x float64) float64 {
	if f.arrhenius {
		return f.line[0] + f.line[1]*x
	}
	return f.line[0]
}
