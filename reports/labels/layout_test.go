package labels

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestSheet: the grid of common sizes, reckoned by hand: millimetres from the
// upper left of the page to the first label and from one to the next.
func TestSheet(t *testing.T) {
	for _, c := range []struct {
		layout         Layout
		columns, rows  int
		left, top      float64 // (210 - columns·width - gaps)/2, (297 - rows·height - gaps)/2
		stepX, stepY   float64
		insetX, insetY float64 // what printers leave white, where the label reaches so near the edge
	}{
		{Layout{}, 3, 7, 7.25, 15.15, 66, 38.1, 1.5, 1.5},
		{Of(63.5, 38.1), 3, 7, 7.25, 15.15, 66, 38.1, 1.5, 1.5},
		{Layout{Width: 63.5, Height: 38.1}, 3, 7, 9.75, 15.15, 63.5, 38.1, 1.5, 1.5},
		{Of(70, 37), 3, 8, 0, 0.5, 70, 37, 4.2, 3.7},
		{Of(105, 148), 2, 2, 0, 0.5, 105, 148, 4.2, 3.7},
		{Layout{Width: 105, Height: 148, Columns: 1}, 1, 2, 52.5, 0.5, 105, 148, 3.675, 3.7},
		{Of(210, 297), 1, 1, 0, 0, 210, 297, 5, 5},
		{Of(52.5, 29.7), 4, 10, 0, 0, 52.5, 29.7, 4.2, 4.2}, // the sums are exact in decimals only
		{Layout{Width: 38.1, Height: 21.2, GapX: 2.5, GapY: 1}, 5, 13, 4.75, 4.7, 40.6, 22.2, 1.5, 1.5},
		{Layout{Width: 63.5, Height: 38.1, GapX: 2.5, Columns: 2, Rows: 3}, 2, 3, 40.25, 91.35, 66, 38.1, 1.5, 1.5},
	} {
		s, err := c.layout.sheet()
		if err != nil {
			t.Errorf("%+v: %v", c.layout, err)
			continue
		}
		if s.columns != c.columns || s.rows != c.rows {
			t.Errorf("%+v: %d × %d labels, want %d × %d", c.layout, s.columns, s.rows, c.columns, c.rows)
		}
		for name, v := range map[string][2]float64{
			"left": {s.left, c.left}, "top": {s.top, c.top}, "step across": {s.stepX, c.stepX}, "step down": {s.stepY, c.stepY},
			"inset across": {s.insetX, c.insetX}, "inset down": {s.insetY, c.insetY},
		} {
			if math.Abs(v[0]/mm-v[1]) > 1e-6 {
				t.Errorf("%+v: %s is %.4f mm, want %.4f", c.layout, name, v[0]/mm, v[1])
			}
		}
		if n, err := c.layout.Places(); err != nil || n != c.columns*c.rows {
			t.Errorf("%+v: %d places (%v), want %d", c.layout, n, err, c.columns*c.rows)
		}
	}
}

// TestPlaces: whatever the size, labels lie on the page and beside each other.
func TestPlaces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Layout{
			Width: rapid.Float64Range(5, 210).Draw(t, "width"), Height: rapid.Float64Range(5, 297).Draw(t, "height"),
			GapX: rapid.Float64Range(0, 20).Draw(t, "gapX"), GapY: rapid.Float64Range(0, 20).Draw(t, "gapY"),
		}
		s, err := l.sheet()
		if err != nil {
			t.Fatal(err)
		}
		page := box{0, 0, 210 * mm, 297 * mm}
		var boxes []box
		for i := range s.places() {
			x, y := s.corner(i)
			b := box{x, y, x + s.width, y + s.height}
			if !b.within(page) {
				t.Fatalf("place %d is %v, off the page %v", i, b, page)
			}
			boxes = append(boxes, b)
		}
		for i, a := range boxes {
			for j, b := range boxes[:i] {
				if a.meets(b) {
					t.Fatalf("places %d and %d overlap: %v, %v", i, j, a, b)
				}
			}
		}
		// One more in either direction would not fit.
		if w := float64(s.columns+1)*(l.Width+l.GapX) - l.GapX; w <= 210 {
			t.Errorf("%d columns, and %d would be %.2f mm wide", s.columns, s.columns+1, w)
		}
		if h := float64(s.rows+1)*(l.Height+l.GapY) - l.GapY; h <= 297 {
			t.Errorf("%d rows, and %d would be %.2f mm high", s.rows, s.rows+1, h)
		}
	})
}

func TestParseSize(t *testing.T) {
	for s, want := range map[string][2]float64{
		"63.5x38.1": {63.5, 38.1}, "63,5x38,1": {63.5, 38.1}, "105×148": {105, 148}, " 70 X 37 mm ": {70, 37}, "70mm x 37mm": {70, 37},
		"210x297": {210, 297}, "50.x05.5": {50, 5.5},
	} {
		w, h, err := ParseSize(s)
		if err != nil || w != want[0] || h != want[1] {
			t.Errorf("%q is %g × %g (%v), want %v", s, w, h, err, want)
		}
	}
	for s, want := range map[string]string{
		"":         "write width x height",
		"63.5":     "write width x height",
		"63.5x":    "a number is missing",
		"x":        "a number is missing",
		"1x2x3":    "write width x height",
		"-5x10":    `"-5" is no plain number`,
		"1e2x10":   `"1e2" is no plain number`,
		"NaNx10":   `"NaN" is no plain number`,
		"1.2.3x10": `"1.2.3" is no plain number`,
		".x10":     `"." is no plain number`,
		"0x10":     "both sides are at least 5",
		"10x4.9":   "both sides are at least 5",
		"10x0.0":   "both sides are at least 5",
		"211x100":  "larger than A4",
		"100x298":  "larger than A4",
		"５0x10":    "no plain number",
	} {
		if w, h, err := ParseSize(s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q gives %g × %g, %v; want %q", s, w, h, err, want)
		}
	}
}

// FuzzParseSize: what is read lies on A4 and is read again from what it prints.
func FuzzParseSize(f *testing.F) {
	for _, s := range []string{"63.5x38.1", "63,5 × 38,1 mm", "x", "1e9x1", "0x0", "999999999999999999999x1", "mmxmm", "\xff", ".x."} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		w, h, err := ParseSize(s)
		if err != nil {
			if w != 0 || h != 0 {
				t.Fatalf("%q is refused and gives %g × %g", s, w, h)
			}
			return
		}
		if !(w >= 5 && w <= 210.01 && h >= 5 && h <= 297.01) {
			t.Fatalf("%q gives %g × %g mm", s, w, h)
		}
		if _, err := Of(w, h).Places(); err != nil {
			t.Fatalf("%q is read and does not lie on a sheet: %v", s, err)
		}
	})
}
