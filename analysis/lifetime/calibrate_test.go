package lifetime

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mathext"
	"pgregory.net/rapid"

	"shelfspan/analysis/censored"
	"shelfspan/analysis/noncentral"
	"shelfspan/testdata/reference"
)

// The cut against √(m·ln(1 + t²/ν)) with R's qt (4.2.2; calibrated.R in
// testdata/reference/lifetime), on either side of where the series takes over.
func TestCutAgainstR(t *testing.T) {
	worst := 0.0
	for _, row := range reference.Rows(t, "lifetime/cuts.csv") {
		m, nu, confidence, want := reference.Number(t, row[0]), reference.Number(t, row[1]), reference.Number(t, row[2]), reference.Number(t, row[3])
		got := studentCut(m, nu, confidence)
		worst = max(worst, math.Abs(got-want))
		if !(math.Abs(got-want) <= 1e-8) {
			t.Errorf("m = %v, ν = %v at %v: %.10g, R has %.10g", m, nu, confidence, got, want)
		}
	}
	t.Logf("largest difference %.1e", worst)
}

// With ever more units it is the normal quantile, so that the calibrated bound
// becomes the profile's: but for z/(4ν) and the p parameters, z·p/(2ν). Without any
// it is that of one degree of freedom, t = tan 81° at 95 %.
func TestCutEnds(t *testing.T) {
	for _, confidence := range []float64{0.5, 0.6, 0.9, 0.95, 0.99, 0.9999} {
		z := mathext.NormalQuantile(confidence)
		for _, told := range []float64{1e4, 1e6, 1e9, 1e15, censored.MostUnits} {
			if got, want := calibratedCut(told, 3, confidence), z*(1+(0.25+1.5)/told); math.Abs(got-want) > 1e-7*z+1e-15 {
				t.Errorf("%v units at %v: %.12g, want %.12g", told, confidence, got, want)
			}
		}
	}
	tangent := math.Tan(0.45 * math.Pi)
	want := math.Sqrt(math.Log(1 + tangent*tangent))
	for _, told := range []float64{0, 0.5, 1} {
		if got := calibratedCut(told, 2, 0.95); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v units: %.12g, want %.12g", told, got, want)
		}
	}
}

