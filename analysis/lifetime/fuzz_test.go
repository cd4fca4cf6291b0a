package lifetime

import (
	"math"
	"testing"

	"shelfspan/analysis/censored"
)

// Whatever the units, a fit ends with a status, and where it says fitted there
// is a number for every number promised; its quantiles are numbers and their
// bounds no later.
func FuzzFit(f *testing.F) {
	f.Add([]byte{0, 20, 1, 0, 10, 255, 2, 1, 15, 8, 1, 2, 12, 0, 1, 1, 30, 255, 3, 0}, true, false, 0.05, 0.95, 5.0)
	f.Add([]byte{3, 3, 1, 0, 6, 3, 1, 0, 9, 3, 1, 0}, false, true, 0.5, 0.5, 25.0)
	f.Add([]byte{0, 0, 1, 0}, false, true, 1e-300, 0.999999, -273.0)
	f.Add([]byte{0, 255, 1, 0, 1, 254, 255, 1, 200, 1, 254, 2}, true, true, 0.999, 0.9, 1e300)
	f.Fuzz(func(t *testing.T, b []byte, arrhenius, weibull bool, share, confidence, celsius float64) {
		// Four bytes a unit: when it passed, how much later it had failed, both on a
		// scale that spreads out to 10^±100, how many, and at what temperature.
		in := Input{Distribution: Lognormal, Arrhenius: arrhenius, Confidence: confidence}
		if weibull {
			in.Distribution = Weibull
		}
		time := func(v byte) float64 {
			switch {
			case v == 255:
				return inf
			case v == 254:
				return 1e100
			case v == 253:
				return 1e-100
			case v > 200:
				return math.Exp(float64(int(v) - 226))
			}
			return float64(v) / 8
		}
		for ; len(b) >= 4 && len(in.Observations) < 60; b = b[4:] {
			o := Observation{Celsius: celsius, Interval: censored.Interval{After: time(b[0]), Units: float64(b[2])}}
			if o.By = o.After + time(b[1]); math.IsInf(o.After, 1) {
				o.After, o.By = 0, time(b[1])
			}
			switch b[2] {
			case 255:
				o.Units = censored.LeastUnits
			case 254:
				o.Units = censored.MostUnits
			}
			if b[3] < 250 {
				o.Celsius = 20 + float64(b[3]%8)*5
			}
			in.Observations = append(in.Observations, o)
		}
		r := Fit(in)
		if r.Status != Fitted {
			if r.Reason == "" || len(r.Warnings) != 1 || r.Scale != 0 || r.Covariance != nil {
				t.Fatalf("%+v", r)
			}
			return
		}
		for i, v := range append([]float64{r.Location, r.LocationSE, r.Scale, r.LogScaleSE, r.EaKJ, r.EaSE, r.Reference,
			r.LogLikelihood, r.AIC, r.Decrement, r.Units, r.Failed}, r.Covariance...) {
			if !isFinite(v) {
				t.Fatalf("number %d is %v: %+v", i, v, r)
			}
		}
		if math.IsNaN(r.AICc) || !(r.EaLow <= r.EaKJ && r.EaKJ <= r.EaHigh) || !(r.Scale > 0) {
			t.Fatalf("%+v", r)
		}
		q, err := r.Quantile(share, celsius, confidence)
		if err != nil {
			return
		}
		for _, v := range []float64{q.Estimate, q.LogSE, q.Wald, q.Profile, q.Calibrated} {
			if math.IsNaN(v) || v < 0 {
				t.Fatalf("%+v", q)
			}
		}
		if !(q.Wald <= q.Estimate && q.Calibrated <= q.Profile && q.Profile <= q.Estimate*(1+1e-9)) || q.Open != (q.Calibrated == 0) {
			t.Fatalf("%+v of %+v", q, r)
		}
	})
}
