package page

import (
	"fmt"
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
			for _, mark := range []string{"ink", "grey", "limit"} { // of pulls, on their windows
				if c := contrast(t, of[mark], of["strip"]); c < 3 {
					t.Errorf("%s: %s on a window has a contrast of %.2f", name, mark, c)
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

// mixed is a colour p percent of the way from one to another, as color-mix in sRGB
// has it.
func mixed(t *testing.T, from, to string, p int) string {
	t.Helper()
	out := "#"
	for i := 1; i < 7; i += 2 {
		a, errA := strconv.ParseUint(from[i:i+2], 16, 8)
		b, errB := strconv.ParseUint(to[i:i+2], 16, 8)
		if errA != nil || errB != nil {
			t.Fatal(from, to)
		}
		out += fmt.Sprintf("%02x", int(math.Round(float64(a)+(float64(b)-float64(a))*float64(p)/100)))
	}
	return out
}

// TestContrastOfMatrix: what stands in the cells of the matrix has 4.5:1 against the
// ground of every step, by day and by night, and each step is darker by day, brighter
// by night, than the one before.
func TestContrastOfMatrix(t *testing.T) {
	for name, of := range map[string]map[string]string{"day": byDay(), "night": byNight} {
		before := luminance(t, of["best"])
		for step := 1; step < len(shades); step++ {
			letters := of["ink"]
			if step >= firstFull {
				letters = of["paper"]
			}
			ground := mixed(t, of["best"], of["worst"], shades[step])
			if c := contrast(t, letters, ground); c < 4.5 {
				t.Errorf("%s: %s on step %d, %s, has a contrast of %.2f", name, letters, step, ground, c)
			}
			if l := luminance(t, ground); (l < before) != (name == "day") {
				t.Errorf("%s: step %d has a luminance of %.3f after %.3f", name, step, l, before)
			} else {
				before = l
			}
		}
	}
}

// TestShades: nothing lost has no shade, what is printed as lost has one, and all of
// the horizon the last. Of 30 months 0.3, 7.5 and 19.2 are 1, 25 and 64 %, whose roots
// are 0.1, 0.5 and 0.8.
func TestShades(t *testing.T) {
	for lost, want := range map[float64]int{-2: 0, 0: 0, 0.04: 0, 0.06: 1, 0.3: 1, 7.5: 5, 19.2: 8, 30: 10, 90: 10} {
		if got := shadeOf(lost, 30); got != want {
			t.Errorf("%g months: step %d, want %d", lost, got, want)
		}
	}
	if shadeOf(math.NaN(), 30) != 0 || shadeOf(1, math.NaN()) != 0 {
		t.Error("what is no number has a shade")
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
