package crossing

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestFirst(t *testing.T) {
	for _, c := range []struct {
		name   string
		margin func(float64) float64
		want   float64
	}{
		{"line", func(x float64) float64 { return 10 - 0.4*x }, 25},
		{"none at the start", func(x float64) float64 { return x - 1 }, 0},
		{"zero at the start", func(x float64) float64 { return x }, 0},
		{"never", func(float64) float64 { return 1 }, math.Inf(1)},
		{"far away", func(x float64) float64 { return 1e7 - x }, 1e7},
		{"just beyond the start", func(x float64) float64 { return 1e-9 - x }, 1e-9},
		{"rising first", func(x float64) float64 { return 5 + 4*x - x*x }, 5},
		{"jump", func(x float64) float64 {
			if x < math.Pi {
				return 1
			}
			return -1
		}, math.Pi},
		{"first of two", func(x float64) float64 { return (x - 7.5) * (x - 20) }, 7.5},
		{"no number", func(float64) float64 { return math.NaN() }, 0},
		{"no number beyond", func(x float64) float64 { return math.Sqrt(4 - x) }, 4},
		{"without end", func(x float64) float64 {
			if x >= 3 {
				return math.Inf(-1)
			}
			return 1
		}, 3},
	} {
		if got := First(c.margin, 3, 2); !(got == c.want || math.Abs(got-c.want) <= 2e-11*c.want) {
			t.Errorf("%s: %.15g, want %.15g", c.name, got, c.want)
		}
	}
}

// Of a concave margin the answer does not hang on the steps, and margin is left
// at it and none just beyond.
func TestConcave(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start := rapid.Float64Range(1e-6, 100).Draw(t, "start")
		slope := rapid.Float64Range(-3, 3).Draw(t, "slope")
		bend := rapid.Float64Range(0.001, 1).Draw(t, "bend")
		step := rapid.Float64Range(0.01, 50).Draw(t, "step")
		margin := func(x float64) float64 { return start + slope*x - bend*x*x }
		want := (slope + math.Sqrt(slope*slope+4*bend*start)) / (2 * bend)
		if slope < 0 {
			want = 2 * start / (math.Sqrt(slope*slope+4*bend*start) - slope)
		}
		got := First(margin, step, 1.5)
		if math.Abs(got/want-1) > 1e-9 {
			t.Fatalf("%v, want %v", got, want)
		}
		if margin(got) < 0 || margin(got*(1+2e-11)) > 0 && margin(got) > 1e-9 {
			t.Fatalf("margin %v at %v", margin(got), got)
		}
	})
}
