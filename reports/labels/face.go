package labels

import (
	"math"
	"strings"
	"unicode/utf8"

	"shelfspan/reports/codes"
	"shelfspan/reports/pdf"
)

// Type sizes in points. Below the least nothing is set: common practice, no
// source.
const (
	leastSize = 6.0
	bigScale  = 1.4 // of what must be seen first: batch and time
	idScale   = 0.85
	lead      = 1.18 // height of a line over its size
	ascent    = 0.93 // of a line above its baseline
	spaced    = 0.14 // between paragraphs, of the base size
	wordSpace = 0.55 // between the pieces of a paragraph
	framePad  = 0.28 // between a caution and its frame, of its size
	frameGap  = 0.45 // between frames
	whole     = 14   // characters of a word that is never torn in two
	manyLines = 8    // beyond which those of an id are not evened out
)

// steps are the base sizes tried, from large to small.
var steps = [...]float64{22, 20, 18, 16, 14.5, 13, 12, 11, 10, 9.5, 9, 8.5, 8, 7.5, 7, 6.5, leastSize}

// dot is the grid of common laser printers, 600 to the inch. Modules are whole
// dots and begin on one, where there is room, so that none comes out wider than
// its fellows.
const dot = 72.0 / 600

const frameWeight = 0.6

const edge = 0.5 * mm // that a quiet zone keeps from the label's edge, for sheets that are fed askew

// face is a label set: where everything stands, from its upper left corner.
type face struct {
	base   float64 // size of its text
	texts  []placed
	frames []frame
	code   codes.Symbol
	codeX  float64
	codeY  float64
	// Width and height of a module; that of a bar code is as high as its bars.
	moduleX, moduleY float64
}

type placed struct {
	line       pdf.Line
	x, y, size float64
}

type frame struct{ x, y, w, h float64 }

func (f *face) draw(doc *pdf.Document, x, y float64) {
	onDot := func(v float64) float64 { return math.Round(v/dot) * dot }
	doc.Rects(onDot(x+f.codeX), onDot(y+f.codeY), f.moduleX, f.moduleY, f.code.Rects)
	for _, r := range f.frames {
		doc.Frame(x+r.x, y+r.y, r.w, r.h, frameWeight)
	}
	for _, t := range f.texts {
		doc.Place(t.line, x+t.x, y+t.y, t.size)
	}
}

// setter sets labels of one kind of code.
type setter struct {
	doc  *pdf.Document
	code Code
	// An ordinary label, and how it is set on the sheet last asked for: others
	// are set no larger, so that those of a study look alike whatever they say.
	ordinary content
	sheet    *sheet
	from     int // index of the ambition
	most     float64
}

func newSetter(doc *pdf.Document, code Code) *setter {
	s := &setter{doc: doc, code: code}
	s.ordinary.read(doc, &Label{
		Study: "AB-2025", Batch: "B12", Pack: "tube", Orientation: "horizontal", Condition: "25C60", Climate: "25 °C, 60 % RH",
		Time: "18M", Due: 0, Unit: "AB-2025/B12/tube/h/25C60/18M/12/K", Cautions: []string{"pressurised", "flammable"},
	})
	s.ordinary.code.Columns = ordinaryQR
	if code == Code128 {
		s.ordinary.code.Columns = ordinary128
	}
	return s
}

// Modules of an ordinary code.
const (
	ordinaryQR  = 29               // version 3, up to 42 bytes
	ordinary128 = 11*(1+28+1) + 13 // start, 28 characters, check, stop
)

// ambition is what a round of attempts insists on: a code of a size (the
// module of a QR code, the height of bars), and text no smaller than a base
// size. Later rounds ask less of both.
type ambition struct{ code, base float64 }

// set finds the largest text with which a label fits, with a code as large as
// goes with it.
func (s *setter) set(c *content, sh *sheet) (face, bool) {
	if s.sheet != sh {
		s.sheet, s.from, s.most = sh, 0, steps[0]
		if f, from, ok := s.attempt(&s.ordinary, sh); ok {
			s.from, s.most = from, f.base
		}
	}
	f, _, ok := s.attempt(c, sh)
	return f, ok
}

