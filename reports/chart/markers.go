package chart

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Palette is the colours of the batches, in the study's order. They were
// chosen so that neighbours differ in lightness as well as in hue, for readers
// who see colours differently and for grey printers, and so that each has a
// contrast of 3:1 or more against white paper (WCAG 2.2, 1.4.11).
var Palette = []color.RGBA{
	{20, 52, 112, 255},  // deep blue
	{211, 95, 20, 255},  // burnt orange
	{16, 108, 94, 255},  // sea green
	{110, 26, 76, 255},  // plum
	{138, 122, 52, 255}, // olive
	{70, 70, 70, 255},   // slate
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
