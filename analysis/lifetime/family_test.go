package lifetime

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/censored"
)

// Logarithms of the normal tail from R 4.2.2: pnorm(z, lower.tail = FALSE, log.p = TRUE).
func TestUpperTail(t *testing.T) {
	for _, c := range []struct{ z, want float64 }{
		{-40, 0}, {-10, -7.61985302416052e-24}, {-3, -0.00135080996474819}, {-1, -0.172753779023449},
		{0, -0.693147180559945}, {1, -1.84102164500926}, {5, -15.0649983939887}, {10, -53.2312851505125},
		{25.9, -339.579666721692}, {26.1, -344.787336474861}, {40, -804.608442013754}, {1000, -500007.826694812},
	} {
		if l, _, _ := upperTail(c.z); math.Abs(l-c.want) > 1e-14*math.Abs(c.want) {
			t.Errorf("at %v: %.15g, R has %.15g", c.z, l, c.want)
		}
	}
}

// logIntegral is the logarithm of the integral of exp(f) over a width about a
// middle, by Simpson's rule.
func logIntegral(f func(float64) float64, m, w float64) float64 {
	const n = 20000
	at := func(k int) float64 { return f(m + w*(float64(k)/n-0.5)) }
	top := math.Inf(-1)
	for k := 0; k <= n; k++ {
		top = max(top, at(k))
	}
	sum := 0.0
	for k := 0; k <= n; k++ {
		weight := 2 + 2*float64(k%2)
		if k == 0 || k == n {
			weight = 1
		}
		sum += weight * math.Exp(at(k)-top)
	}
	return top + math.Log(sum*w/(3*n))
}

// The probability between two ends is the integral of the density, on the log
// scale, wide and narrow, in the middle and far out.
func TestBetweenIsTheIntegral(t *testing.T) {
	for _, d := range []Distribution{Lognormal, Weibull} {
		f := d.family()
		for _, m := range []float64{-30, -8, -2, -0.3, 0, 0.7, 2, 3.5} {
			for _, w := range []float64{1e-9, 1e-4, 0.03, 0.2, 0.65, 0.7, 1.3, 2.1, 4} {
				want := logIntegral(func(z float64) float64 { return f.exact(z).l }, m, w)
				if got := f.between(m, w).l; math.Abs(got-want) > 1e-12*(1+math.Abs(want)) {
					t.Errorf("%s between %v ± %v: %.12g, want %.12g", d, m, w/2, got, want)
				}
			}
		}
	}
}

// near compares with a central difference of step h, whose error is h² of the
// third derivative and rounding over h.
func near(got, up, down, h float64) bool {
	want := (up - down) / (2 * h)
	return math.Abs(got-want) <= 2e-5*(1+math.Abs(want))
}

// The derivatives of every term are those of its value, and each term is concave.
func TestDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SampledFrom([]Distribution{Lognormal, Weibull}).Draw(t, "distribution")
		z := rapid.Float64Range(-12, 3).Draw(t, "z")
		f := d.family()
		const h = 1e-5
		for name, term := range map[string]func(float64) slope{"exact": f.exact, "left": f.left, "right": f.right} {
			at, up, down := term(z), term(z+h), term(z-h)
			if !near(at.z, up.l, down.l, h) || !near(at.zz, up.z, down.z, h) || at.zz > 0 {
				t.Fatalf("%s %s at %v: %+v", d, name, z, at)
			}
		}
		w := math.Exp(rapid.Float64Range(-7, 1.5).Draw(t, "ln w"))
		hw := h * w
		at := f.between(z, w)
		up, down := f.between(z+h, w), f.between(z-h, w)
		wide, slim := f.between(z, w+hw), f.between(z, w-hw)
		if !near(at.m, up.l, down.l, h) || !near(at.mm, up.m, down.m, h) || !near(at.mw, up.w, down.w, h) {
			t.Fatalf("%s between %v ± %v, by the middle: %+v", d, z, w/2, at)
		}
		// By the width relative to it.
		if !near(at.w*w, wide.l, slim.l, h) || !near(at.mw*w, wide.m, slim.m, h) || !near(at.ww*w*w, wide.w*w, slim.w*w, h) {
			t.Fatalf("%s between %v ± %v, by the width: %+v", d, z, w/2, at)
		}
		if at.mm > 0 || at.ww > 0 || at.mm*at.ww-at.mw*at.mw < -1e-9*math.Abs(at.mm*at.ww) {
			t.Fatalf("%s between %v ± %v is not concave: %+v", d, z, w/2, at)
		}
	})
}

// drawSample draws units of every kind at up to three temperatures, their times to
// a thousandth.
func drawSample(t *rapid.T) []Observation {
	var out []Observation
	for range rapid.IntRange(2, 25).Draw(t, "units") {
		low := math.Exp(float64(rapid.IntRange(-1000, 4000).Draw(t, "1000 ln after")) / 1000)
		o := Observation{Celsius: rapid.SampledFrom([]float64{25, 40, 50}).Draw(t, "celsius"),
			Interval: censored.Interval{After: low, By: low, Units: float64(rapid.IntRange(1, 4).Draw(t, "alike"))}}
		switch rapid.SampledFrom([]censored.Kind{censored.Exact, censored.Left, censored.Right, censored.Between}).Draw(t, "kind") {
		case censored.Left:
			o.After = 0
		case censored.Right:
			o.By = inf
		case censored.Between:
			o.By = low * math.Exp(rapid.Float64Range(0.001, 2).Draw(t, "ln by/after"))
		}
		out = append(out, o)
	}
	return out
}

// The gradient and the Hessian of the whole likelihood are those of its value.
func TestGradient(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := Input{Observations: drawSample(t), Arrhenius: true, Confidence: 0.95,
			Distribution: rapid.SampledFrom([]Distribution{Lognormal, Weibull}).Draw(t, "distribution")}
		f, status, reason := arrange(&in, &Result{})
		if status != Fitted {
			t.Fatal(reason)
		}
		p := &problem{sample: f.sample, columns: [][]float64{ones(len(f.x)), f.x}, origin: make([]float64, len(f.x)), offset: 0.3}
		at := []float64{rapid.Float64Range(-1, 1).Draw(t, "γ0"), rapid.Float64Range(-1, 1).Draw(t, "γ1"), rapid.Float64Range(0.2, 2).Draw(t, "φ")}
		gradient, hessian := make([]float64, 3), make([]float64, 9)
		value := p.look(at, gradient, hessian)
		const h = 1e-5
		up, down, scratch := make([]float64, 3), make([]float64, 3), make([]float64, 9)
		for j := range at {
			x := at[j]
			at[j] = x + h
			higher := p.look(at, up, scratch)
			at[j] = x - h
			lower := p.look(at, down, scratch)
			at[j] = x
			scale := 1e-6 * (1 + math.Abs(value) + math.Abs(gradient[j]))
			if want := (higher - lower) / (2 * h); math.Abs(gradient[j]-want) > 10*scale {
				t.Fatalf("gradient %d: %v, want %v", j, gradient[j], want)
			}
			for k := range at {
				want := (up[k] - down[k]) / (2 * h)
				if got := hessian[k*3+j]; math.Abs(got-want) > 1e-5*(1+math.Abs(hessian[k*3+k])+math.Abs(hessian[j*3+j])) {
					t.Fatalf("Hessian %d %d: %v, want %v", k, j, got, want)
				}
			}
		}
	})
}
