package chart

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Palette is the colours of the batches, in the study's order. Six steps of
// lightness, so that they stay apart on grey printers; the first three, and each
// and the next, lie two steps apart at least; on the steps bluish and yellowish
// hues alternate, which readers without red or green cones keep apart. Each has a
// contrast of 3:1 or more against white paper (WCAG 2.2, 1.4.11). They were
// searched for by these figures, which TestPalette holds.
var Palette = []color.RGBA{
	{0, 35, 62, 255},    // ink blue
	{206, 116, 3, 255},  // ochre
	{89, 49, 147, 255},  // violet
	{34, 127, 124, 255}, // teal
	{91, 30, 34, 255},   // chestnut
	{109, 92, 34, 255},  // olive
}

// strokes are the dashes of the batches' fitted lines: none and three that are
// longer than those of a confidence limit.
var strokes = [][]vg.Length{nil, {11, 2}, {11, 2, 2, 2}, {6, 2, 2, 2, 2, 2}}

// strokeOf is the fitted line of a batch.
func strokeOf(batch int, width vg.Length) draw.LineStyle {
	return dashed(Palette[batch%len(Palette)], width, strokes[batch%len(strokes)]...)
}

// marker is the mark of one sample.
type marker struct {
	color  color.Color
	sides  int     // of the polygon; 0 for a circle
	turn   float64 // radians; 0 puts a corner to the right
	hollow bool    // shown, not fitted
}

// shapes are the marks of the batches. With seven shapes to six colours the
// first pair comes back with the forty-third batch.
var shapes = []marker{
	{sides: 0},
	{sides: 4, turn: math.Pi / 4},
	{sides: 3, turn: math.Pi / 2},
	{sides: 4},
	{sides: 3, turn: -math.Pi / 2},
	{sides: 6},
	{sides: 5, turn: math.Pi / 2},
}

// markerOf is the mark of a batch.
func markerOf(batch int) marker {
	m := shapes[batch%len(shapes)]
	m.color = Palette[batch%len(Palette)]
	return m
}

// draw draws the mark.
func (m marker) draw(c draw.Canvas, at vg.Point, size vg.Length) {
	p := m.shape(at, size)
	fill, edge, width := m.colours()
	c.SetColor(fill)
	c.Fill(p)
	c.SetLineStyle(solid(edge, width))
	c.Stroke(p)
}

// colours are those of the mark's inside and edge. A rim of paper keeps full marks
// apart that lie on each other.
func (m marker) colours() (fill, edge color.Color, width vg.Length) {
	if m.hollow {
		return paper, m.color, 1
	}
	return m.color, paper, 0.5
}

// shape is the mark's outline; shapes of the same size cover about the same area.
func (m marker) shape(at vg.Point, size vg.Length) vg.Path {
	var p vg.Path
	if m.sides == 0 {
		p.Move(vg.Point{X: at.X + size, Y: at.Y})
		p.Arc(at, size, 0, 2*math.Pi)
	} else {
		n := float64(m.sides)
		r := size * vg.Length(math.Sqrt(2*math.Pi/(n*math.Sin(2*math.Pi/n))))
		for i := range m.sides {
			sin, cos := math.Sincos(m.turn + 2*math.Pi*float64(i)/n)
			q := vg.Point{X: at.X + r*vg.Length(cos), Y: at.Y + r*vg.Length(sin)}
			if i == 0 {
				p.Move(q)
			} else {
				p.Line(q)
			}
		}
	}
	p.Close()
	return p
}
