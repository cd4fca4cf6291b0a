package simulate

import (
	"math"
	"testing"

	"shelfspan/study"
)

func path(t *testing.T, attribute string) *Path {
	t.Helper()
	truth := Balm()
	for i := range truth {
		if truth[i].Attribute == attribute {
			return &truth[i]
		}
	}
	t.Fatalf("the balm has no %s", attribute)
	return nil
}

func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > relative*math.Abs(want) {
		t.Errorf("%s = %.8g, want %.8g", what, got, want)
	}
}

// The expected numbers are hand arithmetic, shown beside each.
func TestRateByHand(t *testing.T) {
	room := Climate{Celsius: 25, Humidity: 60}
	hot := Climate{Celsius: 40, Humidity: 75}
	oven := Climate{Celsius: 45, Humidity: math.NaN()}
	v, w := path(t, "viscosity"), path(t, "weight-loss")

	// −0.0035 · 1.1 · 6.2
	near(t, "inverted can, B3, 25 °C", v.RateAt(2, "can", study.Inverted, room), -0.02387, 1e-12)
	// 72000/8.314462618 = 8659.610; 1/298.15 − 1/313.15 = 15/(298.15·313.15) = 15/93365.6725 = 1.6065862e-4;
	// exp(8659.610 · 1.6065862e-4) = exp(1.3912410) = 4.019835
	near(t, "the same at 40 °C over 25 °C", v.RateAt(2, "can", study.Inverted, hot)/-0.02387, 4.019835, 1e-6)
	// 1/298.15 − 1/318.15 = 20/(298.15·318.15) = 20/94856.4225 = 2.1084497e-4; exp(8659.610 · 2.1084497e-4)
	// = exp(1.8258353) = 6.207978; softened: · 2.2
	near(t, "the same at 45 °C over 25 °C", v.RateAt(2, "can", study.Inverted, oven)/-0.02387, 6.207978*2.2, 1e-6)
	// 45000/8.314462618 = 5412.256; exp(5412.256 · 1.6065862e-4) = exp(0.8695256) = 2.385779; · (100−75)/40
	near(t, "tube's loss at 40/75 over 25/60", w.RateAt(0, "tube", study.Upright, hot)/0.168, 2.385779*0.625, 1e-6)
	// a pack without a factor of its own is the reference
	near(t, "tube's viscosity", v.RateAt(1, "tube", study.Upright, room), -0.0035, 1e-12)
}

func TestLifeByHand(t *testing.T) {
	room := Climate{Celsius: 25, Humidity: 60}
	none := math.Inf(1)
	for _, c := range []struct {
		attribute, pack string
		o               study.Orientation
		lower, upper    float64
		months          float64
		batch           int
	}{
		// ln(30000/18000)/0.02387 = 0.51082562/0.02387
		{"viscosity", "can", study.Inverted, 18000, 42000, 21.40032, 2},
		// 0.51082562/(0.0035·1.1·3.9) = 0.51082562/0.015015
		{"viscosity", "can", study.Upright, 18000, 42000, 34.02102, 2},
		// ln(100.2/90)/(0.0009·1.9) = ln(1.11333333)/0.00171 = 0.10735858/0.00171
		{"assay", "tube", study.Upright, 90, none, 62.78280, 1},
		// 5/(0.004·42)
		{"weight-loss", "tube", study.Upright, -none, 5, 29.76190, 0},
		// (5.58 − 5.0)/0.004
		{"pH", "jar", study.Upright, 5, 6.2, 145, 1},
		// a falling attribute never meets an upper limit
		{"assay", "jar", study.Upright, -none, 110, none, -1},
		// B2 starts at 100.2, below the limit
		{"assay", "jar", study.Upright, 100.5, none, 0, 1},
	} {
		months, batch := path(t, c.attribute).Life(c.pack, c.o, room, c.lower, c.upper)
		if math.IsInf(c.months, 1) {
			if !math.IsInf(months, 1) {
				t.Errorf("%s %s: %g months, want never", c.attribute, c.pack, months)
			}
		} else if math.Abs(months-c.months) > 1e-5*math.Max(1, c.months) {
			t.Errorf("%s %s %s: %.6f months, want %.5f", c.attribute, c.pack, c.o, months, c.months)
		}
		if batch != c.batch {
			t.Errorf("%s %s %s: batch %d, want %d", c.attribute, c.pack, c.o, batch, c.batch)
		}
	}
}

// At the time Life gives, the mean stands on the limit.
func TestMeanMeetsTheLimitAtLife(t *testing.T) {
	c := Climate{Celsius: 31, Humidity: 50}
	for _, a := range []struct {
		attribute    string
		lower, upper float64
	}{{"viscosity", 18000, 42000}, {"assay", 90, math.Inf(1)}, {"pH", 5, 6.2}, {"weight-loss", math.Inf(-1), 5}} {
		p := path(t, a.attribute)
		months, b := p.Life("can", study.Inverted, c, a.lower, a.upper)
		limit := a.lower
		if math.IsInf(limit, -1) {
			limit = a.upper
		}
		near(t, a.attribute+" at its life", p.Mean(b, "can", study.Inverted, c, months), limit, 1e-12)
	}
}
