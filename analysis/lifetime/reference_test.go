package lifetime

import (
	"math"
	"strings"
	"testing"

	"shelfspan/analysis/censored"
	"shelfspan/testdata/reference"
)

var inf = math.Inf(1)

// referenceUnits reads the units of every case of testdata/reference/lifetime.
func referenceUnits(t testing.TB) map[string][]Observation {
	t.Helper()
	units := map[string][]Observation{}
	for _, r := range reference.Rows(t, "lifetime/units.csv") {
		units[r[0]] = append(units[r[0]], Observation{Celsius: reference.Number(t, r[1]),
			Interval: censored.Interval{After: reference.Number(t, r[2]), By: reference.Number(t, r[3]), Units: reference.Number(t, r[4])}})
	}
	return units
}

// Estimates, errors, likelihoods, quantiles and bounds against survreg of the
// package survival 3.5-3 and profiles made in R 4.2.2 by nlminb and uniroot;
// script, units and output stand in testdata/reference/lifetime. Turbine wheels:
// Nelson, Applied Life Data Analysis, 1982; motor insulation: Nelson & Hahn 1972;
// degradation: NIST/SEMATECH e-Handbook 8.4.2.3.
func TestReference(t *testing.T) {
	units := referenceUnits(t)
	fits := map[string]*Result{}
	worst, worstProfile := 0.0, 0.0
	for _, row := range reference.Rows(t, "lifetime/lifetime.csv") {
		name, distribution, quantity, want := row[0], Distribution(row[1]), row[2], reference.Number(t, row[3])
		r := fits[name+row[1]]
		if r == nil {
			r = Fit(Input{Observations: units[name], Distribution: distribution, Confidence: 0.95,
				Arrhenius: name != "turbine" && name != "opened" && name != "returned" && name != "watched"})
			if r.Status != Fitted {
				t.Fatalf("%s %s: %s, %s", name, distribution, r.Status, r.Reason)
			}
			t.Logf("%s %s: %d steps, the last of %.1e standard errors", name, distribution, r.Iterations, r.Decrement)
			fits[name+row[1]] = r
		}
		n := r.Parameters
		got := map[string]float64{"location": r.Location, "location_se": r.LocationSE, "scale": r.Scale, "logscale_se": r.LogScaleSE,
			"cov_location_logscale": r.Covariance[n-1], "ea": r.EaKJ, "ea_se": r.EaSE, "cov_location_ea": r.Covariance[1], "cov_ea_logscale": r.Covariance[2*n-1],
			"loglik": r.LogLikelihood, "aic": r.AIC, "ea_low": r.EaLow, "ea_high": r.EaHigh}
		// at25_0.05_wald
		if place, found := strings.CutPrefix(quantity, "at"); found {
			part := strings.Split(place, "_")
			celsius := 25.0
			if part[0] != "" {
				celsius = reference.Number(t, part[0])
			}
			q, err := r.Quantile(reference.Number(t, part[1]), celsius, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			got[quantity] = map[string]float64{"estimate": q.Estimate, "se": q.LogSE, "wald": q.Wald, "profile": q.Profile, "calibrated": q.Calibrated}[part[2]]
		}
		value, ok := got[quantity]
		if !ok {
			t.Fatalf("no %s", quantity)
		}
		off := math.Abs(value/want - 1)
		if strings.HasPrefix(quantity, "cov_") { // which may be zero
			of := map[string][2]float64{"cov_location_logscale": {r.LocationSE, r.LogScaleSE},
				"cov_location_ea": {r.LocationSE, r.EaSE}, "cov_ea_logscale": {r.EaSE, r.LogScaleSE}}[quantity]
			off = math.Abs(value-want) / (of[0] * of[1])
		}
		if strings.HasSuffix(quantity, "profile") || strings.HasSuffix(quantity, "calibrated") || quantity == "ea_low" || quantity == "ea_high" {
			worstProfile = max(worstProfile, off)
		} else {
			worst = max(worst, off)
		}
		if !(off <= 5e-9) {
			t.Errorf("%s %s %s = %.10g, R has %.10g", name, distribution, quantity, value, want)
		}
	}
	t.Logf("largest relative difference %.1e, of profiles %.1e", worst, worstProfile)
}

// The lognormal with Arrhenius term of the handbook's units, time to 30 %: 0.8211
// eV, standard error 0.0954, with 0 °C taken as 273.16 K and 1/k as 11605 K/eV
// (estimate by survreg of R's survival 3.5; data NIST/SEMATECH e-Handbook
// 8.4.2.3, figures from memory). One hundredth of a degree makes 273.16 of 273.15.
func TestHandbookActivationEnergy(t *testing.T) {
	observations := referenceUnits(t)["degradation"]
	for i := range observations {
		observations[i].Celsius += 0.01
	}
	r := Fit(Input{Observations: observations, Distribution: Lognormal, Arrhenius: true, Confidence: 0.95})
	const perElectronvolt = gasConstant * 11605 / 1000 // kJ/mol
	if r.Status != Fitted || math.Abs(r.EaKJ/perElectronvolt-0.8211) > 5e-5 || math.Abs(r.EaSE/perElectronvolt-0.0954) > 5e-5 {
		t.Errorf("%s: %.5f eV, se %.5f; want 0.8211, 0.0954", r.Status, r.EaKJ/perElectronvolt, r.EaSE/perElectronvolt)
	}
}

// Lifetimes all known exactly, lognormal: the mean and the standard deviation of the logarithms, by
// n, and their errors σ/√n and 1/√(2n). ln t = 1, 2, 3, 6: mean 3, σ² = (4 + 1 + 0 + 9)/4 = 3.5.
func TestExactLognormalByHand(t *testing.T) {
	var o []Observation
	for _, l := range []float64{1, 2, 3, 6} {
		o = append(o, Observation{Interval: censored.Interval{After: math.Exp(l), By: math.Exp(l), Units: 1}, Celsius: 25})
	}
	r := Fit(Input{Observations: o, Distribution: Lognormal, Confidence: 0.95})
	sd := math.Sqrt(3.5)
	for name, v := range map[string][2]float64{
		"location": {r.Location, 3}, "its error": {r.LocationSE, sd / 2}, "scale": {r.Scale, sd}, "its error in ln": {r.LogScaleSE, 1 / math.Sqrt(8)},
		// −n ln σ − n/2·ln 2π − n/2 − Σ ln t
		"log-likelihood": {r.LogLikelihood, -4*math.Log(sd) - 2*math.Log(2*math.Pi) - 2 - 12},
	} {
		if math.Abs(v[0]-v[1]) > 1e-12*math.Abs(v[1]) {
			t.Errorf("%s %.15g, want %.15g", name, v[0], v[1])
		}
	}
	// AICc: k = 2, n = 4: AIC + 2·2·3/(4 − 2 − 1).
	if want := -2*r.LogLikelihood + 4 + 12; r.AICc != want {
		t.Errorf("AICc %v, want %v", r.AICc, want)
	}
}