// attempt tries the sheet's ambitions one after the other.
func (s *setter) attempt(c *content, sh *sheet) (f face, round int, ok bool) {
	ambitions, arrangements := s.possible(c, sh)
	for round := s.from; round < len(ambitions); round++ {
		for _, base := range steps {
			if base < ambitions[round].base {
				break
			}
			if base > s.most {
				continue
			}
			if f, ok := arranged(arrangements, c, sh, base, ambitions[round].code); ok {
				return f, round, true
			}
		}
	}
	return face{}, 0, false
}

// fits reports whether a label fits at all: with the least of everything.
func (s *setter) fits(c *content, sh *sheet) bool {
	ambitions, arrangements := s.possible(c, sh)
	if len(ambitions) == 0 {
		return false
	}
	_, ok := arranged(arrangements, c, sh, leastSize, ambitions[len(ambitions)-1].code)
	return ok
}

// possible gives what may be tried, nothing where no code fits.
func (s *setter) possible(c *content, sh *sheet) ([]ambition, []arrangement) {
	if s.code != Code128 {
		return s.qrAmbitions(sh), s.qrArrangements(sh)
	}
	bar, ok := barOf(c, sh)
	if !ok && c != &s.ordinary { // whose text is set even so
		return nil, nil
	}
	return barAmbitions(c, sh, bar), s.barArrangements(bar)
}

func arranged(arrangements []arrangement, c *content, sh *sheet, base, code float64) (face, bool) {
	if base*4 > sh.height || !c.mayFit(base, sh) {
		return face{}, false
	}
	for _, arrange := range arrangements {
		f := face{code: c.code, base: base}
		if arrange(&f, c, sh, code) {
			return f, true
		}
	}
	return face{}, false
}

// mayFit is false where the text alone would cover more than the label, which
// spares setting it; a quarter is left for spaces that end lines.
func (c *content) mayFit(base float64, sh *sheet) bool {
	size := math.Max(leastSize, idScale*base)
	return 0.75*c.em*size*size*lead <= sh.width*sh.height
}

// arrangement sets a label at the face's base size with a code of a size, and
// reports whether it fits.
type arrangement func(f *face, c *content, sh *sheet, code float64) bool

func (s *setter) qrAmbitions(sh *sheet) []ambition {
	large := math.Min(math.Max(0.42*math.Min(sh.width, sh.height)/ordinaryQR, 12*dot), 24*dot)
	return []ambition{
		{math.Floor(large/dot) * dot, 8}, {12 * dot, 7}, {10 * dot, 6.5}, {9 * dot, leastSize}, {codes.LeastModuleQR * mm, leastSize},
	}
}

func (s *setter) qrArrangements(sh *sheet) []arrangement {
	if sh.height > sh.width {
		return []arrangement{s.below, s.beside, s.besideAll}
	}
	return []arrangement{s.beside, s.besideAll, s.below}
}

// corner puts a QR code into the upper right corner, and gives its quiet zone.
func (f *face) corner(sh *sheet, module float64) (quiet float64) {
	quiet = module * codes.QuietQR
	f.moduleX, f.moduleY = module, module
	f.codeX = sh.width - math.Max(sh.insetX, quiet+edge) - f.side()
	f.codeY = math.Max(sh.insetY, quiet+edge)
	return quiet
}

func (f *face) side() float64 { return f.moduleX * float64(f.code.Columns) }

// beside sets the code to the right of the text, the id across the foot.
func (s *setter) beside(f *face, c *content, sh *sheet, module float64) bool {
	quiet := f.corner(sh, module)
	foot, ok := s.id(f, c, sh, sh.width-2*sh.insetX, false)
	clear := f.codeY + f.side() + quiet // below it the code's column is free
	if !ok || clear > foot {
		return false
	}
	width := f.codeX - quiet - sh.insetX
	y, ok := s.text(f, c.paragraphs[:], sh.insetX, sh.insetY, width)
	if !ok {
		return false
	}
	if y >= clear {
		width = sh.width - 2*sh.insetX
	}
	return s.cautions(f, c, sh.insetX, y, width, foot)
}

// besideAll sets text and id to the left of the code.
func (s *setter) besideAll(f *face, c *content, sh *sheet, module float64) bool {
	quiet := f.corner(sh, module)
	width := f.codeX - quiet - sh.insetX
	if f.codeY+f.side()+math.Max(sh.insetY, quiet+edge) > sh.height {
		return false
	}
	foot, ok := s.id(f, c, sh, width, false)
	return ok && s.textAbove(f, c, sh, width, foot)
}

