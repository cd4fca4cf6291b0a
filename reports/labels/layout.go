package labels

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Code is the kind of code on a label.
type Code string

// The kinds of code.
const (
	QR      Code = "qr"
	Code128 Code = "code128"
)

// Layout says how labels lie on the sheet. Its zero value is the usual sheet
// of three columns of seven, with QR codes.
type Layout struct {
	Width, Height float64 // of a label in mm; both 0: 63.5 × 38.1 with 2.5 mm between the columns
	Columns, Rows int     // 0: as many as fit
	GapX, GapY    float64 // between columns and between rows in mm
	Code          Code    // "" is QR
	CutLines      bool    // draw the labels' edges, for plain paper
	Skip          int     // places of the first sheet that are used up
}

// The usual sheet of labels: common practice, no source.
const (
	usualWidth, usualHeight, usualGap = 63.5, 38.1, 2.5 // mm
)

// Of gives the layout of labels of a size in mm, with the gap between columns
// that sheets of the usual size have, else with none.
func Of(width, height float64) Layout {
	l := Layout{Width: width, Height: height}
	if width == usualWidth && height == usualHeight {
		l.GapX = usualGap
	}
	return l
}

// A4, in points and millimetres.
const (
	mm                      = 72 / 25.4
	sheetWidth, sheetHeight = 210.0, 297.0
	pageWidth, pageHeight   = sheetWidth * mm, sheetHeight * mm
	slack                   = 0.01 // mm by which sums of rounded sizes may exceed the sheet
	leastPrinted            = 4.2  // mm at the edge of the paper that printers leave white: common practice, no source
	leastInset, mostInset   = 1.5, 5.0
	leastSide               = 5.0 // of a label, below which no text or code is thinkable
)

// sheet is a layout reckoned out, in points.
type sheet struct {
	columns, rows  int
	width, height  float64 // of a label
	stepX, stepY   float64 // from one label to the next
	left, top      float64 // of the first label
	insetX, insetY float64 // that a label's text keeps from its edge
}

func (s *sheet) places() int { return s.columns * s.rows }

// corner gives the upper left corner of a place, counted along the rows.
func (s *sheet) corner(place int) (x, y float64) {
	return s.left + float64(place%s.columns)*s.stepX, s.top + float64(place/s.columns)*s.stepY
}

// Places gives how many labels a sheet holds, or why there can be none.
func (l Layout) Places() (int, error) {
	s, err := l.sheet()
	if err != nil {
		return 0, err
	}
	return s.places(), nil
}

// usual fills in the size where none is given.
func (l Layout) usual() Layout {
	if l.Width == 0 && l.Height == 0 {
		l.Width, l.Height = usualWidth, usualHeight
		if l.GapX == 0 {
			l.GapX = usualGap
		}
	}
	return l
}

// sheet reckons out a layout: the grid is centred on the page.
func (l Layout) sheet() (*sheet, error) {
	l = l.usual()
	if err := checkSize(l.Width, l.Height); err != nil {
		return nil, err
	}
	if !(l.GapX >= 0 && l.GapX <= sheetWidth && l.GapY >= 0 && l.GapY <= sheetHeight) {
		return nil, fmt.Errorf("gaps of %s and %s mm between labels; they are at least 0", number(l.GapX), number(l.GapY))
	}
	if l.Code != "" && l.Code != QR && l.Code != Code128 {
		return nil, fmt.Errorf("%q is no kind of code; it is %s or %s", l.Code, QR, Code128)
	}
	columns, err := fitting(l.Columns, l.Width, l.GapX, sheetWidth, "columns", "wide")
	if err != nil {
		return nil, err
	}
	rows, err := fitting(l.Rows, l.Height, l.GapY, sheetHeight, "rows", "high")
	if err != nil {
		return nil, err
	}
	if l.Skip < 0 || l.Skip >= columns*rows {
		return nil, fmt.Errorf("%d places of the first sheet to be skipped; it has %d, of which at most %d can be used up", l.Skip, columns*rows, columns*rows-1)
	}
	s := &sheet{
		columns: columns, rows: rows, width: l.Width * mm, height: l.Height * mm,
		stepX: (l.Width + l.GapX) * mm, stepY: (l.Height + l.GapY) * mm,
	}
	s.left = (pageWidth - float64(columns-1)*s.stepX - s.width) / 2
	s.top = (pageHeight - float64(rows-1)*s.stepY - s.height) / 2
	// Labels are all set alike, so what printers leave white at the edge of the
	// paper is kept free in each.
	inset := math.Min(math.Max(0.035*math.Min(l.Width, l.Height), leastInset), mostInset) * mm
	s.insetX = math.Max(inset, leastPrinted*mm-s.left)
	s.insetY = math.Max(inset, leastPrinted*mm-s.top)
	return s, nil
}

// fitting gives how many labels of a size lie side by side on a sheet, or
// checks the number asked for.
func fitting(asked int, size, gap, on float64, what, how string) (int, error) {
	most := int((on + gap + slack) / (size + gap))
	switch {
	case asked < 0:
		return 0, fmt.Errorf("%d %s of labels; 0 takes as many as fit", asked, what)
	case asked > most:
		return 0, fmt.Errorf("%d %s of labels %s mm %s do not fit on A4, which is %s mm %s: at most %d do", asked, what, number(size), how, number(on), how, most)
	case asked > 0:
		return asked, nil
	}
	return most, nil
}

func checkSize(width, height float64) error {
	if !(width >= leastSide && height >= leastSide) {
		return fmt.Errorf("a label of %s × %s mm; both sides are at least %s mm", number(width), number(height), number(leastSide))
	}
	if width > sheetWidth+slack || height > sheetHeight+slack {
		return fmt.Errorf("a label of %s × %s mm is larger than A4, %s × %s mm", number(width), number(height), number(sheetWidth), number(sheetHeight))
	}
	return nil
}

// ParseSize reads a label's width and height in mm: 63.5x38.1. The sign between
// them may be x, X or ×, the decimal sign a point or a comma; mm may follow.
func ParseSize(s string) (width, height float64, err error) {
	text := strings.TrimSpace(s)
	text = strings.TrimSpace(strings.TrimSuffix(text, "mm"))
	parts := strings.Split(strings.NewReplacer("X", "x", "×", "x").Replace(text), "x")
	if len(parts) != 2 {
		return 0, 0, fmt.Errorf("%q is no size of a label; write width x height in mm, 63.5x38.1", s)
	}
	if width, err = parseMM(parts[0]); err == nil {
		height, err = parseMM(parts[1])
	}
	if err != nil {
		return 0, 0, fmt.Errorf("%q is no size of a label: %w; write width x height in mm, 63.5x38.1", s, err)
	}
	if err := checkSize(width, height); err != nil {
		return 0, 0, err
	}
	return width, height, nil
}

func parseMM(s string) (float64, error) {
	s = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), "mm"))
	if s == "" {
		return 0, errors.New("a number is missing")
	}
	digits := 0
	for i := 0; i < len(s); i++ {
		switch {
		case s[i] >= '0' && s[i] <= '9':
			digits++
		case s[i] != '.' && s[i] != ',':
			return 0, fmt.Errorf("%q is no plain number", s)
		}
	}
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	if err != nil || digits == 0 {
		return 0, fmt.Errorf("%q is no plain number", s)
	}
	return v, nil
}

// number writes millimetres without needless decimals.
func number(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }
