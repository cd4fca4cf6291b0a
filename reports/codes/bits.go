package codes

import (
	"image"
	"image/color"

	"shelfspan/reports/pdf"
)

// bits are the modules of a symbol row by row, a set one dark.
type bits struct {
	columns, rows int
	words         []uint64
}

func newBits(columns, rows int) bits {
	return bits{columns, rows, make([]uint64, (columns*rows+63)/64)}
}

func (b bits) at(x, y int) bool {
	i := y*b.columns + x
	return b.words[i/64]>>(i%64)&1 == 1
}

func (b bits) set(x, y int) {
	i := y*b.columns + x
	b.words[i/64] |= 1 << (i % 64)
}

func (b bits) read(code image.Image) {
	for y := range b.rows {
		for x := range b.columns {
			if code.At(x, y) == color.Black {
				b.set(x, y)
			}
		}
	}
}

// symbol merges dark modules into runs along the rows, and runs that repeat in
// the next row into one rectangle.
func (b bits) symbol() Symbol {
	s := Symbol{Columns: b.columns, Rows: b.rows, Rects: make([]pdf.Rect, 0, b.columns*b.rows/5+1)}
	var above, present []int // indices of the rectangles that reach the last row, by X
	for y := range b.rows {
		present = present[:0]
		next := 0
		for x := 0; x < b.columns; x++ {
			if !b.at(x, y) {
				continue
			}
			from := x
			for x < b.columns && b.at(x, y) {
				x++
			}
			for next < len(above) && s.Rects[above[next]].X < from {
				next++
			}
			if next < len(above) {
				if r := &s.Rects[above[next]]; r.X == from && r.W == x-from {
					r.H++
					present = append(present, above[next])
					continue
				}
			}
			present = append(present, len(s.Rects))
			s.Rects = append(s.Rects, pdf.Rect{X: from, Y: y, W: x - from, H: 1})
		}
		above, present = present, above
	}
	return s
}
