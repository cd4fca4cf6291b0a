package arrhenius

import (
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/nonlinear"
	"shelfspan/study"
)

// Fit fits all conditions at once. The fit is by least squares in one stage,
// never a line through logarithms of rates fitted before: a condition that
// hardly changes counts for what it is worth. The batches' intercepts and the
// rates' common factor are linear; the rest is found by package nonlinear from
// the best place of a wide grid. The sign of the change is the one with the
// smaller sum of squares.
//
// The free-rate model, a slope per condition, stands beside it; the F-test of
// the one against the other is the check that ln k is linear in 1/T. With two
// temperatures nothing can be checked.
//
// Where the sum of squares is as low with only the hottest or the coldest
// condition changing, Ea has no finite estimate and nothing is fitted.
//
// The interval of Ea is where SSE(Ea) ≤ SSEmin·(1 + t²/ν), t being the
// two-sided quantile and SSE(Ea) the least with Ea held (profile likelihood;
// Bates & Watts, Nonlinear Regression Analysis, 1988, chapter 6).
func Fit(in Input) *Result {
	r := &Result{Bends: -1, LinearityF: math.NaN(), LinearityP: math.NaN(),
		Humidity: math.NaN(), HumiditySE: math.NaN(), HumidityReference: math.NaN()}
	if reason := unanswerable(in.Confidence, in.At); reason != "" {
		return r.refuse(in.Where, NotFitted, reason)
	}
	l, status, reason := arrange(&in, -1)
	r.Samples = len(l.points)
	if status != Fitted {
		return r.refuse(in.Where, status, reason)
	}
	temperatures := l.temperatures(&in)
	r.Temperatures = len(temperatures)
	if len(temperatures) < 2 {
		return r.refuse(in.Where, NotFitted, "there are results at fewer than two temperatures")
	}

	var free *freeRates
	if in.Model == study.Auto {
		r.Model, r.Candidates, free = choose(&in, l)
	} else {
		r.Model = kinetics.Model(in.Model)
		if why := reasonAgainst(r.Model, &in, l); why != "" {
			return r.refuse(in.Where, NotFitted, fmt.Sprintf("the model is %s and %s", in.Model, why))
		}
	}
	if free == nil {
		var err error
		if free, err = fitFreeRates(&in, l, r.Model); err != nil {
			return r.refuse(in.Where, NotFitted, err.Error())
		}
	}
	humidity := r.judgeHumidity(&in, l)
	f, reason := fitTemperatures(&in, free, humidity)
	if reason != "" {
		return r.refuse(in.Where, NotFitted, reason)
	}
	f.model = r.Model
	if reason := f.unfitForPercent(&in); reason != "" {
		return r.refuse(in.Where, NotFitted, reason)
	}

	r.Status = Fitted
	f.tell(r, &in)
	f.interval(r, &in)
	r.judgeLine(in.Where, in.Conditions, "results", f.lackOfFit(), func() int { return bends(&in, f) })
	r.Predictions = f.predict(r, &in, limits(&in, r.Model))
	f.resample(r, &in, limits(&in, r.Model))
	r.Exposures = f.expose(r, &in, limits(&in, r.Model))
	return r
}

// fitted is the one-stage fit.
type fitted struct {
	*surface
	model      kinetics.Model
	lambda     []float64 // by group
	sign       []float64 // of the change on the model's scale, by group
	ea, b      float64
	excess     float64   // SSE less that of the free-rate model
	sse        float64   // 0 where it is no more than rounding
	parameters int       // a λ for each group, Ea and, where fitted, B
	df         int       // ν
	unscaled   []float64 // covariance of the parameters, in that order
	iterations int
	status     nonlinear.Status
	low, high  float64 // caps of Ea
	alongB     float64 // dB/dEa along the profile of Ea, at the fit
	acrossB    float64 // unscaled standard error of B with Ea held
	reachB     float64 // how far from the fit B is looked for
}

