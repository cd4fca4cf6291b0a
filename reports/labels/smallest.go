package labels

import (
	"fmt"
	"math"
)

// SizeError says that a label cannot be read or scanned at the size asked for.
type SizeError struct {
	Label         int     // its index
	Unit          string  // its id
	Layout        Layout  // as asked for
	Width, Height float64 // in mm, a size that holds all the labels; 0 where none does on A4
	QR            bool    // a Code 128 was asked for, and QR codes would fit the size
}

func (e *SizeError) Error() string {
	l := e.Layout.usual()
	text := fmt.Sprintf("a label of %s × %s mm cannot hold what label %d, unit %q, must say, legibly and with a code that can be scanned; ",
		number(l.Width), number(l.Height), e.Label+1, e.Unit)
	switch {
	case e.Width > 0:
		text += fmt.Sprintf("%s × %s mm would do", number(e.Width), number(e.Height))
	default:
		text += "no size on A4 would do"
	}
	if e.QR {
		text += ", or QR codes in place of Code 128, which fit this size"
	}
	return text
}

const growth = 0.5 // mm by which larger sizes are tried

// sizeError finds the size that would do for all labels, where the one of an
// index does not fit.
func (s *setter) sizeError(contents []content, labels []Label, i int, l Layout) error {
	e := &SizeError{Label: i, Unit: labels[i].Unit, Layout: l}
	size, ok := l.usual(), true
	size.Skip = 0 // larger labels have fewer places
	for at := i; ok && at >= 0; at = s.firstUnfit(contents, size) {
		size, ok = s.grow(&contents[at], size)
	}
	if ok {
		e.Width, e.Height = size.Width, size.Height
	}
	if l.Code == Code128 {
		l.Code = QR
		e.QR = s.fitsAsQR(labels, l)
	}
	return e
}

func (s *setter) fitsAsQR(labels []Label, l Layout) bool {
	contents, err := prepare(s.doc, labels, QR)
	if err != nil {
		return false
	}
	return newSetter(s.doc, QR).firstUnfit(contents, l) < 0
}

// firstUnfit gives the index of a label that does not fit a layout, -1 where
// all do.
func (s *setter) firstUnfit(contents []content, l Layout) int {
	sh, err := l.sheet()
	if err != nil {
		return 0
	}
	for i := range contents {
		if !s.fits(&contents[i], sh) {
			return i
		}
	}
	return -1
}

// grow finds the smallest size that holds a label: wider or higher, whichever
// takes less paper, else both in proportion.
func (s *setter) grow(c *content, from Layout) (Layout, bool) {
	fits := func(l Layout) bool {
		sh, err := l.sheet()
		return err == nil && s.fits(c, sh)
	}
	up := func(v float64) float64 { return math.Floor(v/growth+1) * growth }
	search := func(next func(*Layout)) (Layout, bool) {
		for l := from; ; {
			next(&l)
			if l.Width > sheetWidth || l.Height > sheetHeight {
				return l, false
			}
			if fits(l) {
				return l, true
			}
		}
	}
	wider, okWider := search(func(l *Layout) { l.Width = up(l.Width) })
	higher, okHigher := search(func(l *Layout) { l.Height = up(l.Height) })
	switch {
	case okWider && okHigher && wider.Width*wider.Height <= higher.Width*higher.Height, okWider && !okHigher:
		return wider, true
	case okHigher:
		return higher, true
	}
	both, ok := search(func(l *Layout) {
		l.Height = up(l.Height)
		l.Width = math.Min(up(l.Width), sheetWidth)
	})
	return both, ok
}
