package page

import (
	"fmt"
	"image/color"
	"slices"
	"strings"

	"shelfspan/reports/chart"
)

// colours are the page's, by the name of the custom property that holds each. By
// day they are the charts' own, as in the PDF; what only a page has is named here.
func byDay() map[string]string {
	out := map[string]string{"link": "#143470", "edge": "#767670"}
	for c, name := range chart.Colours() {
		out[name] = hexOf(c)
	}
	return out
}

// byNight are the same on dark: the batches keep hue and order of lightness apart,
// each with a contrast of 3:1 or more against the ground.
var byNight = map[string]string{
	"paper": "#15171a", "ink": "#e9e7e2", "grey": "#aaa9a4", "faint": "#3a3d42", "wash": "#23262b", "limit": "#f39a8f",
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
		if n != "link" && n != "edge" {
			fmt.Fprintf(&b, ".f-%[1]s{fill:var(--%[1]s)}.s-%[1]s{fill:none;stroke:var(--%[1]s)}.e-%[1]s{stroke:var(--%[1]s)}\n", n)
		}
	}
	return b.String()
}
