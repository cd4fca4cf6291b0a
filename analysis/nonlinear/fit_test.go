package nonlinear

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// readYX reads a reference set with the columns y, x.
func readYX(t *testing.T, name string) (y, x []float64) {
	t.Helper()
	f, err := os.Open("../../testdata/reference/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows[1:] {
		a, errA := strconv.ParseFloat(r[0], 64)
		b, errB := strconv.ParseFloat(r[1], 64)
		if errA != nil || errB != nil {
			t.Fatalf("%s: %v", name, r)
		}
		y, x = append(y, a), append(x, b)
	}
	return y, x
}

// misra1a is y = b1(1 − exp(−b2 x)).
func misra1a(y, x []float64) Problem {
	return Problem{M: len(y), N: 2,
		Residuals: func(dst, p []float64) {
			for i := range y {
				dst[i] = -p[0]*math.Expm1(-p[1]*x[i]) - y[i]
			}
		},
		Jacobian: func(dst, p []float64) {
			for i := range y {
				dst[2*i] = -math.Expm1(-p[1] * x[i])
				dst[2*i+1] = p[0] * x[i] * math.Exp(-p[1]*x[i])
			}
		},
	}
}

// mgh10 is y = b1 exp(b2/(x + b3)).
func mgh10(y, x []float64) Problem {
	return Problem{M: len(y), N: 3,
		Residuals: func(dst, p []float64) {
			for i := range y {
				dst[i] = p[0]*math.Exp(p[1]/(x[i]+p[2])) - y[i]
			}
		},
		Jacobian: func(dst, p []float64) {
			for i := range y {
				s := x[i] + p[2]
				e := math.Exp(p[1] / s)
				dst[3*i] = e
				dst[3*i+1] = p[0] * e / s
				dst[3*i+2] = -p[0] * e * p[1] / (s * s)
			}
		},
	}
}

func close(got, want, rel float64) bool {
	return math.Abs(got-want) <= rel*math.Abs(want)
}

// The certified values and starts of NIST StRD, nonlinear regression.
func TestCertified(t *testing.T) {
	type set struct {
		name, file string
		problem    func(y, x []float64) Problem
		starts     [][]float64
		parameters []float64
		se         []float64
		rss        float64
	}
	sets := []set{
		{"Misra1a", "misra1a.csv", misra1a, [][]float64{{500, 0.0001}, {250, 0.0005}},
			[]float64{2.3894212918e2, 5.5015643181e-4}, []float64{2.7070075241, 7.2668688436e-6}, 1.2455138894e-1},
		{"MGH10", "mgh10.csv", mgh10, [][]float64{{2, 400000, 25000}, {0.02, 4000, 250}},
			[]float64{5.6096364710e-3, 6.1813463463e3, 3.4522363462e2},
			[]float64{1.5687892471e-4, 2.3309021107e1, 7.8486103508e-1}, 8.7945855171e1}, // its standard deviations from memory
	}
	for _, s := range sets {
		y, x := readYX(t, s.file)
		for k, start := range s.starts {
			for _, differences := range []bool{false, true} {
				for _, factor := range []float64{1, 10} {
					problem, tolerance, seTolerance := s.problem(y, x), 5e-10, 1e-8
					if differences {
						// Central differences know the Jacobian to ε^(2/3) only, and
						// the standard errors come straight from it.
						problem.Jacobian, tolerance, seTolerance = nil, 5e-9, 5e-8
					}
					r := Fit(problem, start, Settings{Factor: factor})
					t.Logf("%s start %d differences %v factor %g: %v, %d iterations", s.name, k+1, differences, factor, r.Status, r.Iterations)
					if !r.Status.Converged() {
						t.Errorf("%s from start %d: %v", s.name, k+1, r.Status)
						continue
					}
					for j, want := range s.parameters {
						if !close(r.Parameters[j], want, tolerance) {
							t.Errorf("%s start %d differences %v: b%d = %.12g, certified %.11g", s.name, k+1, differences, j+1, r.Parameters[j], want)
						}
					}
					if !close(r.RSS, s.rss, 5e-10) {
						t.Errorf("%s start %d: RSS %.12g, certified %.11g", s.name, k+1, r.RSS, s.rss)
					}
					for j, want := range s.se {
						if se := math.Sqrt(r.RSS / float64(r.DF) * r.Unscaled[j*len(start)+j]); !close(se, want, seTolerance) {
							t.Errorf("%s start %d: se(b%d) = %.12g, certified %.11g", s.name, k+1, j+1, se, want)
						}
					}
					if want := len(y) - len(start); r.DF != want {
						t.Errorf("%s: DF %d, want %d", s.name, r.DF, want)
					}
				}
			}
		}
	}
}

