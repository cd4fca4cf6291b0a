package pdf

import (
	"math"
	"strconv"
)

// The blocks of this file are placed, not set in the flow: x and y count in
// points from the upper left corner of the page. They are black, not the dark
// grey of reports, since printers screen what is not, and small print frays.

// PlainPage opens a page of a size in points without head and foot, for
// blocks that are placed.
func (d *Document) PlainPage(w, h float64) {
	d.openPage(page{w: w, h: h, plain: true})
}

// Line is text that passed the gate, in one style, with its width.
type Line struct {
	text string
	st   style
	em   float64 // width in em
}

// Line readies text to be measured and placed.
func (d *Document) Line(text string, bolder bool) Line {
	st := regular
	if bolder {
		st = bold
	}
	text = d.clean(text)
	return Line{text, st, d.width(text, st, 1)}
}

// Empty reports whether there is nothing to place.
func (l Line) Empty() bool { return l.text == "" }

// Text gives what is printed.
func (l Line) Text() string { return l.text }

// Bold reports whether it is in the bold style.
func (l Line) Bold() bool { return l.st == bold }

// Width is how wide the line is at a size, in points.
func (l Line) Width(size float64) float64 { return l.em * size }

// Break breaks a line into several no wider than width, as running text is.
func (d *Document) Break(l Line, size, width float64) []Line {
	if l.Width(size) <= width {
		return []Line{l}
	}
	var out []Line
	for _, text := range d.wrap(l.text, l.st, size, width) {
		out = append(out, Line{text, l.st, d.width(text, l.st, 1)})
	}
	return out
}

// Place sets a line with its baseline at y.
func (d *Document) Place(l Line, x, y, size float64) {
	d.text(x, y, l.text, l.st, size, black)
}

// Rect is a rectangle of whole modules, its corner counted from the upper left.
type Rect struct{ X, Y, W, H int }

// Rects fills rectangles black, of modules w wide and h high in points; x, y is the
// upper left corner of the module 0, 0. They are one shape, so that no seam
// shows between those that touch.
func (d *Document) Rects(x, y, w, h float64, rects []Rect) {
	if len(rects) == 0 {
		return
	}
	b := d.scratch[:0]
	b = append(b, "q 0 g "...)
	for _, v := range [...]float64{w, 0, 0, -h, x, d.current().h - y} {
		b = strconv.AppendFloat(b, v, 'f', 5, 64)
		b = append(b, ' ')
	}
	b = append(b, "cm\n"...)
	for _, r := range rects {
		for _, v := range [...]int{r.X, r.Y, r.W, r.H} {
			b = strconv.AppendInt(b, int64(v), 10)
			b = append(b, ' ')
		}
		b = append(b, "re\n"...)
	}
	b = append(b, "f Q"...)
	d.f.RawWriteStr(string(b))
	d.scratch = b
}

// Frame draws the outline of a rectangle.
func (d *Document) Frame(x, y, w, h, weight float64) {
	d.f.SetDrawColor(black.r, black.g, black.b)
	d.f.SetLineWidth(weight)
	d.f.Rect(x, y, w, h, "D")
}

// Stroke draws a straight line.
func (d *Document) Stroke(x1, y1, x2, y2, weight float64) {
	d.f.SetDrawColor(black.r, black.g, black.b)
	d.f.SetLineWidth(weight)
	d.f.Line(x1, y1, x2, y2)
}

// Block keeps a height of the text block together in the flow and hands its
// upper left corner and its width to draw, which places what stands there.
func (d *Document) Block(height float64, draw func(x, y, width float64)) {
	height = math.Min(height, d.bodyHeight())
	d.begin(height)
	draw(marginSide, d.y, d.Width())
	d.y += height
}