// fitTemperatures makes SSE(λ, Ea, B) least. The reason is not empty where
// that could not be done.
func fitTemperatures(in *Input, free *freeRates, humidity bool) (*fitted, string) {
	f := &fitted{surface: newSurface(in, free, humidity), parameters: free.groups + 1}
	if humidity {
		f.parameters++
	}
	f.df = free.n() - len(free.batches) - f.parameters
	if f.df < 1 {
		return nil, fmt.Sprintf("%d results leave nothing to judge the scatter by, with %d batches and %d parameters of temperature",
			free.n(), len(free.batches), f.parameters)
	}
	total := norm2(free.d)
	if math.Sqrt(total) <= 1e-12*free.length {
		return nil, "no value changes at any temperature"
	}

	ea, b := f.start()
	var start []float64
	for _, x := range f.look(ea, b).factors {
		if norm2(free.d[x.from:x.to]) <= 1e-24*free.length*free.length {
			return nil, "no value of a batch changes at any temperature, so that it has no rate of its own"
		}
		f.sign = append(f.sign, math.Copysign(1, x.kappa))
		start = append(start, math.Log(math.Abs(x.kappa))-x.shift)
	}
	start = append(start, ea, b)[:f.parameters]
	fit := nonlinear.Fit(f.problem(), start, nonlinear.Settings{Factor: 1})
	f.iterations, f.status = fit.Iterations, fit.Status
	f.lambda, f.ea = fit.Parameters[:free.groups], fit.Parameters[free.groups]
	if humidity {
		f.b = fit.Parameters[free.groups+1]
	}
	f.excess, f.unscaled = fit.RSS, fit.Unscaled
	f.low, f.high = f.caps()
	if humidity {
		f.setReach()
	}
	// A millionth of the mean square says nothing for one Ea against another.
	flat := f.excess*(1+1e-9) + 1e-6*(free.rss+f.excess)/float64(f.df)
	switch {
	case f.profile(f.high) <= flat:
		return nil, "only the hottest condition changes as the fit has it, so the activation energy has no finite estimate"
	case f.profile(f.low) <= flat:
		return nil, "only the coldest condition changes as the fit has it, so the activation energy has no finite estimate"
	case !fit.Status.Converged():
		return nil, fmt.Sprintf("after %d iterations: %v", fit.Iterations, fit.Status)
	}
	if free.rss == 0 && f.excess <= 1e-22*total {
		f.excess = 0
	}
	f.sse = free.rss + f.excess
	return f, ""
}

// problem is the sum of squares over the rates in the parameters, which are the
// λ of the groups, Ea and B.
func (f *fitted) problem() nonlinear.Problem {
	free := f.free
	c, groups := len(free.cells), free.groups
	k := make([]float64, c)
	rates := func(p []float64) {
		for j := range k {
			g := free.cells[j].group
			e := p[g] - p[groups]*f.u[j]
			if f.humidity {
				e += p[groups+1] * f.h[j]
			}
			k[j] = f.sign[g] * math.Exp(e)
		}
	}
	return nonlinear.Problem{M: c, N: f.parameters,
		Residuals: func(dst, p []float64) {
			rates(p)
			free.times(k, dst)
			for i, d := range free.d {
				dst[i] -= d
			}
		},
		Jacobian: func(dst, p []float64) {
			rates(p)
			for i := range c {
				row := dst[i*f.parameters : (i+1)*f.parameters]
				clear(row)
				for j := 0; j <= i; j++ {
					wk := free.w[i*c+j] * k[j]
					row[free.cells[j].group] += wk
					row[groups] -= wk * f.u[j]
					if f.humidity {
						row[groups+1] += wk * f.h[j]
					}
				}
			}
		},
	}
}

// setReach says where B is looked for with Ea held.
func (f *fitted) setReach() {
	// e²⁵ between the reference and the humidity farthest from it is as
	// good as all.
	span := 0.0
	for _, h := range f.h {
		span = max(span, math.Abs(h))
	}
	f.reachB = 25 / span
	if f.unscaled != nil {
		e := f.free.groups
		f.alongB = f.covariance(e, e+1) / f.covariance(e, e)
		f.acrossB = math.Sqrt(max(0, f.covariance(e+1, e+1)-f.alongB*f.covariance(e, e+1)))
	}
}

// covariance is that of two parameters, unscaled.
func (f *fitted) covariance(i, j int) float64 { return f.unscaled[i*f.parameters+j] }

// profile is the least excess with Ea held.
func (f *fitted) profile(ea float64) float64 {
	if !f.humidity {
		return f.look(ea, 0).excess
	}
	_, excess := f.bestHumidity(ea)
	return excess
}

