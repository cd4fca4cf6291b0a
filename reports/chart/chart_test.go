package chart

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"

	"shelfspan/analysis"
	"shelfspan/analysis/weightloss"
	"shelfspan/study"
)

// luminance is the relative luminance of a colour (WCAG 2.2, definition).
func luminance(c color.RGBA) float64 {
	lin := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(c.R) + 0.7152*lin(c.G) + 0.0722*lin(c.B)
}

func contrast(a, b color.RGBA) float64 {
	la, lb := luminance(a), luminance(b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

// TestLuminance holds the formula to the published extremes and to the often
// quoted #767676, the lightest grey with 4.5:1 on white (WCAG understanding
// document of 1.4.3).
func TestLuminance(t *testing.T) {
	if c := contrast(color.RGBA{0, 0, 0, 255}, paper); math.Abs(c-21) > 1e-9 {
		t.Errorf("black on white is %.3f:1, want 21:1", c)
	}
	if c := contrast(color.RGBA{0x76, 0x76, 0x76, 255}, paper); c < 4.5 || c > 4.6 {
		t.Errorf("#767676 on white is %.3f:1, want 4.54:1", c)
	}
}

// TestPaletteContrast: graphics 3:1 against paper and against the shade of
// what lies beyond the data (WCAG 2.2, 1.4.11), texts 4.5:1 (1.4.3).
func TestPaletteContrast(t *testing.T) {
	for i, c := range Palette {
		for name, ground := range map[string]color.RGBA{"paper": paper, "shade": wash} {
			if r := contrast(c, ground); r < 3 {
				t.Errorf("colour %d on %s has %.2f:1, want 3:1", i, name, r)
			}
		}
	}
	for name, c := range map[string]color.RGBA{"ink": ink, "limit": limit, "grey": grey} {
		if r := contrast(c, paper); r < 4.5 {
			t.Errorf("%s has %.2f:1 on paper, want 4.5:1", name, r)
		}
	}
}

// lab is a colour in CIE L*a*b* under D65, from linear RGB with the primaries of
// sRGB (IEC 61966-2-1); what a simulation pushes out of gamut is cut off.
func lab(rgb [3]float64) [3]float64 {
	var xyz [3]float64
	for i, row := range [3][3]float64{
		{0.4124564 / 0.95047, 0.3575761 / 0.95047, 0.1804375 / 0.95047},
		{0.2126729, 0.7151522, 0.0721750},
		{0.0193339 / 1.08883, 0.1191920 / 1.08883, 0.9503041 / 1.08883},
	} {
		for k, v := range rgb {
			xyz[i] += row[k] * min(max(v, 0), 1)
		}
		if t := xyz[i]; t > 216.0/24389 {
			xyz[i] = math.Cbrt(t)
		} else {
			xyz[i] = (24389.0/27*t + 16) / 116
		}
	}
	return [3]float64{116*xyz[1] - 16, 500 * (xyz[0] - xyz[1]), 200 * (xyz[1] - xyz[2])}
}

// seen is a colour as a reader sees it, the view being a matrix on linear RGB.
func seen(c color.RGBA, view [3][3]float64) [3]float64 {
	var linear, out [3]float64
	for i, v := range [3]uint8{c.R, c.G, c.B} {
		x := float64(v) / 255
		if linear[i] = x / 12.92; x > 0.04045 {
			linear[i] = math.Pow((x+0.055)/1.055, 2.4)
		}
	}
	for i := range out {
		for k := range linear {
			out[i] += view[i][k] * linear[k]
		}
	}
	return lab(out)
}

func apart(a, b [3]float64) float64 {
	return math.Hypot(math.Hypot(a[0]-b[0], a[1]-b[1]), a[2]-b[2])
}

// views are what readers without red or green cones see: the dichromat matrices of
// Viénot, Brettel and Mollon 1999 and those of Machado, Oliveira and Fernandes 2009
// at full severity, both from memory. That white stays white is tested.
var views = map[string][3][3]float64{
	"all cones":             {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"protanopia, Viénot":    {{0.11238, 0.88762, 0}, {0.11238, 0.88762, 0}, {0.00401, -0.00401, 1}},
	"deuteranopia, Viénot":  {{0.29275, 0.70725, 0}, {0.29275, 0.70725, 0}, {-0.02234, 0.02234, 1}},
	"protanopia, Machado":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deuteranopia, Machado": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritanopia, Machado":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
}

// TestLab holds the formula to published values: white is 100, 0, 0, and sRGB red
// and blue are 53.24, 80.09, 67.20 and 32.30, 79.19, −107.86 (D65); and every view
// leaves white white.
func TestLab(t *testing.T) {
	all := views["all cones"]
	for c, want := range map[color.RGBA][3]float64{
		{255, 255, 255, 255}: {100, 0, 0}, {255, 0, 0, 255}: {53.24, 80.09, 67.20}, {0, 0, 255, 255}: {32.30, 79.19, -107.86},
	} {
		if got := seen(c, all); apart(got, want) > 0.03 {
			t.Errorf("%v is %.2f, want %.2f", c, got, want)
		}
	}
	for name, view := range views {
		if got := seen(paper, view); apart(got, [3]float64{100, 0, 0}) > 0.05 {
			t.Errorf("%s: white is %.2f", name, got)
		}
	}
}

// TestPalette: how far two batches' colours are apart at the least, as distances in
// L*a*b* for every reader and as steps of L* in grey. Of two patches side by side
// about 2 is just seen; marks of some points want ten times that.
func TestPalette(t *testing.T) {
	least := map[string]float64{
		"all cones": 40, "protanopia, Viénot": 25, "deuteranopia, Viénot": 25, "protanopia, Machado": 25, "deuteranopia, Machado": 25, "tritanopia, Machado": 22,
	}
	for name, view := range views {
		for i := range Palette {
			for j := range i {
				if d := apart(seen(Palette[i], view), seen(Palette[j], view)); d < least[name] {
					t.Errorf("%s: colours %d and %d are %.1f apart, want %g", name, j, i, d, least[name])
				}
			}
		}
	}
	lightness := func(i int) float64 { return seen(Palette[i%len(Palette)], views["all cones"])[0] }
	for i := range Palette {
		for j := range i {
			d := math.Abs(lightness(i) - lightness(j))
			switch {
			case d < 8:
				t.Errorf("grey: colours %d and %d are %.1f of L* apart, want 8", j, i, d)
			case i < 3 && d < 17:
				t.Errorf("grey: colours %d and %d, of the first three, are %.1f of L* apart, want 17", j, i, d)
			}
		}
		if d := math.Abs(lightness(i) - lightness(i+1)); d < 17 {
			t.Errorf("grey: colour %d and the next are %.1f of L* apart, want 17", i, d)
		}
	}
}

// TestStrokesDiffer: the lines of neighbouring batches differ in their dashes too,
// and none is drawn like a confidence limit.
func TestStrokesDiffer(t *testing.T) {
	bound := boundStroke(ink).Dashes
	for b := range 8 {
		own, next := strokeOf(b, 1).Dashes, strokeOf(b+1, 1).Dashes
		if slices.Equal(own, next) || slices.Equal(own, bound) || len(own) > 0 && own[0] < 1.5*bound[0] {
			t.Errorf("batch %d: dashes %v, of the next %v, of a confidence limit %v", b, own, next, bound)
		}
	}
}

// TestMarkersDiffer: no two of the first 42 batches share shape and colour, and
// neighbours never share a shape.
func TestMarkersDiffer(t *testing.T) {
	seen := map[marker]int{}
	for b := range 42 {
		m := markerOf(b)
		if other, ok := seen[m]; ok {
			t.Errorf("batches %d and %d look the same", other, b)
		}
		seen[m] = b
		n := markerOf(b + 1)
		if m.sides == n.sides && m.turn == n.turn {
			t.Errorf("batches %d and %d have the same shape", b, b+1)
		}
	}
}

func texts(ts []tick) string {
	var out []string
	for _, t := range ts {
		out = append(out, t.text)
	}
	return strings.Join(out, " ")
}

func TestMonthTicks(t *testing.T) {
	for _, c := range []struct {
		months float64
		want   string
	}{
		{0.9, "0 0.25 0.5 0.75"}, {6, "0 1 2 3 4 5 6"}, {12.3, "0 3 6 9 12"}, {37, "0 3 6 9 12 18 24 30 36"}, {61, "0 3 6 9 12 18 24 30 36 48 60"}, {200, "0 24 48 72 96 120 144 168 192"},
	} {
		if got := texts(monthTicks(c.months)); got != c.want {
			t.Errorf("%g months: %s, want %s", c.months, got, c.want)
		}
	}
}

func TestNiceTicks(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		want      string
	}{
		{0, 10, "0 2 4 6 8 10"}, {-1.2, 1.2, "−1.0 −0.5 0.0 0.5 1.0"}, {17000, 43000, "20000 25000 30000 35000 40000"},
		{0.0311, 0.0342, "0.0315 0.0320 0.0325 0.0330 0.0335 0.0340"}, {5, 5, ""}, {math.NaN(), 1, ""},
	} {
		if got := texts(niceTicks(c.low, c.high, 5)); got != c.want {
			t.Errorf("%g to %g: %s, want %s", c.low, c.high, got, c.want)
		}
	}
}

// TestFitting: an axis holds its values, equal ones too, and no value at all.
func TestFitting(t *testing.T) {
	for _, vs := range [][]float64{{1, 2}, {5, 5}, {0}, {-3}, {1e9, 1e9}, {1e-9}, nil, {math.NaN()}, {math.Inf(1), 4}} {
		low, high := fitting(vs)
		if !(high > low) {
			t.Errorf("%v: scale %g to %g", vs, low, high)
		}
		for _, v := range vs {
			if finite(v) && (v <= low || v >= high) {
				t.Errorf("%v: scale %g to %g leaves no margin", vs, low, high)
			}
		}
	}
}

// one is a study of one attribute.
func one(name string, kind study.Kind, lower, upper float64, batches int) *study.Dataset {
	s := &study.Study{StoreAt: 0, Packs: []study.Pack{{Orientations: []study.Orientation{study.Upright}}}}
	s.Conditions = []study.Condition{{ID: "25C60", Temperature: 25, Humidity: 60}}
	s.Attributes = []study.Attribute{{ID: name, Unit: "%", Kind: kind, Lower: lower, Upper: upper, Basis: study.BasisValue, Decimals: 1,
		Grades: []string{"none", "slight", "moderate", "marked"}}}
	for b := range batches {
		s.Batches = append(s.Batches, study.Batch{ID: fmt.Sprintf("B%d", b+1)})
	}
	return &study.Dataset{Study: s, Texts: []string{""}}
}

// falling is an analysis of lines that fall from about 100 by a slope of each
// batch, with a bound that meets 90 first.
func falling(d *study.Dataset, decision string, slopes ...float64) *analysis.Analysis {
	at := &d.Study.Attributes[0]
	a := &analysis.Analysis{Status: analysis.Fitted, Model: "zero-order", Lower: at.Lower, Upper: at.Upper, OneSided: true, Confidence: 0.95,
		Pooling: analysis.Pooling{Decision: decision}, ShelfLife: 21.36, Estimate: 25, LimitingBatch: -1, ObservedMonths: 18}
	if decision == "separate" {
		a.LimitingBatch = 0
	}
	for b, k := range slopes {
		for i, m := range []int32{0, 3, 6, 9, 12, 18} {
			p := study.Duration{N: m, Unit: study.Months}
			v := 100 - k*float64(m) + 0.3*math.Sin(float64(7*i+b))
			a.Samples = append(a.Samples, analysis.Sample{Batch: b, Months: float64(m) * 0.998, Planned: p, PlannedMonths: float64(m), Value: v, Low: v, High: v, Readings: 1, InWindow: true, Fitted: i != 4})
		}
		a.Fits = append(a.Fits, analysis.Fit{Batch: b, Intercept: 100, Slope: -k, LimitedBy: "lower",
			Curve: func(t float64) (float64, float64, float64) { return 100 - k*t, 100 - k*t - 0.4 - 0.05*t, math.NaN() }})
	}
	return a
}

// drawn is what a chart did to a canvas.
type drawn struct {
	texts []placed
	fills int
	paths int
}

type placed struct {
	text string
	box  vg.Rectangle
}

func draws(t *testing.T, c *Chart, w, h vg.Length) drawn {
	t.Helper()
	var r recorder.Canvas
	c.Draw(draw.NewCanvas(&r, w, h))
	var out drawn
	var shift vg.Point
	turned := false
	for _, a := range r.Actions {
		switch a := a.(type) {
		case *recorder.Translate:
			shift = a.Point
		case *recorder.Rotate:
			turned = true
		case *recorder.Pop:
			shift, turned = vg.Point{}, false
		case *recorder.FillString:
			s := textStyle(a.Size)
			wide := s.Width(a.String)
			box := vg.Rectangle{Min: a.Point, Max: vg.Point{X: a.Point.X + wide, Y: a.Point.Y + a.Size*0.72}}
			if turned { // a quarter turn: along y, its height to the left
				box = vg.Rectangle{Min: vg.Point{X: shift.X - a.Size*0.72, Y: shift.Y + a.Point.X}, Max: vg.Point{X: shift.X, Y: shift.Y + a.Point.X + wide}}
			}
			out.texts = append(out.texts, placed{a.String, box})
		case *recorder.Stroke:
			out.paths++
			finitePath(t, a.Path)
		case *recorder.Fill:
			out.fills++
			finitePath(t, a.Path)
		}
	}
	return out
}

func finitePath(t *testing.T, p vg.Path) {
	t.Helper()
	for _, c := range p {
		if x, y := float64(c.Pos.X), float64(c.Pos.Y); !finite(x) || !finite(y) {
			t.Errorf("a point at %g, %g is drawn", x, y)
		}
	}
}

// tidy checks that no text overprints another or leaves the canvas.
func (d drawn) tidy(t *testing.T, name string, w, h vg.Length) {
	t.Helper()
	for i, p := range d.texts {
		if p.box.Min.X < -0.5 || p.box.Min.Y < -0.5 || p.box.Max.X > w+0.5 || p.box.Max.Y > h+0.5 {
			t.Errorf("%s: %q leaves the canvas: %v", name, p.text, p.box)
		}
		for _, q := range d.texts[:i] {
			if p.box.Min.X < q.box.Max.X && q.box.Min.X < p.box.Max.X && p.box.Min.Y < q.box.Max.Y && q.box.Min.Y < p.box.Max.Y {
				t.Errorf("%s: %q overprints %q", name, p.text, q.text)
			}
		}
	}
}

func (d drawn) has(text string) bool {
	for _, p := range d.texts {
		if p.text == text {
			return true
		}
	}
	return false
}

// TestNothingOverprints draws many trends at three sizes, with events and
// limits that lie close to each other or outside, and hostile names.
func TestNothingOverprints(t *testing.T) {
	long := strings.Repeat("a very long name ", 6) + "\x00\n\xff"
	for _, size := range [][2]vg.Length{{482, 300}, {730, 380}, {233, 150}} {
		for _, claim := range []float64{math.NaN(), 20, 24, 1000} {
			for _, shelf := range []float64{21.36, 35, math.Inf(1), 18} {
				for _, limits := range [][2]float64{{90, math.Inf(1)}, {90, 110}, {99.9, 100.1}, {math.Inf(-1), math.Inf(1)}} {
					for _, name := range []string{"assay", long} {
						d := one(name, study.Measure, limits[0], limits[1], 3)
						a := falling(d, "separate", 0.4, 0.3, 0.2)
						a.ShelfLife = shelf
						c, ok := Trend(d, a, claim)
						if !ok {
							t.Fatal("no chart")
						}
						what := fmt.Sprintf("%v claim %g shelf life %g limits %v", size, claim, shelf, limits)
						draws(t, c, size[0], size[1]).tidy(t, what, size[0], size[1])
					}
				}
			}
		}
	}
}

// TestTrendTellsWhatMatters: limit, crossing, claim, batches and fits are
// named, and samples not fitted explained.
func TestTrendTellsWhatMatters(t *testing.T) {
	d := one("assay", study.Measure, 90, math.Inf(1), 3)
	c, _ := Trend(d, falling(d, "separate", 0.4, 0.3, 0.2), 24)
	got := draws(t, c, 482, 300)
	for _, want := range []string{"lower limit", "90", "bound at 21.3 months", "claim 24 months", "batch B1", "batch B3", "line of a batch: its fitted mean",
		"95 % confidence limit, one-sided, batch B1", "hollow: shown, not fitted", "beyond the data", "time in storage (months)", "assay (%)", "18"} {
		if !got.has(want) {
			t.Errorf("the chart lacks %q; it says %v", want, got.texts)
		}
	}
	if got := c.Description; !strings.Contains(got, "meets the acceptance limit at 21.3 months") {
		t.Errorf("description: %s", got)
	}
	pooled, _ := Trend(d, falling(d, "pooled", 0.4, 0.4, 0.4), math.NaN())
	if n := len(pooled.lines); n != 3 {
		t.Errorf("pooled batches have %d lines, want the mean and its two limits", n)
	}
}

// TestCensoredSamplesAreHollow: a limit of measurement is not shown as if it
// were a value.
func TestCensoredSamplesAreHollow(t *testing.T) {
	d := one("impurity", study.Measure, math.Inf(-1), 1, 1)
	a := falling(d, "", 0.4)
	a.Model, a.Fits, a.ShelfLife = "", nil, math.NaN()
	a.Samples[0].Censor = study.BelowThat
	c, _ := Trend(d, a, math.NaN())
	for _, p := range c.points {
		if want := map[bool]int{true: 1, false: len(a.Samples) - 1}[p.marker.hollow]; len(p.at) != want {
			t.Errorf("%d marks are hollow = %v, want %d", len(p.at), p.marker.hollow, want)
		}
	}
	if got := draws(t, c, 482, 300); !got.has("hollow: below or above a limit of measurement, which is shown") {
		t.Errorf("the chart does not explain hollow marks; it says %v", got.texts)
	}
}

// TestKey: the legend that charts share explains what any of them shows, once,
// and says nothing that holds for one of them alone; it keeps to its height.
func TestKey(t *testing.T) {
	d := one("assay", study.Measure, 90, math.Inf(1), 3)
	separate, _ := Trend(d, falling(d, "separate", 0.4, 0.3, 0.2), math.NaN())
	pooled, _ := Trend(d, falling(d, "pooled", 0.4, 0.4, 0.4), math.NaN())
	for _, width := range []float64{482, 260} {
		height, key := Key([]*Chart{separate, pooled}, width)
		var r recorder.Canvas
		key(draw.NewCanvas(&r, vg.Length(width), vg.Length(height)))
		var said []string
		for _, a := range r.Actions {
			if s, ok := a.(*recorder.FillString); ok {
				said = append(said, s.String)
				if top := float64(s.Point.Y + s.Size); s.Point.Y < 0 || top > height+1 {
					t.Errorf("%q stands at %v, outside the %.1f points of the key", s.String, s.Point, height)
				}
			}
		}
		want := []string{"batch B1", "batch B2", "batch B3", "fitted mean", "95 % confidence limit, one-sided, of the batch that limits",
			"beyond the data", "hollow: shown, not fitted"}
		if !slices.Equal(said, want) {
			t.Errorf("the key says %q, want %q", said, want)
		}
	}
}

// TestGradesShares: the shares of each pull add up to all its units.
func TestGradesShares(t *testing.T) {
	d := one("appearance", study.Grade, math.Inf(-1), 2, 2)
	a := &analysis.Analysis{Status: analysis.Observed, ShelfLife: math.NaN(), Upper: 2}
	for i, v := range []float64{0, 0, 0, 1, 1, 3} {
		p := study.Duration{N: int32(3 * (i / 3)), Unit: study.Months}
		a.Samples = append(a.Samples, analysis.Sample{Planned: p, PlannedMonths: p.Months(0), Value: v})
	}
	c, ok := Grades(d, a)
	if !ok {
		t.Fatal("no chart")
	}
	want := []struct{ from, to float64 }{{0, 100}, {0, 200. / 3}, {200. / 3, 100}}
	if len(c.bars) != len(want) {
		t.Fatalf("%d boxes, want %d", len(c.bars), len(want))
	}
	for i, w := range want {
		if math.Abs(c.bars[i].min.y-w.from) > 1e-9 || math.Abs(c.bars[i].max.y-w.to) > 1e-9 {
			t.Errorf("box %d runs from %g to %g, want %g to %g", i, c.bars[i].min.y, c.bars[i].max.y, w.from, w.to)
		}
	}
	got := draws(t, c, 482, 220)
	got.tidy(t, "grades", 482, 220)
	if !got.has("marked (outside the criterion)") || !got.has("3M (3)") {
		t.Errorf("the chart says %v", got.texts)
	}
}

func TestWeightLossHasALineForEachUnit(t *testing.T) {
	d := one("weight", study.Weighing, math.Inf(-1), 3, 1)
	a := falling(d, "pooled", 0.1)
	a.Samples = nil
	for u := range 4 {
		for m := range 3 {
			a.Samples = append(a.Samples, analysis.Sample{Unit: fmt.Sprint(u), Months: float64(m), Value: float64(m) * 0.1})
		}
	}
	c, ok := Of(d, a, math.NaN())
	if !ok {
		t.Fatal("no chart")
	}
	if n := len(c.lines); n != 4+3 {
		t.Errorf("%d lines, want 4 units, the mean and two limits", n)
	}
	hollow := func(c *Chart) (marks, entries int) {
		for _, p := range c.points {
			if p.marker.hollow {
				marks += len(p.at)
			}
		}
		for _, e := range c.legend {
			if e.marker != nil && e.marker.hollow {
				entries++
			}
		}
		return marks, entries
	}
	if marks, entries := hollow(c); marks+entries != 0 {
		t.Errorf("%d hollow marks and %d in the key without a leaker", marks, entries)
	}
	a.Losses = &analysis.Losses{Units: []weightloss.Unit{{Label: "0"}, {Label: "2"}}, Found: weightloss.Findings{Leakers: []int{1}}}
	if c, _ = Of(d, a, math.NaN()); c == nil {
		t.Fatal("no chart")
	}
	if marks, entries := hollow(c); marks != 3 || entries != 1 {
		t.Errorf("%d hollow marks and %d in the key, want the leaker's 3 and 1", marks, entries)
	}
}

// TestArrhenius: points at ln of the rate's size over 1000/T, °C on top, and a
// rate of the other sign named rather than drawn.
func TestArrhenius(t *testing.T) {
	d := one("assay", study.Measure, 90, math.Inf(1), 1)
	d.Study.Conditions = append(d.Study.Conditions, study.Condition{ID: "40C75"}, study.Condition{ID: "5C"})
	r := &analysis.Arrhenius{Status: analysis.Fitted, Model: "zero-order", LinearityP: math.NaN(),
		Rates:       []analysis.Rate{{Condition: 0, Celsius: 25, PerMonth: -0.5, SE: 0.1}, {Condition: 1, Celsius: 40, PerMonth: -2, SE: 3}, {Condition: 2, Celsius: 5, PerMonth: 0.01, SE: 0.1}},
		Predictions: []analysis.Prediction{{Celsius: 25}, {Celsius: 22}},
		LnRate:      func(c float64) float64 { return 20 - 6200/(c+273.15) }}
	c, ok := Arrhenius(d, r)
	if !ok {
		t.Fatal("no chart")
	}
	ps := c.points[len(c.points)-1]
	if len(ps.at) != 2 || math.Abs(ps.at[0].x-3.354016434680530) > 1e-12 || math.Abs(ps.at[0].y-math.Log(0.5)) > 1e-12 {
		t.Errorf("points %v; 25 °C is 1000/298.15 = 3.3540164… with ln 0.5", ps.at)
	}
	got := draws(t, c, 482, 260)
	got.tidy(t, "arrhenius", 482, 260)
	for _, want := range []string{"temperature (°C)", "1000 / T (1/K)", "40", "25", "5", "predicted for, °C: 25, 22", "not shown, rate of the other sign or zero: 5C"} {
		if !got.has(want) {
			t.Errorf("the chart lacks %q; it says %v", want, got.texts)
		}
	}
	r.Status = analysis.NotFitted
	if _, ok := Arrhenius(d, r); ok {
		t.Error("a chart of nothing fitted")
	}
}

// TestOddAnalyses: nothing to draw is said so, and odd numbers are drawn or
// left out without a panic.
func TestOddAnalyses(t *testing.T) {
	d := one("assay", study.Measure, 90, math.Inf(1), 1)
	a := falling(d, "pooled", 0.4)
	a.Samples = nil
	if _, ok := Trend(d, a, 24); ok {
		t.Error("a chart without samples")
	}
	for _, vs := range [][]float64{{5}, {0, 0, 0}, {math.NaN(), 1}, {math.Inf(1), 2}, {1e300, -1e300}, {1e-300}} {
		a := falling(d, "pooled", 0.4)
		a.Samples = nil
		for i, v := range vs {
			a.Samples = append(a.Samples, analysis.Sample{Value: v, Months: float64(i)})
		}
		a.Fits[0].Curve = func(t float64) (float64, float64, float64) { return 1 / (t - 2), math.Inf(-1), math.NaN() }
		if c, ok := Trend(d, a, 24); ok {
			draws(t, c, 482, 300)
			draws(t, c, 20, 20)
		}
	}
}
