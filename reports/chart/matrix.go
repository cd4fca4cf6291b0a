package chart

import (
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"shelfspan/reports/words"
)

const (
	matrixRow  = 19.0
	matrixHead = 30.0
)

// Matrix draws the months lost by attribute and by what is compared, a cell each:
// the number with its sign stands in it, and it is the darker the more is lost, so
// that it is read in grey as well. It gives the height it needs.
func Matrix(m words.Matrix, horizon float64) (height float64, drawing func(draw.Canvas)) {
	height = matrixHead + matrixRow*float64(len(m.Rows))
	return height, func(dc draw.Canvas) {
		s := textStyle(8)
		left := vg.Length(0)
		for _, r := range m.Rows {
			left = max(left, s.Width(oneLine(s, r.Attribute, 120)))
		}
		left += 8
		width := (dc.Max.X - dc.Min.X - left) / vg.Length(max(len(m.Columns), 1))
		width = min(width, 120)
		for j, name := range m.Columns {
			of, against, _ := strings.Cut(name, " / ")
			middle := dc.Min.X + left + (vg.Length(j)+0.5)*width
			put(dc, s, vg.Point{X: middle, Y: dc.Max.Y - 9}, -0.5, oneLine(s, of, width-4))
			quiet := s
			quiet.Color = grey
			put(dc, quiet, vg.Point{X: middle, Y: dc.Max.Y - 20}, -0.5, oneLine(s, "/ "+against, width-4))
		}
		for i, r := range m.Rows {
			top := dc.Max.Y - matrixHead - vg.Length(i)*matrixRow
			put(dc, s, vg.Point{X: dc.Min.X, Y: top - 13}, 0, oneLine(s, r.Attribute, left-8))
			for j, cell := range r.Cells {
				x := dc.Min.X + left + vg.Length(j)*width
				fill, letters := tone(math.Round(10*r.Lost[j]) / 10 / horizon)
				box(dc, fill, x, top-matrixRow, x+width, top)
				outline(dc, solid(grey, 0.4), x, top-matrixRow, x+width, top)
				in := s
				in.Color = letters
				put(dc, in, vg.Point{X: x + width/2, Y: top - 13}, -0.5, cell)
			}
		}
	}
}

// tone is the fill of a cell that loses a part of the horizon, and what is written
// on it: dark on a light one, light on a dark one, 4.5:1 or more.
func tone(part float64) (fill, letters color.Color) {
	if math.IsNaN(part) || part < 1e-3 {
		return paper, ink
	}
	part = min(part, 1)
	v := uint8(math.Round(238 - 190*math.Sqrt(part)))
	if v < 118 {
		return color.RGBA{v, v, v, 255}, paper
	}
	return color.RGBA{v, v, v, 255}, color.RGBA{0, 0, 0, 255}
}
