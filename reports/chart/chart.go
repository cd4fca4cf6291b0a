// Package chart draws the charts of an evaluation on any vector canvas: trends
// over time, the Arrhenius line, weight loss by unit and grades by time.
//
// Nothing is told by colour alone: batches differ in shape and in lightness,
// lines in dashes, and every line that matters is labelled outside the frame,
// where it covers no data.
package chart

import (
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Chart is a drawing that fits itself to the canvas it is given.
type Chart struct {
	// Description says in words what the chart shows, for readers who cannot
	// see it.
	Description string

	x, y   axis
	top    *axis // a second scale of x, above the frame; its ticks are at values of x
	shade  []span
	bars   []bar
	lines  []line
	points []points
	events []event // marks on x, labelled above the frame
	levels []level // marks on y, labelled at the right of it
	legend []entry
}

// axis is a scale with the ticks it is to show; ticks that would run into each
// other lose their texts.
type axis struct {
	label    string
	unit     string // after the label, never cut
	min, max float64
	ticks    []tick
}

type tick struct {
	at   float64
	text string
}

// xy is a point in the units of the axes.
type xy struct{ x, y float64 }

// span shades x from..to.
type span struct{ from, to float64 }

// bar is a filled box.
type bar struct {
	min, max xy
	fill     color.Color
	says     string // what it stands for, in words
}

type line struct {
	points []xy
	style  draw.LineStyle
}

// points are marks of one kind; low and high, where given, are the ends of
// error bars.
type points struct {
	at        []xy
	low, high []float64
	marker    marker
	size      vg.Length
	shift     vg.Length          // to the right, so that batches pulled together stay apart
	says      func(i int) string // what the i-th stands for, in words
}

type event struct {
	at   float64
	text string
	line draw.LineStyle
	ring *float64 // the y at which a ring marks the event; nil for none
}

type level struct {
	at          float64
	text, value string
	line        draw.LineStyle
}

// marking is a canvas on which a mark can say what it stands for.
type marking interface {
	Mark(shape vg.Path, fill, edge color.Color, width vg.Length, says string)
}

// labelling is a canvas that sets a text by its anchor, whatever font it has.
type labelling interface {
	Label(size vg.Length, at vg.Point, anchor float64, text string)
}

// entry is one line of the legend: a marker, a line, a box or several of them.
type entry struct {
	text   string
	shared string // the text where charts share a legend; "" where it is the same
	marker *marker
	line   *draw.LineStyle
	fill   color.Color
}

// Colours names the colours of charts, for a canvas that gives them other values:
// b0, b1 … are the batches', t0, t1 … their tints, g0 to g100 the shades of grades,
// by how far each lies from the best to the worst in percent.
func Colours() map[color.RGBA]string {
	out := map[color.RGBA]string{ink: "ink", grey: "grey", faint: "faint", wash: "wash", paper: "paper", limit: "limit", strip: "strip"}
	for i, c := range Palette {
		out[c] = "b" + strconv.Itoa(i)
		out[tint(c).(color.RGBA)] = "t" + strconv.Itoa(i)
	}
	const mostGrades = 12 // a shade of more has no name
	for of := 1; of <= mostGrades; of++ {
		for g := range of {
			out[shadeOf(g, of)] = "g" + strconv.Itoa(int(math.Round(100*worse(g, of))))
		}
	}
	return out
}

// Colours other than those of the batches.
var (
	ink   = color.RGBA{26, 26, 26, 255}
	grey  = color.RGBA{95, 95, 95, 255}
	faint = color.RGBA{222, 222, 222, 255}
	wash  = color.RGBA{241, 241, 238, 255}
	paper = color.RGBA{255, 255, 255, 255}
	limit = color.RGBA{140, 30, 24, 255}   // acceptance limits
	strip = color.RGBA{200, 200, 194, 255} // windows of pulls
)

func solid(c color.Color, width vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: c, Width: width}
}

func dashed(c color.Color, width vg.Length, pattern ...vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: c, Width: width, Dashes: pattern}
}