// below sets the code under the text and the id under the code.
func (s *setter) below(f *face, c *content, sh *sheet, module float64) bool {
	quiet := module * codes.QuietQR
	f.moduleX, f.moduleY = module, module
	f.codeX = math.Max(sh.insetX, quiet+edge)
	width := sh.width - 2*sh.insetX
	if f.codeX+f.side()+math.Max(sh.insetX, quiet+edge) > sh.width {
		return false
	}
	foot, ok := s.id(f, c, sh, width, false)
	f.codeY = foot - quiet - f.side()
	return ok && s.textAbove(f, c, sh, width, f.codeY-quiet)
}

// textAbove sets paragraphs and cautions down to a height at the most.
func (s *setter) textAbove(f *face, c *content, sh *sheet, width, most float64) bool {
	y, ok := s.text(f, c.paragraphs[:], sh.insetX, sh.insetY, width)
	if !ok {
		return false
	}
	return s.cautions(f, c, sh.insetX, y, width, most)
}

// barOf gives the width of the narrow bar of a Code 128 that fills a label, and
// whether a scanner can read it.
func barOf(c *content, sh *sheet) (float64, bool) {
	const most = 0.5 * mm // a wider bar gains nothing
	n := float64(c.code.Columns)
	bar := math.Min((sh.width-2*edge)/(n+2*codes.QuietCode128), (sh.width-2*sh.insetX)/n)
	bar = math.Min(bar, most)
	if dots := math.Floor(bar/dot) * dot; dots >= codes.LeastBarCode128*mm {
		bar = dots
	}
	return bar, bar >= codes.LeastBarCode128*mm
}

func barAmbitions(c *content, sh *sheet, bar float64) []ambition {
	least := math.Max(codes.LeastHeight128*mm, codes.LeastHeightOfWide*bar*float64(c.code.Columns))
	return []ambition{{math.Max(least, math.Min(0.27*sh.height, 20*mm)), 8}, {least, leastSize}}
}

// barArrangements sets the text over the bars, in one column or two, and the
// id under them.
func (s *setter) barArrangements(bar float64) []arrangement {
	over := func(columns int) arrangement {
		return func(f *face, c *content, sh *sheet, height float64) bool {
			f.moduleX, f.moduleY = bar, height
			f.codeX = (sh.width - f.side()) / 2
			width := sh.width - 2*sh.insetX
			foot, ok := s.id(f, c, sh, width, true)
			if !ok {
				return false
			}
			f.codeY = foot - spaced*f.base - height
			if columns == 1 {
				return s.textAbove(f, c, sh, width, f.codeY)
			}
			column := (width - f.base) / 2
			left, ok1 := s.text(f, c.paragraphs[:2], sh.insetX, sh.insetY, column)
			right, ok2 := s.text(f, c.paragraphs[2:], sh.insetX+column+f.base, sh.insetY, column)
			if !ok1 || !ok2 {
				return false
			}
			return s.cautions(f, c, sh.insetX, math.Max(left, right), width, f.codeY)
		}
	}
	return []arrangement{over(1), over(2)}
}

// text sets paragraphs and gives where the next may begin.
func (s *setter) text(f *face, paragraphs [][]segment, x, y, width float64) (float64, bool) {
	for _, p := range paragraphs {
		if len(p) == 0 {
			continue
		}
		var ok bool
		if y, ok = s.paragraph(f, p, x, y, width); !ok {
			return y, false
		}
		y += spaced * f.base
	}
	return y, true
}

// paragraph sets segments one after the other, as many on a line as fit, and
// gives where the last line ends.
func (s *setter) paragraph(f *face, p []segment, x, y, width float64) (float64, bool) {
	first := len(f.texts) // on the present line
	at, high := 0.0, 0.0
	end := func() {
		for i := first; i < len(f.texts); i++ {
			f.texts[i].y = y + high*ascent
		}
		first = len(f.texts)
		y += high * lead
		at, high = 0, 0
	}
	for _, seg := range p {
		size := f.base
		if seg.big && seg.line.Width(bigScale*size) <= width {
			size *= bigScale
		}
		lines, ok := s.unbroken(seg.line, size, width)
		if !ok {
			return y, false
		}
		for _, l := range lines {
			w := l.Width(size)
			if at > 0 && at+wordSpace*f.base+w > width {
				end()
			}
			if at > 0 {
				at += wordSpace * f.base
			}
			f.texts = append(f.texts, placed{line: l, x: x + at, size: size})
			at += w
			high = math.Max(high, size)
		}
	}
	end()
	return y, true
}