// The units of the parameters do not matter, since the scaling follows the
// Jacobian.
func TestParameterUnits(t *testing.T) {
	y, x := readYX(t, "mgh10.csv")
	plain := mgh10(y, x)
	start := []float64{0.02, 4000, 250}
	want := Fit(plain, start, Settings{})
	rapid.Check(t, func(t *rapid.T) {
		unit := make([]float64, 3)
		for j := range unit {
			unit[j] = math.Pow(10, rapid.Float64Range(-9, 9).Draw(t, "unit"))
		}
		own := make([]float64, 3)
		scaled := Problem{M: plain.M, N: 3,
			Residuals: func(dst, p []float64) {
				for j := range own {
					own[j] = p[j] * unit[j]
				}
				plain.Residuals(dst, own)
			},
			Jacobian: func(dst, p []float64) {
				for j := range own {
					own[j] = p[j] * unit[j]
				}
				plain.Jacobian(dst, own)
				for i := range dst {
					dst[i] *= unit[i%3]
				}
			}}
		s := make([]float64, 3)
		for j := range s {
			s[j] = start[j] / unit[j]
		}
		got := Fit(scaled, s, Settings{})
		if !got.Status.Converged() {
			t.Fatal(got.Status)
		}
		for j := range unit {
			if !close(got.Parameters[j]*unit[j], want.Parameters[j], 1e-9) {
				t.Fatalf("parameter %d in unit %g: %.15g, want %.15g", j, unit[j], got.Parameters[j]*unit[j], want.Parameters[j])
			}
		}
	})
}

// A straight line is solved as by hand: through (0,1), (1,3), (2,5), (3,8) the
// mean of x is 1.5, of y 4.25, Sxx = 5, Sxy = 11.5, hence slope 2.3, intercept
// 0.8, residuals 0.2, −0.1, −0.4, 0.3, RSS 0.3; (XᵀX)⁻¹ = [0.7 −0.3; −0.3 0.2].
func TestLine(t *testing.T) {
	x, y := []float64{0, 1, 2, 3}, []float64{1, 3, 5, 8}
	r := Fit(Problem{M: 4, N: 2, Residuals: func(dst, p []float64) {
		for i := range x {
			dst[i] = p[0] + p[1]*x[i] - y[i]
		}
	}}, []float64{100, -50}, Settings{})
	if !r.Status.Converged() {
		t.Fatal(r.Status)
	}
	for k, want := range map[int]float64{0: 0.8, 1: 2.3} {
		if !close(r.Parameters[k], want, 1e-9) {
			t.Errorf("parameter %d = %v, want %v", k, r.Parameters[k], want)
		}
	}
	if !close(r.RSS, 0.3, 1e-9) {
		t.Errorf("RSS %v, want 0.3", r.RSS)
	}
	for k, want := range []float64{0.7, -0.3, -0.3, 0.2} {
		if !close(r.Unscaled[k], want, 1e-7) {
			t.Errorf("unscaled covariance %d = %v, want %v", k, r.Unscaled[k], want)
		}
	}
}

