// Package svg is a canvas that draws as SVG for a web page. Colours become
// classes, so that the page's style sheet can give them other values in the dark
// and on paper; labels keep their anchor whatever font the reader has; and marks
// carry a text that shows when they are pointed at, without a script.
package svg

import (
	"html"
	"image"
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// Canvas is one drawing, its origin at the bottom left. It is a vg.Canvas; images
// are not drawn.
type Canvas struct {
	width, height vg.Length
	classes       map[color.RGBA]string
	out           []byte
	now           state
	saved         []state
	group         group // of the marks drawn last
}

type state struct {
	color color.RGBA
	width vg.Length
	dash  []vg.Length
	m     matrix
}

// matrix maps (x, y) to (a x + c y + e, b x + d y + f).
type matrix struct{ a, b, c, d, e, f float64 }

func (m matrix) at(p vg.Point) (x, y float64) {
	return m.a*float64(p.X) + m.c*float64(p.Y) + m.e, m.b*float64(p.X) + m.d*float64(p.Y) + m.f
}

func (m matrix) times(n matrix) matrix {
	return matrix{
		m.a*n.a + m.c*n.b, m.b*n.a + m.d*n.b,
		m.a*n.c + m.c*n.d, m.b*n.c + m.d*n.d,
		m.a*n.e + m.c*n.f + m.e, m.b*n.e + m.d*n.f + m.f,
	}
}

// group is what marks in one <g> have in common.
type group struct {
	fill, edge color.RGBA
	width      vg.Length
	open       bool
}

var _ vg.Canvas = (*Canvas)(nil)

// New makes an empty canvas of a size in points. classes names colours; any other
// colour is written as it is.
func New(width, height vg.Length, classes map[color.RGBA]string) *Canvas {
	return &Canvas{
		width: width, height: height, classes: classes,
		now: state{color: color.RGBA{A: 255}, width: 1, m: matrix{a: 1, d: 1}},
	}
}

// Append adds the drawing to an HTML page as an svg element. What it shows is
// said by title and description, which have ids made from id.
func (c *Canvas) Append(page []byte, id, class, title, description string) []byte {
	c.ungroup()
	page = append(page, `<svg xmlns="http://www.w3.org/2000/svg" role="img" class="`...)
	page = append(page, html.EscapeString(class)...)
	page = append(page, `" viewBox="0 0 `...)
	page = decimal(page, float64(c.width))
	page = append(page, ' ')
	page = decimal(page, float64(c.height))
	page = append(page, `" aria-labelledby="`...)
	page = append(page, html.EscapeString(id+"-t "+id+"-d")...)
	page = append(page, `"><title id="`...)
	page = append(page, html.EscapeString(id+"-t")...)
	page = append(page, `">`...)
	page = append(page, html.EscapeString(title)...)
	page = append(page, `</title><desc id="`...)
	page = append(page, html.EscapeString(id+"-d")...)
	page = append(page, `">`...)
	page = append(page, html.EscapeString(description)...)
	page = append(page, "</desc>\n"...)
	page = append(page, c.out...)
	return append(page, "</svg>\n"...)
}

// AppendPicture adds the drawing as an ornament of the text beside it, which says
// the same.
func (c *Canvas) AppendPicture(page []byte) []byte {
	c.ungroup()
	page = append(page, `<svg aria-hidden="true" class="sample" viewBox="0 0 `...)
	page = decimal(page, float64(c.width))
	page = append(page, ' ')
	page = decimal(page, float64(c.height))
	page = append(page, `" width="`...)
	page = decimal(page, float64(c.width)*1.5)
	page = append(page, `" height="`...)
	page = decimal(page, float64(c.height)*1.5)
	page = append(page, `">`...)
	page = append(page, c.out...)
	return append(page, "</svg>"...)
}

// SetLineWidth is of vg.Canvas, as are those below without a comment.
func (c *Canvas) SetLineWidth(w vg.Length)               { c.now.width = w }
func (c *Canvas) SetLineDash(d []vg.Length, _ vg.Length) { c.now.dash = d }
func (c *Canvas) SetColor(k color.Color)                 { c.now.color = plain(k) }
func (c *Canvas) Push()                                  { c.saved = append(c.saved, c.now) }
func (c *Canvas) DrawImage(vg.Rectangle, image.Image)    {}

func (c *Canvas) Pop() {
	if n := len(c.saved) - 1; n >= 0 {
		c.now, c.saved = c.saved[n], c.saved[:n]
	}
}

func (c *Canvas) Rotate(angle float64) {
	sin, cos := math.Sincos(angle)
	c.now.m = c.now.m.times(matrix{cos, sin, -sin, cos, 0, 0})
}

func (c *Canvas) Translate(p vg.Point) {
	c.now.m = c.now.m.times(matrix{1, 0, 0, 1, float64(p.X), float64(p.Y)})
}

func (c *Canvas) Scale(x, y float64) {
	c.now.m = c.now.m.times(matrix{x, 0, 0, y, 0, 0})
}

func (c *Canvas) Stroke(p vg.Path) {
	if c.now.width <= 0 || len(p) == 0 {
		return
	}
	c.ungroup()
	c.text("<path")
	c.paint(" s-", " fill=\"none\" stroke=\"", c.now.color)
	if c.now.width != 1 {
		c.attribute("stroke-width", c.now.width)
	}
	if len(c.now.dash) > 0 {
		c.text(` stroke-dasharray="`)
		for i, d := range c.now.dash {
			if i > 0 {
				c.text(" ")
			}
			c.out = decimal(c.out, float64(d))
		}
		c.text(`"`)
	}
	c.path(p)
	c.text("/>\n")
}

func (c *Canvas) Fill(p vg.Path) {
	if len(p) == 0 {
		return
	}
	c.ungroup()
	c.text("<path")
	c.paint(" f-", " fill=\"", c.now.color)
	c.path(p)
	c.text("/>\n")
}

func (c *Canvas) FillString(f font.Face, p vg.Point, text string) {
	c.Label(f.Font.Size, p, 0, text)
}

// Label sets one line of text in the current colour; the anchor is its baseline
// at the left (0), middle (-0.5) or right (-1).
func (c *Canvas) Label(size vg.Length, p vg.Point, anchor float64, text string) {
	if size <= 0 || text == "" {
		return
	}
	c.ungroup()
	x, y := c.now.m.at(p)
	y = float64(c.height) - y
	c.text("<text")
	c.paint(" f-", " fill=\"", c.now.color)
	switch {
	case anchor <= -1:
		c.text(` text-anchor="end"`)
	case anchor < 0:
		c.text(` text-anchor="middle"`)
	}
	c.attribute("font-size", size)
	c.attribute("x", vg.Length(x))
	c.attribute("y", vg.Length(y))
	if turn := math.Atan2(c.now.m.b, c.now.m.a); turn != 0 {
		c.text(` transform="rotate(`)
		c.out = decimal(c.out, -turn*180/math.Pi)
		c.text(" ")
		c.out = decimal(c.out, x)
		c.text(" ")
		c.out = decimal(c.out, y)
		c.text(`)"`)
	}
	c.text(">")
	c.text(html.EscapeString(text))
	c.text("</text>\n")
}

// Mark draws one closed shape with its edge, and a text that shows when it is
// pointed at.
func (c *Canvas) Mark(p vg.Path, fill, edge color.Color, width vg.Length, text string) {
	g := group{plain(fill), plain(edge), width, true}
	if c.group != g {
		c.ungroup()
		c.group = g
		c.text(`<g`)
		f, e := c.classes[g.fill], c.classes[g.edge]
		if f != "" && e != "" {
			c.text(` class="f-` + f + ` e-` + e + `"`)
		} else {
			c.text(` fill="` + hex(g.fill) + `"`)
			if e != "" {
				c.text(` class="e-` + e + `"`)
			} else {
				c.text(` stroke="` + hex(g.edge) + `"`)
			}
		}
		c.attribute("stroke-width", width)
		c.text(">\n")
	}
	c.text("<path")
	c.path(p)
	c.text("><title>")
	c.text(html.EscapeString(text))
	c.text("</title></path>\n")
}

func (c *Canvas) ungroup() {
	if c.group.open {
		c.text("</g>\n")
		c.group = group{}
	}
}

// paint writes the class of a colour, or the colour where it has none.
func (c *Canvas) paint(class, otherwise string, k color.RGBA) {
	if name := c.classes[k]; name != "" {
		c.text(` class="` + class[1:] + name + `"`)
		return
	}
	c.text(otherwise + hex(k) + `"`)
}

func (c *Canvas) path(p vg.Path) {
	c.text(` d="`)
	var x, y float64 // where the pen is, as written
	to := func(command byte, at vg.Point) {
		a, b := c.now.m.at(at)
		a, b = tenth(a), tenth(float64(c.height)-b)
		if command == 'L' { // relative moves are shorter
			c.out = decimal(append(c.out, 'l'), a-x)
			c.out = decimal(append(c.out, ' '), b-y)
		} else {
			c.out = decimal(append(c.out, command), a)
			c.out = decimal(append(c.out, ' '), b)
		}
		x, y = a, b
	}
	for _, q := range p {
		switch q.Type {
		case vg.MoveComp:
			to('M', q.Pos)
		case vg.LineComp:
			to('L', q.Pos)
		case vg.ArcComp:
			c.arc(q, to)
		case vg.CurveComp: // as the chord: charts draw no curves but as lines
			to('L', q.Pos)
		case vg.CloseComp:
			c.text("z")
		}
	}
	c.text(`"`)
}

// arc draws an arc of a circle in two halves, since one whole circle would be
// none to SVG.
func (c *Canvas) arc(q vg.PathComp, to func(byte, vg.Point)) {
	point := func(angle float64) vg.Point {
		sin, cos := math.Sincos(angle)
		return vg.Point{X: q.Pos.X + q.Radius*vg.Length(cos), Y: q.Pos.Y + q.Radius*vg.Length(sin)}
	}
	radius := float64(q.Radius) * math.Hypot(c.now.m.a, c.now.m.b)
	if math.Abs(q.Angle) >= 2*math.Pi-1e-9 {
		// The ends are rounded, and half a circle of a radius that is a little too
		// long for them is flat. One too short is made to fit (SVG 2, 9.5.1).
		radius *= 0.9
	}
	sweep := " 0 0 0 "
	if q.Angle < 0 {
		sweep = " 0 0 1 "
	}
	for _, part := range []float64{0.5, 1} {
		c.out = decimal(append(c.out, 'A'), radius)
		c.out = decimal(append(c.out, ' '), radius)
		c.text(sweep)
		n := len(c.out)
		to('M', point(q.Start+part*q.Angle))
		c.out = append(c.out[:n], c.out[n+1:]...) // the point alone
	}
}

func (c *Canvas) attribute(name string, v vg.Length) {
	c.text(" " + name + `="`)
	c.out = decimal(c.out, float64(v))
	c.text(`"`)
}

func (c *Canvas) text(t string) { c.out = append(c.out, t...) }

func tenth(x float64) float64 { return math.Round(x*10) / 10 }

// decimal writes a number to a tenth of a point (a hundredth below one), without
// needless digits.
func decimal(to []byte, x float64) []byte {
	switch {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return append(to, '0')
	case math.Abs(x) < 1:
		x = math.Round(x*100) / 100
	default:
		x = tenth(x)
	}
	if x == 0 {
		x = 0 // never −0
	}
	return strconv.AppendFloat(to, x, 'f', -1, 64)
}

func plain(k color.Color) color.RGBA {
	if k == nil {
		return color.RGBA{A: 255}
	}
	return color.RGBAModel.Convert(k).(color.RGBA)
}

func hex(k color.RGBA) string {
	const digits = "0123456789abcdef"
	out := []byte{'#'}
	for _, v := range []uint8{k.R, k.G, k.B} {
		out = append(out, digits[v>>4], digits[v&15])
	}
	return string(out)
}
