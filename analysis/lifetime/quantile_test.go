package lifetime

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestQuantileRefuses(t *testing.T) {
	type of = [3]float64
	plain := Fit(Input{Observations: at(25, of{3, 6, 5}, of{6, 9, 5}, of{9, 12, 5}), Distribution: Weibull, Confidence: 0.95})
	warm := Fit(Input{Observations: slices.Concat(at(25, of{3, 6, 2}, of{6, 9, 5}, of{9, inf, 5}), at(40, of{0, 3, 2}, of{3, 6, 5}, of{6, 9, 2})),
		Distribution: Weibull, Arrhenius: true, Confidence: 0.95})
	nan := math.NaN()
	for _, c := range []struct {
		r                          *Result
		share, celsius, confidence float64
		want                       error
	}{
		{plain, 0.05, nan, 0.95, nil}, // no term for temperature
		{plain, 0, 25, 0.95, ErrShare}, {plain, 1, 25, 0.95, ErrShare}, {plain, nan, 25, 0.95, ErrShare},
		{plain, 0.05, 25, 0.49, ErrConfidence}, {plain, 0.05, 25, 1, ErrConfidence}, {plain, 0.05, 25, nan, ErrConfidence},
		{warm, 0.05, 25, 0.95, nil}, {warm, 0.05, nan, 0.95, ErrTemperature}, {warm, 0.05, -300, 0.95, ErrTemperature}, {warm, 0.05, inf, 0.95, ErrTemperature},
	} {
		if _, err := c.r.Quantile(c.share, c.celsius, c.confidence); !errors.Is(err, c.want) {
			t.Errorf("%v at %v °C and %v: %v, want %v", c.share, c.celsius, c.confidence, err, c.want)
		}
	}
}

// At a confidence of one half all bounds are the estimate; they come down as it
// goes up.
func TestBoundsFollowTheConfidence(t *testing.T) {
	r := Fit(Input{Observations: referenceUnits(t)["opened4"], Distribution: Lognormal, Arrhenius: true, Confidence: 0.95})
	half, err := r.Quantile(0.05, 25, 0.5)
	if err != nil || half.Wald != half.Estimate || math.Abs(half.Profile/half.Estimate-1) > 1e-12 || half.Calibrated != half.Profile {
		t.Errorf("%+v, %v", half, err)
	}
	last := half
	for _, confidence := range []float64{0.6, 0.8, 0.9, 0.95, 0.99, 0.999} {
		q, err := r.Quantile(0.05, 25, confidence)
		if err != nil || !(q.Wald < last.Wald) || !(q.Profile < last.Profile) || !(q.Calibrated < last.Calibrated) {
			t.Errorf("at %v: %+v, %v, after %+v", confidence, q, err, last)
		}
		last = q
	}
}