// Of lives that are all known exactly and lognormal the bound of the median is in
// closed form, mean − t·√((n − 1)/(n − 2))·s/√n on the log scale, t on n − 2 degrees of
// freedom: below Student's, to which the profile comes at the cut of n − 1. The
// samples and numbers are R's (complete.csv, by calibrated.R).
func TestCompleteSampleAgainstR(t *testing.T) {
	for _, row := range reference.Rows(t, "lifetime/complete.csv") {
		n, mean, sd := reference.Number(t, row[0]), reference.Number(t, row[1]), reference.Number(t, row[2])
		r := completeSample(t, n)
		q, err := r.Quantile(0.5, 0, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		// The mean and the spread the samples share, else the rest compares two things.
		if math.Abs(r.Location-mean) > 1e-9 || math.Abs(r.Scale-sd*math.Sqrt((n-1)/n)) > 1e-9 {
			t.Errorf("%v units: location %v, scale %v, R has mean %v, standard deviation %v", n, r.Location, r.Scale, mean, sd)
		}
		student, calibrated := reference.Number(t, row[3]), reference.Number(t, row[4])
		if math.Abs(q.Calibrated/calibrated-1) > 1e-7 || !(q.Calibrated < student) || !(student < q.Profile) {
			t.Errorf("%v units: calibrated %.10g, profile %.10g; R has %.10g, by Student %.10g", n, q.Calibrated, q.Profile, calibrated, student)
		}
		r.fit.bound(&q, math.Log(q.Estimate)-r.fit.line[0], 0, 0, mathext.NormalQuantile(0.95), studentCut(n, n-1, 0.95))
		if math.Abs(q.Calibrated/student-1) > 1e-7 {
			t.Errorf("%v units: at Student's cut %.10g, want %.10g", n, q.Calibrated, student)
		}
	}
}

// completeSample is n lognormal lives that are known exactly, whose logs are normal
// scores, and the fit to them; the bounds are equivariant, so that one sample tells all.
func completeSample(t *testing.T, n float64) *Result {
	t.Helper()
	var units []Observation
	for i := range int(n) {
		life := math.Exp(2 + 0.5*mathext.NormalQuantile((float64(i)+0.5)/n))
		units = append(units, Observation{Interval: censored.Interval{After: life, By: life, Units: 1}})
	}
	r := Fit(Input{Observations: units, Distribution: Lognormal, Confidence: 0.95})
	if r.Status != Fitted {
		t.Fatal(r.Reason)
	}
	return r
}

// Of such samples the coverage of the 5 % quantile is exact: a bound k standard
// deviations below the mean covers if the noncentral t distribution on n − 1 degrees
// of freedom is no more than k·√n. Quantile's doc comment and DEVELOPERS.md have
// these numbers; R's are from its own pt and profiles.
func TestCompleteSampleCoverage(t *testing.T) {
	for _, row := range reference.Rows(t, "lifetime/complete.csv") {
		n := reference.Number(t, row[0])
		r := completeSample(t, n)
		q, err := r.Quantile(0.05, 0, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		covers := func(bound float64) float64 {
			k := (r.Location - math.Log(bound)) / (r.Scale * math.Sqrt(n/(n-1)))
			return noncentral.NewT(n-1, -mathext.NormalQuantile(0.05)*math.Sqrt(n)).CDF(k * math.Sqrt(n))
		}
		profile, calibrated := covers(q.Profile), covers(q.Calibrated)
		r.fit.bound(&q, math.Log(q.Estimate)-r.fit.line[0], mathext.NormalQuantile(0.05), 0, mathext.NormalQuantile(0.95), studentCut(n, n-1, 0.95))
		for i, got := range []float64{profile, calibrated, covers(q.Calibrated)} {
			if want := reference.Number(t, row[5+i]); math.Abs(got-want) > 1e-6 {
				t.Errorf("%v units, column %d: covers %.8f, R has %.8f", n, 6+i, got, want)
			}
		}
		if !(calibrated > 0.936 && calibrated > profile) {
			t.Errorf("%v units: the calibrated bound covers %.4f, the profile's %.4f", n, calibrated, profile)
		}
	}
}

// Whatever the units: the calibrated bound is never above the profile's, and open
// where the profile is.
func TestCalibratedIsNoBolder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hot := rapid.Bool().Draw(t, "several temperatures")
		in := Input{Distribution: rapid.SampledFrom([]Distribution{Lognormal, Weibull}).Draw(t, "distribution"), Arrhenius: hot, Confidence: 0.95}
		for range rapid.IntRange(2, 30).Draw(t, "units") {
			o := Observation{Celsius: 25, Interval: censored.Interval{Units: float64(rapid.IntRange(1, 3).Draw(t, "alike"))}}
			o.After = float64(rapid.IntRange(0, 12).Draw(t, "after"))
			o.By = o.After + float64(rapid.IntRange(0, 6).Draw(t, "longer"))
			if o.By == 0 || rapid.Bool().Draw(t, "passed") {
				o.By = inf
			}
			if hot {
				o.Celsius = rapid.SampledFrom([]float64{25, 30, 40}).Draw(t, "celsius")
			}
			in.Observations = append(in.Observations, o)
		}
		share := rapid.Float64Range(0.001, 0.999).Draw(t, "share")
		confidence := rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")
		q, err := Fit(in).Quantile(share, 25, confidence)
		if err != nil {
			return
		}
		if !(q.Calibrated <= q.Profile) || q.Open != (q.Calibrated == 0) {
			t.Fatalf("%+v", q)
		}
	})
}