// Draw draws the chart over the whole of the canvas. A chart narrower than 320
// points is one of several side by side and leaves its legend to Key.
func (c *Chart) Draw(dc draw.Canvas) {
	small := dc.Max.X-dc.Min.X < 320
	plain := textStyle(8)
	frame := dc.Rectangle
	if small {
		plain = textStyle(6.6)
	} else {
		frame.Min.Y += c.drawLegend(dc, plain)
	}
	frame.Max.X -= c.levelsWidth(plain)
	frame.Max.Y -= 4

	// The scale of y stands left of the frame; its height is known only once
	// what stands above and below it is.
	frame.Min.Y += 2*lineOf(plain) + 8
	left := vg.Length(0)
	for _, t := range c.y.ticks {
		left = max(left, plain.Width(t.text))
	}
	frame.Min.X += left + lineOf(plain) + 14
	above := vg.Length(0)
	if c.top != nil {
		above = 2*lineOf(plain) + 7
	}
	x := func(v float64) vg.Length {
		return frame.Min.X + vg.Length((v-c.x.min)/(c.x.max-c.x.min))*(frame.Max.X-frame.Min.X)
	}
	rows := c.placeEvents(plain, x, dc.Rectangle)
	frame.Max.Y -= above + vg.Length(rows)*lineOf(plain)
	if rows > 0 {
		frame.Max.Y -= 3
	}
	if frame.Max.X-frame.Min.X < 30 || frame.Max.Y-frame.Min.Y < 30 {
		return
	}
	y := func(v float64) vg.Length {
		return frame.Min.Y + vg.Length((v-c.y.min)/(c.y.max-c.y.min))*(frame.Max.Y-frame.Min.Y)
	}
	in := draw.Canvas{Canvas: dc.Canvas, Rectangle: frame}

	for _, s := range c.shade {
		from, to := max(x(s.from), frame.Min.X), min(x(s.to), frame.Max.X)
		if to > from {
			box(in, wash, from, frame.Min.Y, to, frame.Max.Y)
		}
	}
	for _, t := range c.y.ticks {
		in.StrokeLine2(solid(faint, 0.35), frame.Min.X, y(t.at), frame.Max.X, y(t.at))
	}
	for _, b := range c.bars {
		if m, ok := in.Canvas.(marking); ok {
			m.Mark(rectangle(x(b.min.x), y(b.min.y), x(b.max.x), y(b.max.y)), b.fill, ink, 0.4, b.says)
			continue
		}
		box(in, b.fill, x(b.min.x), y(b.min.y), x(b.max.x), y(b.max.y))
		outline(in, solid(ink, 0.4), x(b.min.x), y(b.min.y), x(b.max.x), y(b.max.y))
	}
	for _, l := range c.levels {
		in.StrokeLine2(l.line, frame.Min.X, y(l.at), frame.Max.X, y(l.at))
	}
	for _, e := range c.events {
		in.StrokeLine2(e.line, x(e.at), frame.Min.Y, x(e.at), frame.Max.Y)
	}
	for _, l := range c.lines {
		strokeCurve(in, l, x, y)
	}
	for _, p := range c.points {
		if small {
			p.size, p.shift = p.size*0.75, p.shift*0.75
		}
		drawPoints(in, p, x, y)
	}
	for _, e := range c.events {
		if e.ring != nil && in.Contains(vg.Point{X: x(e.at), Y: y(*e.ring)}) {
			ring(in, vg.Point{X: x(e.at), Y: y(*e.ring)})
		}
	}
	outline(in, solid(ink, 0.6), frame.Min.X, frame.Min.Y, frame.Max.X, frame.Max.Y)
	c.drawAxes(in, plain, x, y)
	c.drawLevels(in, plain, x, y, dc.Rectangle)
	c.drawEvents(in, plain, x, dc.Rectangle, frame.Max.Y+above)
}

// strokeCurve draws a line in the pieces of it that are finite and lie within
// the frame.
func strokeCurve(in draw.Canvas, l line, x, y func(float64) vg.Length) {
	var piece []vg.Point
	flush := func() {
		if len(piece) > 1 {
			in.StrokeLines(l.style, in.ClipLinesXY(piece)...)
		}
		piece = nil
	}
	// Far outside the frame a canvas runs out of digits.
	reach := 50 * (in.Max.Y - in.Min.Y)
	for _, p := range l.points {
		at := vg.Point{X: x(p.x), Y: y(p.y)}
		if math.IsNaN(float64(at.X)) || math.IsNaN(float64(at.Y)) || at.Y < in.Min.Y-reach || at.Y > in.Max.Y+reach {
			flush()
			continue
		}
		piece = append(piece, at)
	}
	flush()
}

func drawPoints(in draw.Canvas, p points, x, y func(float64) vg.Length) {
	for i, v := range p.at {
		at := vg.Point{X: x(v.x), Y: y(v.y)}
		if !in.Contains(at) {
			continue
		}
		at.X += p.shift
		if p.low != nil {
			lo := max(y(p.low[i]), in.Min.Y)
			if math.IsInf(p.low[i], -1) || math.IsNaN(p.low[i]) {
				lo = in.Min.Y
			}
			hi := min(y(p.high[i]), in.Max.Y)
			bar := solid(p.marker.color, 0.8)
			in.StrokeLine2(bar, at.X, lo, at.X, hi)
			in.StrokeLine2(bar, at.X-3, hi, at.X+3, hi)
			if lo > in.Min.Y {
				in.StrokeLine2(bar, at.X-3, lo, at.X+3, lo)
			}
		}
		if m, ok := in.Canvas.(marking); ok && p.says != nil {
			fill, edge, width := p.marker.colours()
			m.Mark(p.marker.shape(at, p.size), fill, edge, width, p.says(i))
			continue
		}
		p.marker.draw(in, at, p.size)
	}
}

func rectangle(x0, y0, x1, y1 vg.Length) vg.Path {
	var p vg.Path
	p.Move(vg.Point{X: x0, Y: y0})
	p.Line(vg.Point{X: x1, Y: y0})
	p.Line(vg.Point{X: x1, Y: y1})
	p.Line(vg.Point{X: x0, Y: y1})
	p.Close()
	return p
}

func box(c draw.Canvas, fill color.Color, x0, y0, x1, y1 vg.Length) {
	c.FillPolygon(fill, []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}})
}

func outline(c draw.Canvas, style draw.LineStyle, x0, y0, x1, y1 vg.Length) {
	c.StrokeLines(style, []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}, {X: x0, Y: y0}})
}

// ring marks where a line meets a limit.
func ring(c draw.Canvas, at vg.Point) {
	var p vg.Path
	p.Move(vg.Point{X: at.X + 4.2, Y: at.Y})
	p.Arc(at, 4.2, 0, 2*math.Pi)
	p.Close()
	c.SetLineStyle(solid(ink, 1.3))
	c.Stroke(p)
}