// unbroken breaks a line to a width, but tears no word that is not long.
func (s *setter) unbroken(l pdf.Line, size, width float64) ([]pdf.Line, bool) {
	lines := s.doc.Break(l, size, width)
	if len(lines) == 1 {
		return lines, l.Width(size) <= width
	}
	for _, word := range strings.Split(l.Text(), " ") {
		if w := s.doc.Line(word, l.Bold()); w.Width(size) > width && utf8.RuneCountInString(word) <= whole {
			return nil, false
		}
	}
	for _, l := range lines {
		if l.Width(size) > width {
			return nil, false
		}
	}
	return lines, true
}

// cautions sets each in a frame of its own, as many on a line as fit, and
// reports whether they end above the bottom.
func (s *setter) cautions(f *face, c *content, x, y, width, bottom float64) bool {
	if len(c.cautions) == 0 {
		return y <= bottom
	}
	size := math.Max(leastSize, idScale*f.base)
	pad, gap := framePad*size, frameGap*size
	high := size*lead + pad
	y += spaced * f.base
	at := 0.0
	for _, l := range c.cautions {
		lines, ok := s.unbroken(l, size, width-2*pad-frameWeight)
		if !ok {
			return false
		}
		for _, l := range lines {
			w := l.Width(size) + 2*pad
			if at > 0 && at+w+frameWeight > width {
				y += high + gap
				at = 0
			}
			if y > bottom {
				return false
			}
			f.frames = append(f.frames, frame{x + at + frameWeight/2, y, w, high})
			f.texts = append(f.texts, placed{l, x + at + frameWeight/2 + pad, y + pad/2 + size*ascent, size})
			at += w + gap
		}
	}
	return y+high+spaced*f.base <= bottom
}

// id sets the unit's id at the foot of the label and gives where it begins.
func (s *setter) id(f *face, c *content, sh *sheet, width float64, centred bool) (float64, bool) {
	lines, size := s.breakID(c, f.base, width)
	y := sh.height - sh.insetY - float64(len(lines))*size*lead
	foot := y
	for _, l := range lines {
		w := l.Width(size)
		if w > width {
			return y, false
		}
		x := sh.insetX
		if centred {
			x += (width - w) / 2
		}
		f.texts = append(f.texts, placed{l, x, y + size*ascent, size})
		y += size * lead
	}
	return foot, true
}

// breakID sets the id on one line, somewhat smaller where need be, else on as
// few lines as hold it, of about equal length and broken after slashes.
func (s *setter) breakID(c *content, base, width float64) ([]pdf.Line, float64) {
	size := math.Max(leastSize, idScale*base)
	if least := math.Max(leastSize, idScale*size); c.idLine.Width(least) <= width {
		for c.idLine.Width(size) > width { // in steps, so that ids of nearly one length look alike
			size = math.Max(size-0.5, least)
		}
		return []pdf.Line{c.idLine}, size
	}
	lines := s.breakPieces(c.id, size, width)
	if len(lines) > manyLines {
		return lines, size // not worth the care
	}
	for narrower := width * 0.95; narrower > 4*size; narrower *= 0.95 {
		closer := s.breakPieces(c.id, size, narrower)
		if len(closer) > len(lines) {
			break
		}
		lines = closer
	}
	return lines, size
}

// breakPieces fills lines with pieces; one that is wider than a line is broken
// where it must.
func (s *setter) breakPieces(pieces []pdf.Line, size, width float64) []pdf.Line {
	var lines []pdf.Line
	text, at := "", 0.0
	end := func() {
		if text != "" {
			lines = append(lines, s.doc.Line(text, false))
		}
		text, at = "", 0
	}
	for _, piece := range pieces {
		w := piece.Width(size)
		if at+w > width {
			end()
		}
		if w <= width {
			text += piece.Text()
			at += w
			continue
		}
		broken := s.doc.Break(piece, size, width)
		lines = append(lines, broken[:len(broken)-1]...)
		last := broken[len(broken)-1]
		text, at = last.Text(), last.Width(size)
	}
	end()
	return lines
}