// What qualifies an answer travels with it.
func TestWarnings(t *testing.T) {
	type of = [3]float64
	rising := at(25, of{0, 3, 4}, of{3, inf, 6}, of{0, 12, 6}, of{12, inf, 4})
	two := slices.Concat(at(25, of{12, inf, 9}, of{9, 12, 1}), at(40, of{3, 6, 2}, of{6, 9, 2}, of{9, 12, 2}))
	backwards := slices.Concat(at(40, of{12, inf, 4}, of{9, 12, 2}, of{6, 9, 2}), at(25, of{3, 6, 2}, of{6, 9, 2}, of{9, 12, 2}))
	for _, c := range []struct {
		name      string
		units     []Observation
		arrhenius bool
		share     float64
		celsius   float64
		want      []string // of the fit and of the quantile
	}{
		// 4 of 10 and 6 of 10: no trend at all, half of 20 failed, is as likely but
		// for a factor e^−0.4, so that nothing bounds the spread.
		{"hardly a trend", rising, false, 0.05, 25, []string{"lifetime-open"}},
		{"few", at(25, of{3, 6, 1}, of{6, 9, 1}, of{9, inf, 5}, of{12, 15, 1}), false, 0.2, 25, []string{"few-failures"}},
		{"a share not seen", at(25, of{3, 6, 5}, of{6, 9, 5}, of{9, 12, 5}), false, 0.01, 25, []string{"distribution-tail"}},
		{"pooled", two, false, 0.2, 25, []string{"temperatures-pooled"}},
		{"two temperatures, colder", two, true, 0.2, 5, []string{"two-temperatures", "temperature-extrapolated"}},
		{"shorter where colder", backwards, true, 0.2, 30, []string{"two-temperatures", "negative-activation-energy"}},
	} {
		r := Fit(Input{Observations: c.units, Distribution: Lognormal, Arrhenius: c.arrhenius, Confidence: 0.95})
		if r.Status != Fitted {
			t.Errorf("%s: %s", c.name, r.Reason)
			continue
		}
		q, err := r.Quantile(c.share, c.celsius, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, w := range slices.Concat(r.Warnings, q.Warnings) {
			got = append(got, w.Code)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v; %+v", c.name, got, c.want, q)
		}
	}
}

// The unit of time, the order of the units and whether they are counted one by
// one do not matter.
func TestInvariance(t *testing.T) {
	units := referenceUnits(t)["mixed3"]
	in := Input{Observations: units, Distribution: Weibull, Arrhenius: true, Confidence: 0.95}
	r := Fit(in)
	want, err := r.Quantile(0.05, 25, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	const days = 30.4375
	var other []Observation
	for _, o := range units {
		one := o
		one.Units, one.After, one.By = 1, o.After*days, o.By*days
		for range int(o.Units) {
			other = append(other, one)
		}
	}
	random := rand.New(rand.NewPCG(7, 7))
	random.Shuffle(len(other), func(i, j int) { other[i], other[j] = other[j], other[i] })
	in.Observations = other
	s := Fit(in)
	got, err := s.Quantile(0.05, 25, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for name, v := range map[string][2]float64{"estimate": {got.Estimate, want.Estimate * days}, "Wald": {got.Wald, want.Wald * days}, "profile": {got.Profile, want.Profile * days}, "calibrated": {got.Calibrated, want.Calibrated * days},
		"Ea": {s.EaKJ, r.EaKJ}, "its error": {s.EaSE, r.EaSE}, "its end": {s.EaLow, r.EaLow}, "scale": {s.Scale, r.Scale}, "location": {s.Location, r.Location + math.Log(days)}} {
		if math.Abs(v[0]/v[1]-1) > 1e-8 {
			t.Errorf("%s %.12g, want %.12g", name, v[0], v[1])
		}
	}
}

// The turbine wheels are likelier as Weibull: log-likelihoods −189.287 and
// −190.732 (TestReference), two parameters each, so that lognormal is behind by 2·1.4444.
func TestCompare(t *testing.T) {
	in := Input{Observations: referenceUnits(t)["turbine"], Confidence: 0.95}
	got := Compare(in, Lognormal, Weibull)
	if len(got) != 2 || got[0].Distribution != Weibull || got[0].Behind != 0 || math.Abs(got[1].Behind-2*(190.731549491-189.2871934)) > 1e-7 {
		t.Errorf("%+v", got)
	}
	in.Observations = in.Observations[:1] // one look
	for _, c := range Compare(in, Lognormal, Weibull) {
		if c.Status == Fitted || !math.IsInf(c.Behind, 1) {
			t.Errorf("%+v", c)
		}
	}
}

// By the time at which a share has failed that share has failed, at any
// temperature; where nothing was fitted nothing is told.
func TestFailedByInvertsTheQuantile(t *testing.T) {
	for _, d := range []Distribution{Lognormal, Weibull} {
		for name, arrhenius := range map[string]bool{"opened": false, "opened4": true} {
			r := Fit(Input{Observations: referenceUnits(t)[name], Distribution: d, Arrhenius: arrhenius, Confidence: 0.95})
			for _, celsius := range []float64{25, 5} {
				for _, share := range []float64{1e-6, 0.05, 0.5, 0.999} {
					q, err := r.Quantile(share, celsius, 0.95)
					if got := r.FailedBy(q.Estimate, celsius); err != nil || math.Abs(got/share-1) > 1e-9 {
						t.Errorf("%s, %s at %v °C: %v by the time of %v, %v", name, d, celsius, got, share, err)
					}
				}
			}
			if got := r.FailedBy(0, 25); !math.IsNaN(got) {
				t.Errorf("%v by time 0", got)
			}
		}
	}
	if got := (&Result{}).FailedBy(1, 25); !math.IsNaN(got) {
		t.Errorf("%v without a fit", got)
	}
}
