package page

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// luminance is the relative luminance of a colour (WCAG 2.2).
func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	rgb, err := strconv.ParseUint(strings.TrimPrefix(colour, "#"), 16, 32)
	if err != nil || len(colour) != 7 {
		t.Fatalf("%q is no colour", colour)
	}
	channel := func(shift int) float64 {
		c := float64(rgb>>shift&255) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*channel(16) + 0.7152*channel(8) + 0.0722*channel(0)
}

// contrast is the contrast ratio of two colours (WCAG 2.2).
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	x, y := luminance(t, a), luminance(t, b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// TestContrastFormula holds the formula against figures that are easy to see.
func TestContrastFormula(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want float64
	}{{"#000000", "#ffffff", 21}, {"#ffffff", "#ffffff", 1}, {"#777777", "#ffffff", 4.48}, {"#767676", "#ffffff", 4.54}} { // WCAG's own examples of AA's edge
		if got := contrast(t, c.a, c.b); math.Abs(got-c.want) > 0.005 {
			t.Errorf("%s on %s: %.3f, want %.2f", c.a, c.b, got, c.want)
		}
	}
}

// TestContrast: by day and by night text has 4.5:1 against the page and against
// shaded ground, and lines, marks and edges of fields 3:1 (WCAG 2.2, 1.4.3 and
// 1.4.11). Grid lines and the tints of single units only lead the eye between
// marks, which have it.
func TestContrast(t *testing.T) {
	for name, of := range map[string]map[string]string{"day": byDay(), "night": byNight} {
		for _, ground := range []string{"paper", "wash"} {
			for _, text := range []string{"ink", "grey", "limit", "link"} {
				if c := contrast(t, of[text], of[ground]); c < 4.5 {
					t.Errorf("%s: %s on %s has a contrast of %.2f", name, text, ground, c)
				}
			}
			for _, line := range []string{"b0", "b1", "b2", "b3", "b4", "b5", "edge"} {
				if c := contrast(t, of[line], of[ground]); c < 3 {
					t.Errorf("%s: %s on %s has a contrast of %.2f", name, line, ground, c)
				}
			}
		}
	}
}

// TestPaletteIsWhole: each colour has a value by day, by night and on paper, and
// the style sheet uses none that has not.
func TestPaletteIsWhole(t *testing.T) {
	day := byDay()
	for n := range day {
		if byNight[n] == "" {
			t.Errorf("%s has no value by night", n)
		}
	}
	for n := range byNight {
		if day[n] == "" {
			t.Errorf("%s has no value by day", n)
		}
	}
	for _, use := range strings.Split(layout, "var(--")[1:] {
		if n, _, _ := strings.Cut(use, ")"); day[n] == "" {
			t.Errorf("the style sheet uses the colour %q, which there is not", n)
		}
	}
}
