package chart

import (
	"math"
	"strconv"
	"strings"
)

// monthTicks puts ticks where pulls commonly lie: 0, 3, 6, 9, 12, 18, 24, 36
// and so on each year; closer for short studies, wider for long ones.
func monthTicks(months float64) []tick {
	var at []float64
	switch {
	case months <= 1:
		at = []float64{0, 0.25, 0.5, 0.75, 1}
	case months <= 6:
		at = []float64{0, 1, 2, 3, 4, 5, 6}
	default:
		at = []float64{0, 3, 6, 9, 12, 18, 24, 30, 36}
		for m := 48.0; m <= months; m += 12 {
			at = append(at, m)
		}
	}
	if months > 120 {
		step := math.Ceil(months/120) * 12
		at = nil
		for m := 0.0; m <= months; m += step {
			at = append(at, m)
		}
	}
	var out []tick
	for _, m := range at {
		if m <= months*1.0001 {
			out = append(out, tick{m, strconv.FormatFloat(m, 'f', -1, 64)})
		}
	}
	return out
}

// niceTicks puts as near to n ticks as it can at multiples of 1, 2, 2.5 or 5 times a power of
// ten within low..high.
func niceTicks(low, high float64, n int) []tick {
	if !(high > low) {
		return nil
	}
	raw := (high - low) / float64(n)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	step := power
	for _, k := range []float64{2, 2.5, 5, 10} {
		if off := func(step float64) float64 { return math.Abs((high-low)/step - float64(n)) }; off(k*power) <= off(step) {
			step = k * power
		}
	}
	decimals := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	if r := step * math.Pow(10, float64(decimals)); math.Abs(r-math.Round(r)) > 1e-6 {
		decimals++
	}
	var out []tick
	for i := math.Ceil(low/step - 1e-9); i*step <= high+step*1e-9 && len(out) < 4*n; i++ {
		out = append(out, tick{i * step, number(i*step, min(decimals, 12))})
	}
	return out
}

// number writes a tick with a true minus sign and never a negative zero; what
// is too long for a scale is written with a power of ten.
func number(x float64, decimals int) string {
	t := strconv.FormatFloat(x, 'f', decimals, 64)
	if len(t) > 9 {
		t = strconv.FormatFloat(x, 'g', 4, 64)
	}
	if strings.Trim(t, "-0.") == "" {
		t = strings.TrimPrefix(t, "-")
	}
	return strings.Replace(t, "-", "−", 1)
}

// fitting gives the ends of a scale that holds all values with a margin; equal
// values get room on both sides.
func fitting(values []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	if low > high {
		return 0, 1
	}
	room := (high - low) * 0.06
	if room <= math.Abs(high)*1e-9 {
		room = math.Max(math.Abs(high)*0.05, 0.5)
	}
	return low - room, high + room
}
