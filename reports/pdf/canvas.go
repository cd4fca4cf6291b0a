package pdf

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// canvas draws a chart as vectors into the present page. It writes the PDF's
// own operators: both have their origin at the lower left and count in points.
type canvas struct {
	d     *Document
	x, y  float64 // lower left corner of the chart on the page
	state canvasState
	stack []canvasState
}

// canvasState is what Push saves.
type canvasState struct {
	color rgb
	width float64
}

// open and close bracket the chart, so that it leaves no trace in the state
// of the page.
func (c *canvas) open() {
	c.write("q", fmt.Sprintf("1 0 0 1 %s %s cm", number(c.x), number(c.y)))
	vg.Initialize(c)
}

func (c *canvas) close() {
	for range c.stack {
		c.write("Q")
	}
	c.stack = nil
	c.write("Q")
}

func (c *canvas) write(operators ...string) {
	c.d.f.RawWriteStr(strings.Join(operators, " "))
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', 3, 64) }

func finite(xs ...float64) bool {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) || math.Abs(x) > 1e6 {
			return false
		}
	}
	return true
}

// SetLineWidth sets the width of strokes; none is drawn at zero.
func (c *canvas) SetLineWidth(w vg.Length) {
	c.state.width = w.Points()
	if w > 0 {
		c.write(number(w.Points()), "w")
	}
}

// SetLineDash sets the pattern of dashes and gaps.
func (c *canvas) SetLineDash(pattern []vg.Length, offset vg.Length) {
	dashes := make([]string, len(pattern))
	for i, p := range pattern {
		dashes[i] = number(p.Points())
	}
	c.write("["+strings.Join(dashes, " ")+"]", number(offset.Points()), "d")
}

// SetColor sets the colour of strokes, fills and text. What is translucent is
// mixed with the white of the paper.
func (c *canvas) SetColor(col color.Color) {
	if col == nil {
		col = color.Black
	}
	r, g, b, a := col.RGBA() // premultiplied
	mix := func(v uint32) int { return int(v+0xffff-a) >> 8 }
	c.state.color = rgb{mix(r), mix(g), mix(b)}
	rgb := fmt.Sprintf("%s %s %s", number(float64(mix(r))/255), number(float64(mix(g))/255), number(float64(mix(b))/255))
	c.write(rgb, "rg", rgb, "RG")
}

// Rotate turns the axes by an angle in radians.
func (c *canvas) Rotate(angle float64) {
	sin, cos := math.Sincos(angle)
	c.concat(cos, sin, -sin, cos, 0, 0)
}

// Translate moves the origin.
func (c *canvas) Translate(p vg.Point) { c.concat(1, 0, 0, 1, p.X.Points(), p.Y.Points()) }

// Scale stretches the axes.
func (c *canvas) Scale(x, y float64) { c.concat(x, 0, 0, y, 0, 0) }

func (c *canvas) concat(m ...float64) {
	if !finite(m...) {
		return
	}
	var b strings.Builder
	for _, v := range m {
		b.WriteString(strconv.FormatFloat(v, 'f', 5, 64))
		b.WriteByte(' ')
	}
	c.write(b.String() + "cm")
}

// Push saves the state of drawing, Pop restores it.
func (c *canvas) Push() {
	c.stack = append(c.stack, c.state)
	c.write("q")
}

// Pop restores the state of the matching Push.
func (c *canvas) Pop() {
	if n := len(c.stack); n > 0 {
		c.state = c.stack[n-1]
		c.stack = c.stack[:n-1]
		c.write("Q")
	}
}

// Stroke draws a path's outline.
func (c *canvas) Stroke(p vg.Path) {
	if c.state.width > 0 {
		c.path(p, "S")
	}
}

// Fill fills a path.
func (c *canvas) Fill(p vg.Path) { c.path(p, "f") }

// path writes a path and paints it; one with a point that is no number is
// left out whole.
func (c *canvas) path(p vg.Path, paint string) {
	var b strings.Builder
	ok := true
	point := func(operator string, ps ...vg.Point) {
		for _, q := range ps {
			ok = ok && finite(q.X.Points(), q.Y.Points())
			b.WriteString(number(q.X.Points()))
			b.WriteByte(' ')
			b.WriteString(number(q.Y.Points()))
			b.WriteByte(' ')
		}
		b.WriteString(operator)
		b.WriteByte(' ')
	}
	var at vg.Point
	for _, s := range p {
		switch s.Type {
		case vg.MoveComp:
			at = s.Pos
			point("m", at)
		case vg.LineComp:
			at = s.Pos
			point("l", at)
		case vg.CurveComp:
			switch len(s.Control) {
			case 1: // a quadratic curve, raised to a cubic one
				q := s.Control[0]
				point("c", at.Add(q.Sub(at).Scale(2./3)), s.Pos.Add(q.Sub(s.Pos).Scale(2./3)), s.Pos)
			case 2:
				point("c", s.Control[0], s.Control[1], s.Pos)
			}
			at = s.Pos
		case vg.ArcComp:
			at = arc(s, b.Len() == 0, point)
		case vg.CloseComp:
			b.WriteString("h ")
		}
	}
	if ok && b.Len() > 0 {
		c.write(b.String() + paint)
	}
}

// arc writes a circular arc as cubic curves of at most a quarter turn each,
// whose handles are 4/3 tan(angle/4) of the radius long, and returns its end.
func arc(s vg.PathComp, first bool, point func(string, ...vg.Point)) vg.Point {
	on := func(angle float64) vg.Point {
		sin, cos := math.Sincos(angle)
		return vg.Point{X: s.Pos.X + s.Radius*vg.Length(cos), Y: s.Pos.Y + s.Radius*vg.Length(sin)}
	}
	start := on(s.Start)
	if first {
		point("m", start)
	} else {
		point("l", start)
	}
	n := max(1, int(math.Ceil(math.Abs(s.Angle)/(math.Pi/2)-1e-9)))
	step := s.Angle / float64(n)
	handle := s.Radius * vg.Length(4./3*math.Tan(step/4))
	for i := range n {
		a, b := s.Start+float64(i)*step, s.Start+float64(i+1)*step
		p, q := on(a), on(b)
		sa, ca := math.Sincos(a)
		sb, cb := math.Sincos(b)
		point("c",
			vg.Point{X: p.X - handle*vg.Length(sa), Y: p.Y + handle*vg.Length(ca)},
			vg.Point{X: q.X + handle*vg.Length(sb), Y: q.Y - handle*vg.Length(cb)}, q)
	}
	return on(s.Start + s.Angle)
}

// FillString sets text with its baseline at a point, in the document's own
// fonts whatever typeface is asked for, so that the widths agree.
func (c *canvas) FillString(f font.Face, at vg.Point, text string) {
	size := f.Font.Size.Points()
	if size <= 0 || !finite(at.X.Points(), at.Y.Points(), size) {
		return
	}
	st := regular
	if f.Font.Weight >= xfont.WeightSemiBold {
		st = bold
	}
	text = c.d.clean(text)
	if text == "" {
		return
	}
	c.write("q")
	doc := c.d.f
	_, h := doc.GetPageSize()
	doc.SetFont(family, c.d.faces[st].code, size)
	doc.SetTextColor(c.state.color.r, c.state.color.g, c.state.color.b)
	doc.Text(at.X.Points(), h-at.Y.Points(), text)
	c.write("Q")
}

// DrawImage is not wanted: charts are vectors. Nothing is drawn.
func (c *canvas) DrawImage(vg.Rectangle, image.Image) {}
