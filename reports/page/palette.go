package page

import (
	"fmt"
	"image/color"
	"slices"
	"strconv"
	"strings"

	"shelfspan/reports/chart"
)

// classes names the colours of drawings.
var classes = chart.Colours()

// byDay are the page's colours, by the name of the custom property that holds each. By
// day they are the charts' own, as in the PDF; what only a page has is named here.
func byDay() map[string]string {
	out := map[string]string{"link": "#143470", "edge": "#767670"}
	for c, name := range classes {
		switch name {
		case "g0":
			name = "best"
		case "g100":
			name = "worst"
		}
		if name[0] != 'g' || name == "grey" {
			out[name] = hexOf(c)
		}
	}
	return out
}

// byNight are the same on dark: the batches keep hue and order of lightness apart,
// each with a contrast of 3:1 or more against the ground. Where darker is worse by
// day, brighter is by night: what stands out is what went wrong.
var byNight = map[string]string{
	"paper": "#15171a", "ink": "#e9e7e2", "grey": "#aaa9a4", "faint": "#3a3d42", "wash": "#23262b", "limit": "#f39a8f", "strip": "#55585c",
	"best": "#262b33", "worst": "#e6ebf5",
	"link": "#a3c0f7", "edge": "#85857f",
	"b0": "#8ab0f5", "b1": "#f0a05a", "b2": "#4cc2aa", "b3": "#dd86b4", "b4": "#d3c67c", "b5": "#b4b4b4",
	"t0": "#506488", "t1": "#835c3a", "t2": "#316d62", "t3": "#794f67", "t4": "#746f4b", "t5": "#656667",
}

func hexOf(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// palette is the style sheet's part that is made of the colours: their values by
// day, by night and on paper, and the classes by which drawings take them.
func palette() string {
	var b strings.Builder
	day := byDay()
	names := make([]string, 0, len(day))
	for n := range day {
		names = append(names, n)
	}
	slices.Sort(names)
	values := func(of map[string]string) string {
		var t []string
		for _, n := range names {
			t = append(t, "--"+n+":"+of[n])
		}
		return strings.Join(t, ";")
	}
	fmt.Fprintf(&b, ":root{color-scheme:light;%s}\n", values(day))
	fmt.Fprintf(&b, "@media screen and (prefers-color-scheme:dark){:root{color-scheme:dark;%s}}\n", values(byNight))
	for _, n := range names {
		if !slices.Contains([]string{"link", "edge", "best", "worst"}, n) {
			fmt.Fprintf(&b, ".f-%[1]s{fill:var(--%[1]s)}.s-%[1]s{fill:none;stroke:var(--%[1]s)}.e-%[1]s{stroke:var(--%[1]s)}\n", n)
		}
	}
	var grades []int
	for _, name := range classes {
		if p, err := strconv.Atoi(name[1:]); err == nil && name[0] == 'g' {
			grades = append(grades, p)
		}
	}
	slices.Sort(grades)
	for _, p := range slices.Compact(grades) {
		fmt.Fprintf(&b, ".f-g%[1]d{fill:color-mix(in srgb,var(--worst) %[1]d%%,var(--best))}\n", p)
	}
	for step, p := range shades {
		letters := "ink"
		if step >= firstFull {
			letters = "paper"
		}
		if step > 0 {
			fmt.Fprintf(&b, ".matrix .l%d{background:color-mix(in srgb,var(--worst) %d%%,var(--best));color:var(--%s)}\n", step, p, letters)
		}
	}
	return b.String()
}
