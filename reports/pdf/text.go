package pdf

import (
	"bytes"
	"strings"
	"unicode"
	"unicode/utf8"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// Replacement stands visibly in the place of a character that no embedded
// font has, of one beyond the basic plane, and of bytes that are no UTF-8.
const Replacement = '□'

// family is the name the fonts have inside the PDF.
const family = "liberationsans"

// style is one of the embedded fonts.
type style int

const (
	regular style = iota
	bold
	styles
)

// face is an embedded font: its bytes, what it can print and how wide.
type face struct {
	code   string // the PDF library's letter for the style
	file   []byte
	font   *sfnt.Font
	buffer sfnt.Buffer
	ascii  [128]float64
	other  map[rune]float64 // advance in em; 0 where the font lacks it
}

func newFace(s style) *face {
	source, code := liberationsansregular.TTF, ""
	if s == bold {
		source, code = liberationsansbold.TTF, "B"
	}
	// The PDF library writes into the bytes it is given while it cuts the font
	// down, so each document has its own copy.
	f := &face{code: code, file: bytes.Clone(source), other: map[rune]float64{}}
	f.font, _ = opentype.Parse(source) // compiled in; that it parses is tested
	for r := range f.ascii {
		f.ascii[r] = f.measure(rune(r))
	}
	return f
}

// advance is a character's width in em, 0 where it cannot be printed.
func (f *face) advance(r rune) float64 {
	if r >= 0 && r < 128 {
		return f.ascii[r]
	}
	if w, ok := f.other[r]; ok {
		return w
	}
	w := f.measure(r)
	f.other[r] = w
	return w
}

func (f *face) measure(r rune) float64 {
	if r > 0xFFFF || !unicode.IsGraphic(r) {
		return 0
	}
	i, err := f.font.GlyphIndex(&f.buffer, r)
	if err != nil || i == 0 {
		return 0
	}
	em := f.font.UnitsPerEm()
	a, err := f.font.GlyphAdvance(&f.buffer, i, fixed.Int26_6(em), font.HintingNone)
	if err != nil {
		return 0
	}
	return float64(a) / float64(em)
}

// stand-ins for characters that mean the same to the reader.
var standIns = map[rune]string{
	'\u2010': "-", '\u2011': "-", '\u00ad': "", '\u200b': "", '\ufeff': "",
	'\u2007': "\u00a0", '\u2009': "\u00a0", '\u202f': "\u00a0",
	'\t': " ", '\n': " ", '\r': " ", '\u2028': " ", '\u2029': " ",
}

// clean is the one gate all text passes on its way into the document. What it
// returns is valid UTF-8 of the basic plane and has a glyph in every style.
func (d *Document) clean(s string) string {
	plain := true
	for i := 0; i < len(s); i++ {
		if s[i] < 0x20 || s[i] > 0x7e {
			plain = false
			break
		}
	}
	if plain {
		return s
	}
	s = norm.NFC.String(s)
	var b strings.Builder
	b.Grow(len(s))
	for i := 0; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		invalid := r == utf8.RuneError && n == 1
		i += n
		if t, ok := standIns[r]; ok {
			b.WriteString(t)
			continue
		}
		if invalid || !d.printable(r) {
			d.replaced++
			r = Replacement
		}
		b.WriteRune(r)
	}
	return b.String()
}

// printable reports whether every style has the character, with a width: a
// combining mark that is part of no composed letter would vanish in print.
func (d *Document) printable(r rune) bool {
	for _, f := range d.faces {
		if f.advance(r) == 0 {
			return false
		}
	}
	return true
}

// width is the width of clean text in points.
func (d *Document) width(s string, st style, size float64) float64 {
	f, w := d.faces[st], 0.0
	for _, r := range s {
		w += f.advance(r)
	}
	return w * size
}

// fit cuts clean text to a width, with an ellipsis where it was cut.
func (d *Document) fit(s string, st style, size, width float64) string {
	if d.width(s, st, size) <= width {
		return s
	}
	f := d.faces[st]
	w := f.advance('…') * size
	for i, r := range s {
		w += f.advance(r) * size
		if w > width {
			return strings.TrimRight(s[:i], " ") + "…"
		}
	}
	return s
}

// wrap breaks clean text into lines no wider than width: at spaces, else
// after a hyphen, slash, underscore, comma or full stop, else where it must.
// There is always at least one line.
func (d *Document) wrap(s string, st style, size, width float64) []string {
	f := d.faces[st]
	limit := width/size + 1e-6 // a column as wide as its longest word holds it, whatever the rounding
	var lines []string
	start, space, soft := 0, -1, -1 // of the line; its last space and other place to break
	w := 0.0
	var wSpace, wSoft float64 // width up to and with that place
	s = strings.TrimSpace(s)
	for i, r := range s {
		a := f.advance(r)
		if r == ' ' {
			space, wSpace = i, w+a
			w += a
			continue
		}
		for w+a > limit && i > start {
			switch {
			case space > start && (wSpace > limit/3 || soft <= space):
				lines = append(lines, strings.TrimRight(s[start:space], " "))
				start, w, wSoft = space+1, w-wSpace, wSoft-wSpace
			case soft > start:
				lines = append(lines, s[start:soft])
				start, w = soft, w-wSoft
			default:
				lines = append(lines, s[start:i])
				start, w = i, 0
			}
			if space = -1; soft <= start {
				soft = -1
			}
		}
		w += a
		switch r {
		case '-', '/', '_', ',', '.', '–', ';', ':', '|':
			if i > start {
				soft, wSoft = i+utf8.RuneLen(r), w
			}
		}
	}
	return append(lines, s[start:])
}

// few wraps a heading or caption, which is cut after four lines.
func (d *Document) few(s string, st style, size, width float64) []string {
	const most = 4
	lines := d.wrap(s, st, size, width)
	if len(lines) > most {
		lines = lines[:most]
		lines[most-1] = d.fit(lines[most-1]+" …", st, size, width)
	}
	return lines
}

type rgb struct{ r, g, b int }

// The colours of text and rules; all text has a contrast of 4.5:1 or more.
var (
	black = rgb{}
	ink   = rgb{26, 26, 26}
	grey  = rgb{95, 95, 95}
	faint = rgb{200, 200, 200}
	wash  = rgb{243, 243, 241}
)

// text sets clean text on the present page; y is the baseline from the top.
func (d *Document) text(x, y float64, s string, st style, size float64, c rgb) {
	d.textOn(d.current(), x, y, s, st, size, c)
}

// textOn sets text on a page that need not be the last: the library reckons y
// from the height of its last page.
func (d *Document) textOn(p page, x, y float64, s string, st style, size float64, c rgb) {
	if s == "" {
		return
	}
	_, last := d.f.GetPageSize()
	d.f.SetFont(family, d.faces[st].code, size)
	d.f.SetFillColor(c.r, c.g, c.b)
	d.f.SetTextColor(c.r, c.g, c.b)
	d.f.Text(x, y+last-p.h, s)
}

func (d *Document) fill(x, y, w, h float64, c rgb) {
	d.f.SetFillColor(c.r, c.g, c.b)
	d.f.Rect(x, y, w, h, "F")
}

// rule draws a horizontal line of the given weight.
func (d *Document) rule(x, y, to, weight float64, c rgb) {
	d.ruleOn(d.current(), x, y, to, weight, c)
}

func (d *Document) ruleOn(p page, x, y, to, weight float64, c rgb) {
	_, last := d.f.GetPageSize()
	d.f.SetDrawColor(c.r, c.g, c.b)
	d.f.SetLineWidth(weight)
	d.f.Line(x, y+last-p.h, to, y+last-p.h)
}
