// Package codes turns ids into QR and Code 128 symbols, as rectangles of whole
// modules that a document fills as vectors. It decides nothing about sizes
// beyond what scanners need at the least.
package codes

import (
	"errors"
	"fmt"

	"github.com/boombuler/barcode/code128"
	"github.com/boombuler/barcode/qr"

	"shelfspan/reports/pdf"
)

// What a hand scanner reads from a laser print. The quiet zones are those of
// ISO/IEC 18004 and ISO/IEC 15417, the least bar height is that of the latter
// (5 mm or 15 % of the symbol's width, the larger); all from memory. The least
// modules are common practice, no source.
const (
	QuietQR           = 4    // modules on each side
	QuietCode128      = 10   // modules to the left and the right
	LeastModuleQR     = 0.35 // mm
	LeastBarCode128   = 0.19 // mm, of the narrow bar
	LeastHeight128    = 5.0  // mm
	LeastHeightOfWide = 0.15 // of the width
)

// What a symbol can hold at the most.
const (
	mostQR      = 2331 // bytes, ISO/IEC 18004, version 40 at level M, from memory; a test asks the encoder
	mostCode128 = 80   // characters, the encoder's bound
)

// Symbol is a code without its quiet zone.
type Symbol struct {
	Columns, Rows int // size in modules; a Code 128 has one row, drawn as high as its bars
	Rects         []pdf.Rect
}

// QR draws a text as a QR code at error correction level M, which bears 15 % of
// damage, in byte mode whatever the text, so that texts of one length make
// codes of one size.
func QR(text string) (Symbol, error) {
	g, err := grid(text)
	if err != nil {
		return Symbol{}, err
	}
	return g.symbol(), nil
}

// Code128 draws a text as a Code 128. It takes printable ASCII: the encoder has
// other meanings for some letters beyond it, and a control character would
// reach the computer behind a scanner as a key.
func Code128(text string) (Symbol, error) {
	for _, r := range text {
		if r < ' ' || r > '~' {
			return Symbol{}, fmt.Errorf("a Code 128 has no %q", r)
		}
	}
	if n := len(text); n > mostCode128 {
		return Symbol{}, fmt.Errorf("%d characters are more than the %d of a Code 128", n, mostCode128)
	}
	if text == "" {
		return Symbol{}, errEmpty
	}
	code, err := code128.Encode(text)
	if err != nil {
		return Symbol{}, err
	}
	g := newBits(code.Bounds().Dx(), 1)
	g.read(code)
	return g.symbol(), nil
}

var errEmpty = errors.New("there is nothing to put into a code")

func grid(text string) (bits, error) {
	if text == "" {
		return bits{}, errEmpty
	}
	if n := len(text); n > mostQR {
		return bits{}, fmt.Errorf("%d bytes are more than the %d of a QR code", n, mostQR)
	}
	code, err := qr.Encode(text, qr.M, qr.Unicode)
	if err != nil {
		return bits{}, err
	}
	g := newBits(code.Bounds().Dx(), code.Bounds().Dy())
	g.read(code)
	return g, nil
}
