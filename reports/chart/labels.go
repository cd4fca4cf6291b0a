package chart

import (
	"math"
	"slices"
	"strings"
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/opentype"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

var handler = text.Plain{Fonts: fonts()}

// fonts holds the one font of the charts, by whose widths texts are placed.
func fonts() *font.Cache {
	face, err := opentype.Parse(liberationsansregular.TTF)
	if err != nil { // compiled in; that it parses is tested
		return font.NewCache(nil)
	}
	return font.NewCache(font.Collection{{Font: font.Font{Typeface: "Liberation", Variant: "Sans"}, Face: face}})
}

func textStyle(size vg.Length) text.Style {
	return text.Style{
		Color: ink, Font: font.Font{Typeface: "Liberation", Variant: "Sans", Size: size},
		XAlign: draw.XLeft, YAlign: draw.YBottom, Handler: handler,
	}
}

// lineOf is the height of a line of text with its leading.
func lineOf(s text.Style) vg.Length { return s.Font.Size * 1.3 }

// put sets one line of text; the anchor is its baseline at the left (0),
// middle (-0.5) or right (-1).
func put(c draw.Canvas, s text.Style, at vg.Point, anchor float64, t string) {
	if t == "" {
		return
	}
	c.SetColor(s.Color)
	if l, ok := c.Canvas.(labelling); ok {
		l.Label(s.Font.Size, at, anchor, t)
		return
	}
	at.X += vg.Length(anchor) * s.Width(t)
	c.FillString(handler.Fonts.Lookup(s.Font, s.Font.Size), at, t)
}

// oneLine makes a text of the study fit for a label: no line breaks, cut to a
// width with an ellipsis.
func oneLine(s text.Style, t string, width vg.Length) string {
	t = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, t)
	if s.Width(t) <= width {
		return t
	}
	runes := []rune(t)
	n := min(len(runes), 400) // no label has room for more
	for n > 0 && s.Width(string(runes[:n])+"…") > width {
		n--
	}
	return string(runes[:n]) + "…"
}

// drawAxes sets ticks, their texts and the names of the scales.
func (c *Chart) drawAxes(in draw.Canvas, s text.Style, x, y func(float64) vg.Length) {
	small := s.Font.Size
	rule := solid(ink, 0.6)
	texts := func(a *axis, base vg.Length, up vg.Length) {
		end := vg.Length(math.Inf(-1))
		for _, t := range a.ticks {
			at := x(t.at)
			edge := in.Min.Y
			if up > 0 {
				edge = in.Max.Y
			}
			in.StrokeLine2(rule, at, edge, at, edge+up*3)
			w := s.Width(t.text)
			if at-w/2 < end+small*0.6 {
				continue
			}
			put(in, s, vg.Point{X: at, Y: base}, -0.5, t.text)
			end = at + w/2
		}
	}
	middle := (in.Min.X + in.Max.X) / 2
	texts(&c.x, in.Min.Y-small-4, -1)
	put(in, s, vg.Point{X: middle, Y: in.Min.Y - 2*lineOf(s) - 3}, -0.5, oneLine(s, c.x.label, in.Max.X-in.Min.X))
	if c.top != nil {
		texts(c.top, in.Max.Y+5, 1)
		put(in, s, vg.Point{X: middle, Y: in.Max.Y + 6 + lineOf(s)}, -0.5, c.top.label)
	}
	wide := vg.Length(0)
	for _, t := range c.y.ticks {
		in.StrokeLine2(rule, in.Min.X-3, y(t.at), in.Min.X, y(t.at))
		put(in, s, vg.Point{X: in.Min.X - 5, Y: y(t.at) - small*0.35}, -1, t.text)
		wide = max(wide, s.Width(t.text))
	}
	high := in.Max.Y - in.Min.Y
	label := oneLine(s, c.y.unit, high*0.6) // which without the name would be the less told
	label = oneLine(s, c.y.label, high-s.Width(label)) + label
	in.Push()
	in.Translate(vg.Point{X: in.Min.X - wide - 11, Y: (in.Min.Y + in.Max.Y) / 2})
	in.Rotate(math.Pi / 2)
	put(in, s, vg.Point{}, -0.5, label)
	in.Pop()
}

const widestLevel = 78

// levelsWidth is the room the labels at the right need.
func (c *Chart) levelsWidth(s text.Style) vg.Length {
	w := vg.Length(0)
	for _, l := range c.levels {
		w = max(w, s.Width(l.text), s.Width(l.value))
	}
	if w == 0 {
		return 6
	}
	return min(w, widestLevel) + 7
}

// drawLevels labels the marks on y, one below the other where they lie close, and
// all of them below the labels of events that reach out over them.
func (c *Chart) drawLevels(in draw.Canvas, s text.Style, x, y func(float64) vg.Length, within vg.Rectangle) {
	levels := slices.Clone(c.levels)
	slices.SortStableFunc(levels, func(a, b level) int {
		if a.at > b.at {
			return -1
		}
		return 1
	})
	h := lineOf(s)
	ceiling := in.Max.Y + h // lowest place still free, from above
	c.eachEvent(s, x, within, func(e event, row int, from vg.Length) {
		if row == 0 && from+s.Width(e.text) > in.Max.X+3 {
			ceiling = in.Max.Y + 2
		}
	})
	for _, l := range levels {
		lines := []string{l.text, l.value}
		if l.value == "" {
			lines = lines[:1]
		}
		height := h * vg.Length(len(lines))
		top := min(y(l.at)+height/2, ceiling)
		style := s
		style.Color = l.line.Color
		for i, t := range lines {
			put(in, style, vg.Point{X: in.Max.X + 5, Y: top - h*vg.Length(i) - s.Font.Size}, 0, oneLine(s, t, widestLevel))
		}
		ceiling = top - height - 2
	}
}

// placeEvents orders the events and counts the rows their labels need above
// the frame, so that none runs into another.
func (c *Chart) placeEvents(s text.Style, x func(float64) vg.Length, within vg.Rectangle) int {
	slices.SortStableFunc(c.events, func(a, b event) int {
		switch {
		case a.at < b.at:
			return -1
		case a.at > b.at:
			return 1
		}
		return 0
	})
	rows := 0
	c.eachEvent(s, x, within, func(_ event, row int, _ vg.Length) { rows = max(rows, row+1) })
	return rows
}

// eachEvent gives for each event the row of its label and where it begins.
func (c *Chart) eachEvent(s text.Style, x func(float64) vg.Length, within vg.Rectangle, each func(event, int, vg.Length)) {
	var ends []vg.Length
	for _, e := range c.events {
		if e.text == "" {
			continue
		}
		w := s.Width(e.text)
		from := min(max(x(e.at)-w/2, within.Min.X), within.Max.X-w)
		row := 0
		for row < len(ends) && from < ends[row]+6 {
			row++
		}
		if row == len(ends) {
			ends = append(ends, 0)
		}
		ends[row] = from + w
		each(e, row, from)
	}
}

func (c *Chart) drawEvents(in draw.Canvas, s text.Style, x func(float64) vg.Length, within vg.Rectangle, base vg.Length) {
	c.eachEvent(s, x, within, func(e event, row int, from vg.Length) {
		put(in, s, vg.Point{X: from, Y: base + 4 + vg.Length(row)*lineOf(s)}, 0, e.text)
	})
}

// drawLegend sets the legend along the foot of the canvas, in as many rows as
// it takes, and returns their height.
func (c *Chart) drawLegend(dc draw.Canvas, s text.Style) vg.Length {
	all, height := c.placeLegend(dc.Max.X-dc.Min.X, s)
	for _, p := range all {
		at := vg.Point{X: dc.Min.X + p.x, Y: dc.Min.Y + p.y + 2}
		p.drawSample(dc, at, s.Font.Size)
		put(dc, s, vg.Point{X: at.X + p.sample() + 4, Y: at.Y}, 0, p.text)
	}
	return height
}

// drawSample draws an entry's picture on the baseline of its text.
func (e entry) drawSample(dc draw.Canvas, at vg.Point, size vg.Length) {
	right, middle := at.X+e.sample(), at.Y+size*0.36
	if e.fill != nil {
		box(dc, e.fill, at.X, at.Y-1, right, at.Y+size*0.8)
		outline(dc, solid(ink, 0.4), at.X, at.Y-1, right, at.Y+size*0.8)
	}
	if e.line != nil {
		dc.StrokeLine2(*e.line, at.X, middle, right, middle)
	}
	if e.marker != nil {
		e.marker.draw(dc, vg.Point{X: (at.X + right) / 2, Y: middle}, 2.9)
	}
}

// keyed is an entry of the legend with its place, up from the foot.
type keyed struct {
	entry
	x, y vg.Length
}

// placeLegend sets the entries in rows and gives the height of all.
func (c *Chart) placeLegend(room vg.Length, s text.Style) (all []keyed, height vg.Length) {
	if len(c.legend) == 0 {
		return nil, 0
	}
	const gap = 9
	h := lineOf(s) + 1.5
	x, row := vg.Length(0), 0
	for _, e := range c.legend {
		sample := e.sample()
		e.text = oneLine(s, e.text, min(room-sample-4, 230))
		w := sample + 4 + s.Width(e.text)
		if x > 0 && x+w > room {
			x, row = 0, row+1
		}
		all = append(all, keyed{e, x, vg.Length(row)})
		x += w + gap
	}
	for i := range all { // rows count from the top, places from the foot
		all[i].y = h * (vg.Length(row) - all[i].y)
	}
	return all, h*vg.Length(row+1) + 3
}

// sample is the width an entry's picture takes before its text.
func (e entry) sample() vg.Length {
	switch {
	case e.line != nil && e.marker != nil:
		return 34 // so that the dashes show on both sides of the mark
	case e.line != nil:
		return 20
	case e.fill != nil:
		return 12
	case e.marker != nil:
		return 7
	}
	return -4
}
