package lifetime

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Fit fits the distribution by maximum likelihood: a unit known to fail between
// two looks counts by the probability of failing between them, one that passed
// at its last look by that of failing later (W. Nelson, Accelerated Testing,
// 1990; W. Q. Meeker & L. A. Escobar, Statistical Methods for Reliability Data,
// 1998). Standard errors are from the observed information. The interval of Ea
// is where twice the log-likelihood, the rest at its best, is within χ²'s quantile
// on one degree of freedom of its greatest.
//
// Where the likelihood has no greatest value nothing is fitted, and Status says
// why; that is found from the data before anything is iterated, but for NoTrend,
// which is a greatest value at σ = ∞. The order of the observations does not
// matter but for rounding.
func Fit(in Input) *Result {
	r := &Result{Distribution: in.Distribution}
	f, status, reason := arrange(&in, r)
	if status != Fitted {
		return r.refuse(in.Where, status, reason)
	}
	if status, reason := f.nonexistent(); status != Fitted {
		return r.refuse(in.Where, status, reason)
	}
	columns := [][]float64{ones(len(f.x))}
	if in.Arrhenius {
		columns = append(columns, f.x)
	}
	f.ascend(columns, 1)
	r.Iterations, r.Decrement = f.steps, f.top.decrement
	if status, reason := f.trouble(); status != Fitted {
		return r.refuse(in.Where, status, reason)
	}
	r.tell(f)
	if !r.finite() {
		return (&Result{Distribution: in.Distribution, Units: r.Units, Failed: r.Failed, Unknown: r.Unknown, Temperatures: r.Temperatures}).
			refuse(in.Where, NotConverged, "the estimate is beyond the numbers that can be reckoned with")
	}
	r.Status, r.fit = Fitted, f
	r.interval(in.Confidence)
	r.qualify(in.Where)
	return r
}

// ascend finds the top of the likelihood over the columns' coefficients and φ; the first
// of them are locations, the rest slopes.
func (f *fitted) ascend(columns [][]float64, locations int) {
	f.line = make([]float64, len(columns))
	for j := range locations {
		f.line[j] = f.centre
	}
	p := &problem{sample: f.sample, columns: columns, origin: make([]float64, len(f.x))}
	start := make([]float64, p.parameters())
	phi := len(start) - 1
	start[phi] = 1 / f.spread
	for round := range rounds {
		f.top = newClimber(p).climb(start)
		f.steps += f.top.steps
		if sound := f.top.converged && !f.top.flat; sound && round > 0 || f.top.at[phi] == 0 || !p.recentre(f.top.at) {
			break
		}
		clear(start)
		start[phi] = f.top.at[phi]
	}
}

// trouble tells why the top that was found is none.
func (f *fitted) trouble() (Status, string) {
	n := len(f.top.at)
	phi := n - 1
	switch {
	case !f.top.converged:
		return NotConverged, fmt.Sprintf("the likelihood was not at its top after %d steps", f.steps)
	case f.top.at[phi] == 0 || f.top.inverse != nil && f.top.at[phi] <= 10*enough*math.Sqrt(f.top.inverse[phi*n+phi]):
		// Not above zero by more than a climb can tell.
		return NoTrend, "units that were looked at later had not failed more often, so that the lifetimes have no finite spread"
	case f.top.flat:
		return Flat, "the data do not tell the parameters apart"
	}
	return Fitted, ""
}

// rounds is how often the data are centred at the fit, at most; once is enough
// but for spreads a millionth of the times.
const rounds = 6

func ones(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = 1
	}
	return v
}