// bestHumidity is the B that fits best with Ea held, looked for along the
// tangent of the profile.
func (f *fitted) bestHumidity(ea float64) (b, excess float64) {
	guess := f.b + f.alongB*(ea-f.ea)
	guess = min(max(guess, f.b-f.reachB), f.b+f.reachB)
	return descend(func(b float64) float64 { return f.look(ea, b).excess }, guess, f.reachB/1e4, f.b-f.reachB, f.b+f.reachB)
}

// sd is the residual standard deviation.
func (f *fitted) sd() float64 { return math.Sqrt(f.sse / float64(f.df)) }

// rate is the fitted rate of a cell, signed.
func (f *fitted) rate(j int) float64 {
	g := f.free.cells[j].group
	return f.sign[g] * math.Exp(f.lambda[g]-f.ea*f.u[j]+f.b*f.h[j])
}

// tell fills in what the fit is.
func (f *fitted) tell(r *Result, in *Input) {
	free := f.free
	s := f.sd()
	groups := free.groups
	lambda, change := 0.0, 0.0
	for g, l := range f.lambda {
		lambda += l / float64(groups)
		change += f.sign[g] * math.Exp(l)
	}
	r.tellLine(lambda, f.ea, f.invRef)
	r.EaSE = s * math.Sqrt(f.covariance(groups, groups))
	if f.humidity {
		r.Humidity, r.HumiditySE, r.HumidityReference = f.b, s*math.Sqrt(f.covariance(groups+1, groups+1)), f.rhRef
	}
	r.Rising = change > 0 != f.model.Decreasing()
	r.SSE, r.DF, r.ResidualSD = f.sse, f.df, s
	r.Iterations, r.Convergence = f.iterations, f.status.String()
	freeSD := s
	if free.df > 0 {
		freeSD = math.Sqrt(free.rss / float64(free.df))
	}
	for k, x := range free.cells {
		rate := Rate{Condition: x.condition, Batch: -1, Celsius: in.Conditions[x.condition].Celsius,
			PerMonth: free.rates[k], SE: freeSD * math.Sqrt(free.variance[k])}
		if in.ByBatch {
			rate.Batch = free.batches[x.group]
		}
		r.Rates = append(r.Rates, rate)
	}
	if f.ea < 0 {
		r.warn(in.Where, "negative-activation-energy",
			"The fitted activation energy is negative: the change is slower where it is hotter. Chemical and physical ageing does not do that; look at the results of each condition before trusting any prediction.")
	}
}

// interval is the profile-likelihood interval of Ea.
func (f *fitted) interval(r *Result, in *Input) {
	t := linear.StudentQuantile(1-(1-in.Confidence)/2, f.df)
	level := f.excess + f.sse*t*t/float64(f.df)
	r.EaLow, r.EaHigh = f.region(level, r.EaSE)
	if math.IsInf(r.EaLow, -1) || math.IsInf(r.EaHigh, 1) {
		text := "The activation energy is open at one end: the data do not bound it there at this confidence."
		if math.IsInf(r.EaLow, -1) && math.IsInf(r.EaHigh, 1) {
			text = "The data do not bound the activation energy on either side: the change is too small against the scatter to say how it depends on temperature."
		}
		r.warn(in.Where, "activation-energy-open", text)
	}
}

// region is the range of Ea that holds every place where the profile is at or
// below a level; an end at which it still is there is open, ±Inf. The ends are
// looked for from outside: the sum of squares may have a valley for either sign
// of the change, and what lies between them tells nothing of the farther one.
func (f *fitted) region(level, se float64) (low, high float64) {
	if f.sse == 0 {
		return f.ea, f.ea
	}
	step := max(se, 2e-9*(1+math.Abs(f.ea)))
	points := f.cover(min(f.low, f.ea-step), max(f.high, f.ea+step), f.u[0], f.u[0])
	fit, found := slices.BinarySearch(points, f.ea)
	if !found {
		points = slices.Insert(points, fit, f.ea)
	}
	low = outermost(f.profile, points[:fit+1], level)
	if low == points[0] {
		low = math.Inf(-1)
	}
	above := points[fit:]
	slices.Reverse(above)
	high = outermost(f.profile, above, level)
	if high == above[0] {
		high = math.Inf(1)
	}
	return low, high
}
