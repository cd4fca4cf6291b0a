package study

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestParseDuration(t *testing.T) {
	for s, want := range map[string]Duration{
		"0": {}, "0M": {}, "10D": {10, Days}, "2W": {2, Weeks}, "3M": {3, Months}, "2Y": {2, Years}, "5C": {5, Cycles},
		"3m": {3, Months}, "18M": {18, Months}, "100000D": {100000, Days},
	} {
		if got, err := ParseDuration(s); err != nil || got != want {
			t.Errorf("%q: %v, %v; want %v", s, got, err, want)
		}
	}
	for s, want := range map[string]string{
		"":           "an empty duration; write 0, 10D, 2W, 3M or 2Y",
		"3":          `"3" is no duration; write 0, 10D, 2W, 3M or 2Y`,
		"M":          `"M" is no duration; write 0, 10D, 2W, 3M or 2Y`,
		"3 M":        `"3 M" is no duration; write 0, 10D, 2W, 3M or 2Y`,
		"3M ":        `"3M " is no duration; write 0, 10D, 2W, 3M or 2Y`,
		"1.5M":       `"1.5M" is no duration; write 0, 10D, 2W, 3M or 2Y`,
		"-3M":        `"-3M" is no duration; write 0, 10D, 2W, 3M or 2Y`,
		"+3M":        `"+3M" is no duration; write 0, 10D, 2W, 3M or 2Y`,
		"3months":    `"3months" is no duration; write 0, 10D, 2W, 3M or 2Y`,
		"9999999999": `"9999999999" is no duration; write 0, 10D, 2W, 3M or 2Y`,
		"100001D":    `"100001D" is longer than any study`,
	} {
		if d, err := ParseDuration(s); err == nil || err.Error() != want {
			t.Errorf("%q: %v, %v; want %s", s, d, err, want)
		}
	}
}

// By hand: a month is 365.25/12 = 30.4375 days.
func TestDurationMonths(t *testing.T) {
	for _, c := range []struct {
		d     Duration
		hours float64
		want  float64
	}{
		{Duration{}, 0, 0},
		{Duration{N: 487, Unit: Days}, 0, 16},    // 16 · 30.4375
		{Duration{N: 487, Unit: Weeks}, 0, 112},  // 7 times that
		{Duration{N: 3, Unit: Months}, 0, 3},     //
		{Duration{N: 2, Unit: Years}, 0, 24},     //
		{Duration{N: 487, Unit: Cycles}, 48, 32}, // two days each
		{Duration{N: 487, Unit: Cycles}, 12, 8},  // half a day each
		{Duration{N: 365, Unit: Days}, 99, 365 / 30.4375},
	} {
		if got := c.d.Months(c.hours); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%v is %v months, want %v", c.d, got, c.want)
		}
	}
}

func TestDurationAddTo(t *testing.T) {
	start := NewDate(2025, 1, 31)
	for _, c := range []struct {
		d     Duration
		hours float64
		want  string
	}{
		{Duration{}, 0, "2025-01-31"},
		{Duration{N: 10, Unit: Days}, 0, "2025-02-10"},
		{Duration{N: 2, Unit: Weeks}, 0, "2025-02-14"},
		{Duration{N: 1, Unit: Months}, 0, "2025-02-28"},
		{Duration{N: 1, Unit: Years}, 0, "2026-01-31"},
		{Duration{N: 5, Unit: Cycles}, 48, "2025-02-10"},
		{Duration{N: 3, Unit: Cycles}, 12, "2025-02-02"}, // a day and a half, rounded up
	} {
		if got := c.d.AddTo(start, c.hours).String(); got != c.want {
			t.Errorf("2025-01-31 + %v = %s, want %s", c.d, got, c.want)
		}
	}
}

func TestDurationGivesBackString(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Duration{
			N:    rapid.Int32Range(1, maxDuration).Draw(t, "n"),
			Unit: rapid.SampledFrom([]Unit{Days, Weeks, Months, Years, Cycles}).Draw(t, "unit"),
		}
		if got, err := ParseDuration(d.String()); err != nil || got != d {
			t.Fatalf("%s read as %v, %v", d, got, err)
		}
	})
}

// The months of a duration and the calendar agree within the few days by which
// months differ.
func TestDurationMonthsAgreeWithCalendar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Duration{
			N:    rapid.Int32Range(1, 600).Draw(t, "n"),
			Unit: rapid.SampledFrom([]Unit{Days, Weeks, Months, Years}).Draw(t, "unit"),
		}
		start := Date(rapid.Int32Range(0, 40_000).Draw(t, "start"))
		days := float64(d.AddTo(start, 0) - start)
		// At most 3 days within a year, and one more for each century's missing leap day.
		if diff := math.Abs(days - d.Months(0)*DaysPerMonth); diff > 10 {
			t.Fatalf("%s from %s is %v days and %v months", d, start, days, d.Months(0))
		}
	})
}