// tell fills in the estimates: with γ and φ, λ and Ea are the line's less γ/φ, Ea on
// the scale of x, ln σ = −ln φ.
func (r *Result) tell(f *fitted) {
	at, inverse := f.top.at, f.top.inverse
	n := len(at)
	phi := at[n-1]
	unit := []float64{1, 1 / f.span, 1}
	if n == 2 {
		unit = []float64{1, 1}
	}
	// The Jacobian of the estimates by γ and φ.
	j := make([]float64, n*n)
	for k := range n {
		if k < n-1 {
			j[k*n+k] = -unit[k] / phi
			j[k*n+n-1] = unit[k] * at[k] / (phi * phi)
		} else {
			j[k*n+k] = -1 / phi
		}
	}
	r.Covariance = make([]float64, n*n)
	for a := range n {
		for b := range n {
			for c := range n {
				for d := range n {
					r.Covariance[a*n+b] += j[a*n+c] * inverse[c*n+d] * j[b*n+d]
				}
			}
		}
	}
	r.Location, r.LocationSE = f.line[0]-at[0]/phi, math.Sqrt(r.Covariance[0])
	r.Scale, r.LogScaleSE = 1/phi, math.Sqrt(r.Covariance[n*n-1])
	if f.arrhenius {
		r.EaKJ, r.EaSE = (f.line[1]-at[1]/phi)/f.span, math.Sqrt(r.Covariance[n+1])
		r.Reference = 1/f.invRef - zeroCelsius
	}
	r.LogLikelihood, r.Parameters = f.top.height-f.logTimes, n
	k := float64(n)
	r.AIC = -2*r.LogLikelihood + 2*k
	r.AICc = math.Inf(1)
	if left := r.Units - k - 1; left > 0 {
		r.AICc = r.AIC + 2*k*(k+1)/left
	}
}

// finite reports whether every estimate is a finite number.
func (r *Result) finite() bool {
	for _, v := range append([]float64{r.Location, r.Scale, r.EaKJ, r.LogLikelihood, r.LocationSE, r.LogScaleSE, r.EaSE}, r.Covariance...) {
		if !isFinite(v) {
			return false
		}
	}
	return true
}

// interval is the profile-likelihood interval of Ea. With Ea held, here less the
// line's, the likelihood is that of one location, of the log times less Ea·x.
func (r *Result) interval(confidence float64) {
	f := r.fit
	if !f.arrhenius {
		return
	}
	z := mathext.NormalQuantile(1 - (1-confidence)/2)
	phi := f.top.at[2]
	p := &problem{sample: f.sample, columns: [][]float64{ones(len(f.x))}, origin: make([]float64, len(f.x))}
	estimate, se := -f.top.at[1]/phi, r.EaSE*f.span
	const farthest = 1e4 // an exponent, against the range of x, which is no wider than 2
	end := func(side float64) float64 {
		pr := f.profile(p, []float64{f.top.at[0], phi}, func(ea float64) {
			for i, x := range f.x {
				p.origin[i] = ea * x
			}
		})
		at, open, sound := pr.end(estimate, side*se, z, farthest)
		if !sound {
			r.warn(f.where, "profile-not-converged", "The interval of the activation energy could not be reckoned at one end, which is left open.")
		}
		if open || !sound {
			return math.Inf(int(side))
		}
		return (f.line[1] + at) / f.span
	}
	r.EaLow, r.EaHigh = end(-1), end(1)
}

// few is how many failures an estimate of a distribution should at least rest
// on; common practice, no source.
const few = 5

// qualify adds what qualifies the fit.
func (r *Result) qualify(where string) {
	f := r.fit
	if r.Failed < few {
		r.warn(where, "few-failures", fmt.Sprintf("The distribution of lifetimes rests on %s known to have failed. Its errors, Wald's bound and the interval of an activation energy are those of large samples and hold only roughly; the bound that governs allows for so few.", count(r.Failed)))
	}
	if !f.arrhenius {
		if r.Temperatures > 1 {
			r.warn(where, "temperatures-pooled", fmt.Sprintf("Units of %d temperatures are fitted as one, without a term for temperature.", r.Temperatures))
		}
		return
	}
	if r.Temperatures == 2 {
		r.warn(where, "two-temperatures", "The lifetimes are from two temperatures: that they follow one activation energy is not tested.")
	}
	if r.EaKJ < 0 {
		r.warn(where, "negative-activation-energy", "The fitted activation energy is negative: lifetimes are shorter where it is colder. Look at the units of each temperature before trusting any prediction.")
	}
	if math.IsInf(r.EaLow, -1) || math.IsInf(r.EaHigh, 1) {
		r.warn(where, "activation-energy-open", "The data do not bound the activation energy on either side or on one of them at this confidence.")
	}
}