// What cannot be fitted says so.
func TestFailures(t *testing.T) {
	data := []float64{1, 2, 4, 7}
	sum := Problem{M: 4, N: 2, Residuals: func(dst, p []float64) {
		for i := range dst { // the two parameters only ever act as a sum
			dst[i] = math.Exp((p[0]+p[1])*float64(i)) - data[i]
		}
	}}
	if r := Fit(sum, []float64{0.1, 0.2}, Settings{}); r.Status != Singular || r.Unscaled != nil {
		t.Errorf("parameters that act as one: %v", r.Status)
	}
	unused := Problem{M: 4, N: 2, Residuals: func(dst, p []float64) {
		for i := range dst {
			dst[i] = p[0] - data[i]
		}
	}}
	if r := Fit(unused, []float64{0, 1}, Settings{}); r.Status != Singular {
		t.Errorf("a parameter without effect: %v", r.Status)
	} else if !close(r.Parameters[0], 3.5, 1e-9) || r.Parameters[1] != 1 {
		t.Errorf("a parameter without effect: %v, want 3.5 and 1", r.Parameters)
	}
	y, x := readYX(t, "mgh10.csv")
	if r := Fit(mgh10(y, x), []float64{2, 400000, 25000}, Settings{Iterations: 3}); r.Status != IterationLimit {
		t.Errorf("three iterations: %v", r.Status)
	}
	if r := Fit(mgh10(y, x), []float64{2, 400000, -50}, Settings{}); r.Status != NotFinite {
		t.Errorf("a start at the pole: %v", r.Status)
	}
	if r := Fit(misra1a(y[:1], x[:1]), []float64{1, 1}, Settings{}); r.Status != TooFewData {
		t.Errorf("one point for two parameters: %v", r.Status)
	}
	edge := Problem{M: 1, N: 1, Residuals: func(dst, p []float64) { dst[0] = math.Sqrt(p[0]-1) + 1 },
		Jacobian: func(dst, p []float64) { dst[0] = 1 }}
	if r := Fit(edge, []float64{1}, Settings{}); r.Status != NotFinite {
		t.Errorf("a way down that leads out of the domain: %v", r.Status)
	}
	// A step of 1e310 is no number; it is neither taken nor tried for ever.
	tries := 0
	overflow := Problem{M: 2, N: 1, Residuals: func(dst, p []float64) {
		if tries++; tries > 1000 {
			t.Fatal("a step that overflows is tried without end")
		}
		dst[0], dst[1] = 1e10+1e-300*p[0], 1e10+2e-300*p[0]
	}, Jacobian: func(dst, p []float64) { dst[0], dst[1] = 1e-300, 2e-300 }}
	if r := Fit(overflow, []float64{1}, Settings{}); r.Status != NotFinite {
		t.Errorf("a step that overflows: %v", r.Status)
	}
	// y = exp(p x) through data that only fall to nothing: no finite minimum.
	vanish := Problem{M: 2, N: 1, Residuals: func(dst, p []float64) { dst[0], dst[1] = math.Exp(p[0]), 2*math.Exp(p[0]) }}
	if r := Fit(vanish, []float64{0}, Settings{Iterations: 20}); r.Status.Converged() && r.RSS > 1e-12 {
		t.Errorf("no finite minimum: %v at %v", r.Status, r.Parameters)
	}
}

// Exact data give the parameters they were made of, from starts far off.
func TestExactData(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0.5, 50).Draw(t, "a")
		k := rapid.Float64Range(0.02, 0.5).Draw(t, "k")
		x := []float64{0, 1, 2, 4, 6, 9, 12}
		y := make([]float64, len(x))
		for i := range x {
			y[i] = a * math.Exp(-k*x[i])
		}
		r := Fit(Problem{M: len(x), N: 2, Residuals: func(dst, p []float64) {
			for i := range x {
				dst[i] = p[0]*math.Exp(-p[1]*x[i]) - y[i]
			}
		}}, []float64{1, 0.1}, Settings{})
		if !r.Status.Converged() || !close(r.Parameters[0], a, 1e-9) || !close(r.Parameters[1], k, 1e-9) {
			t.Fatalf("%v: %v, want %v and %v", r.Status, r.Parameters, a, k)
		}
	})
}

func BenchmarkMGH10(b *testing.B) {
	var y, x []float64
	for i := range 16 {
		x = append(x, 50+5*float64(i))
		y = append(y, 5.6096364710e-3*math.Exp(6.1813463463e3/(x[i]+3.4522363462e2)))
	}
	problem := mgh10(y, x)
	b.ReportAllocs()
	for b.Loop() {
		Fit(problem, []float64{0.02, 4000, 250}, Settings{})
	}
}
