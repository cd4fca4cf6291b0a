// Package pdf sets a report as a PDF document: headings, paragraphs, tables
// and vector charts, flowing down A4 pages. It alone knows the PDF library.
//
// The same calls give the same bytes: every date is given by the caller, fonts
// are embedded, and nothing depends on the clock or on the order of a map.
package pdf

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/jung-kurt/gofpdf"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Page measures in points (1/72 inch): A4 and its margins.
const (
	shortSide, longSide                  = 595.28, 841.89
	marginSide, marginTop, marginBottom  = 56.0, 70.0, 62.0
	headerBaseline, footerBaseline       = 42.0, 34.0 // from the top and from the bottom edge
	bodySize, smallSize, tableSize       = 9.5, 7.5, 8.2
	leading                              = 1.38 // line height over font size
	sectionSize, subsectionSize, capSize = 15.0, 11.0, 8.5
	titleSize, leadSize                  = 20.0, 11.5
)

// producer names the program in a file's metadata.
const (
	producer      = "shelfspan"
	producerEntry = "/Producer (" + producer + ")"
)

// Info is what a document says about itself.
type Info struct {
	Title  string    // in the file's metadata and at the left of each page head
	Kind   string    // at the right of each page head: "Stability summary"
	Footer string    // at the left of each page foot, beside the page number
	Date   time.Time // creation and modification date of the file; of the data, never of the clock
	Record string    // one line for programs, which ReadRecord gives back; "" for none
	Least  float64   // size in points below which heads, feet, notes and tables set nothing; 0 leaves them as they are
}

// Document is a PDF being set. Its methods place blocks one below the other
// and break pages as needed; errors are kept and told by WriteTo.
type Document struct {
	info     Info
	f        *gofpdf.Fpdf
	faces    [styles]*face
	pages    []page // 1-based by page number, pages[0] unused
	y        float64
	pending  []heading // set with the block that follows, never alone at a page's foot
	marks    []mark
	list     *sectionList
	partList []part

	replaced int
	scratch  []byte
}

type page struct {
	w, h  float64
	plain bool // without head and foot
	part  int  // number of the part it belongs to, from 1; 0 before the first
}

// part is a stretch of pages with a head and foot of their own, counted by
// themselves.
type part struct {
	title, kind, footer string
	pages               int
}

// heading waits for the block it stands over.
type heading struct {
	text  string
	level int
}

// mark is one outline bookmark.
type mark struct {
	text  string
	level int
	page  int
	y     float64
}

// sectionList is the place of a list of the sections.
type sectionList struct {
	page  int
	y     float64
	lines int
}

// New starts an empty document; its first block opens a portrait page.
func New(info Info) *Document {
	f := gofpdf.NewCustom(&gofpdf.InitType{UnitStr: "pt", Size: gofpdf.SizeType{Wd: shortSide, Ht: longSide}})
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.SetCellMargin(0)
	f.SetCatalogSort(true)
	date := info.Date.UTC()
	if date.IsZero() { // which the library takes for now
		date = time.Unix(0, 0).UTC()
	}
	f.SetCreationDate(date)
	f.SetModificationDate(date)
	d := &Document{info: info, f: f, pages: make([]page, 1)}
	for s := range d.faces {
		d.faces[s] = newFace(style(s))
		f.AddUTF8FontFromBytes(family, d.faces[s].code, d.faces[s].file)
	}
	f.SetProducer(producer, false)
	f.SetTitle(d.clean(info.Title), true)
	f.SetDisplayMode("fullwidth", "continuous")
	return d
}

// NewPage ends the page and opens another, to which headings that wait go
// along. An empty page is used again, but for a change of its orientation.
func (d *Document) NewPage(landscape bool) {
	w, h := shortSide, longSide
	if landscape {
		w, h = longSide, shortSide
	}
	if n := len(d.pages) - 1; n > 0 && d.y == marginTop && d.pages[n] == (page{w: w, h: h, part: len(d.partList)}) {
		return
	}
	d.openPage(page{w: w, h: h})
}

func (d *Document) openPage(p page) {
	// The library turns a size itself where the orientation says so; sizes are
	// therefore given as they are, always as "P".
	d.f.AddPageFormat("P", gofpdf.SizeType{Wd: p.w, Ht: p.h})
	if p.part = len(d.partList); p.part > 0 {
		d.partList[p.part-1].pages++
	}
	d.pages = append(d.pages, p)
	d.y = marginTop
}

// Part begins a part of the document on a new page: its pages carry their own
// head and foot and are counted by themselves, so that they can be taken out
// and filed. The title is also an outline bookmark.
func (d *Document) Part(title, kind, footer string) {
	if len(d.pages) > 1 {
		d.begin(0) // sets headings that nothing followed
	}
	d.partList = append(d.partList, part{title: d.clean(title), kind: d.clean(kind), footer: d.clean(footer)})
	d.openPage(page{w: shortSide, h: longSide})
	d.marks = append(d.marks, mark{d.partList[len(d.partList)-1].title, 0, len(d.pages) - 1, d.y})
}

func (d *Document) current() page {
	if len(d.pages) == 1 {
		d.NewPage(false)
	}
	return d.pages[len(d.pages)-1]
}

// Landscape reports whether the present page is wider than high.
func (d *Document) Landscape() bool { p := d.current(); return p.w > p.h }

// Width is the width of the text block of the present page in points.
func (d *Document) Width() float64 { return d.current().w - 2*marginSide }

// Room is the height left on the present page in points.
func (d *Document) Room() float64 { return d.current().h - marginBottom - d.y }

// bodyHeight is the height of an empty page's text block.
func (d *Document) bodyHeight() float64 { return d.current().h - marginBottom - marginTop }

// begin opens a block of which at least the given height must stand together,
// with the headings that wait for it; it breaks the page where they do not fit.
func (d *Document) begin(height float64) {
	total := height
	for _, h := range d.pending {
		total += d.headingHeight(h)
	}
	if p := d.current(); total > 0 && d.y > marginTop && d.y+total > p.h-marginBottom {
		d.NewPage(p.w > p.h)
	}
	for _, h := range d.pending {
		d.setHeading(h)
	}
	d.pending = nil
}

func headingSizes(level int) (size, above, below float64) {
	if level == 0 {
		return sectionSize, 20, 7
	}
	return subsectionSize, 13, 4
}

func (d *Document) headingHeight(h heading) float64 {
	size, above, below := headingSizes(h.level)
	return above + below + size*1.25*float64(len(d.few(h.text, bold, size, d.Width())))
}

func (d *Document) setHeading(h heading) {
	size, above, below := headingSizes(h.level)
	if d.y > marginTop {
		d.y += above
	}
	d.marks = append(d.marks, mark{h.text, h.level, len(d.pages) - 1, d.y})
	for _, line := range d.few(h.text, bold, size, d.Width()) {
		d.y += size * 1.25
		d.text(marginSide, d.y-size*0.3, line, bold, size, ink)
	}
	d.y += below
}

// Section opens a part of the document, with an outline bookmark. It is set
// together with the block that follows.
func (d *Document) Section(title string) { d.head(title, 0) }

// Subsection opens a part of a section.
func (d *Document) Subsection(title string) { d.head(title, 1) }

func (d *Document) head(title string, level int) {
	d.current()
	d.pending = append(d.pending, heading{d.clean(title), level})
}

// Contents leaves room for a list of the sections with their pages, of at most
// so many lines in two columns; it is filled in as the document is written.
func (d *Document) Contents(title string, sections int) {
	lines := (sections + 1) / 2
	height := capSize*leading + contentsLine*float64(lines)
	d.begin(height)
	d.text(marginSide, d.y+capSize, d.clean(title), bold, capSize, ink)
	d.list = &sectionList{page: len(d.pages) - 1, y: d.y + capSize*leading, lines: lines}
	d.y += height + 8
}

const contentsLine = bodySize * 1.5

// setContents fills in the list of the sections.
func (d *Document) setContents() {
	if d.list == nil {
		return
	}
	const gutter = 24.0
	d.f.SetPage(d.list.page)
	p := d.pages[d.list.page]
	width := (p.w - 2*marginSide - gutter) / 2
	n := 0
	for _, m := range d.marks {
		if m.level > 0 || n == 2*d.list.lines {
			continue
		}
		x := marginSide + float64(n/d.list.lines)*(width+gutter)
		y := d.list.y + contentsLine*float64(n%d.list.lines+1)
		number := fmt.Sprint(m.page)
		numberWidth := d.width(number, regular, bodySize)
		d.textOn(p, x, y-4, d.fit(m.text, regular, bodySize, width-numberWidth-8), regular, bodySize, ink)
		d.textOn(p, x+width-numberWidth, y-4, number, regular, bodySize, ink)
		d.ruleOn(p, x, y, x+width, 0.4, faint)
		n++
	}
}

// Title sets the document's own heading, without a bookmark.
func (d *Document) Title(title, under string) {
	d.lines(d.wrap(d.clean(title), bold, titleSize, d.Width()), bold, titleSize, ink, marginSide, 1.25)
	if under != "" {
		d.lines(d.wrap(d.clean(under), regular, subsectionSize, d.Width()), regular, subsectionSize, grey, marginSide, leading)
	}
}

// Lead sets the first sentence of a conclusion, larger than the rest.
func (d *Document) Lead(text string) {
	d.lines(d.wrap(d.clean(text), bold, leadSize, d.Width()), bold, leadSize, ink, marginSide, 1.35)
	d.y += 5
}

// Paragraph sets running text.
func (d *Document) Paragraph(text string) {
	d.lines(d.wrap(d.clean(text), regular, bodySize, d.Width()), regular, bodySize, ink, marginSide, leading)
	d.y += 5
}

// Note sets small text, as below a table or chart.
func (d *Document) Note(text string) {
	size := d.atLeast(smallSize)
	d.lines(d.wrap(d.clean(text), regular, size, d.Width()), regular, size, grey, marginSide, leading)
	d.y += 4
}

// Box sets lines of text beside a heavy bar, for what must not be missed. It
// stays on one page where a page can hold it.
func (d *Document) Box(title string, paragraphs []string) {
	const inset, pad = 12.0, 7.0
	width := d.Width() - inset - pad
	var lines []string
	for i, p := range paragraphs {
		if i > 0 {
			lines = append(lines, "")
		}
		lines = append(lines, d.wrap(d.clean(p), regular, bodySize, width)...)
	}
	lineHeight := func(line string) float64 {
		if line == "" {
			return 4
		}
		return bodySize * leading
	}
	head := d.few(d.clean(title), bold, 10, width)
	heads := float64(len(head)) * 10 * leading
	height := heads + 2*pad
	for _, line := range lines {
		height += lineHeight(line)
	}
	if height > d.bodyHeight() {
		d.lines(head, bold, 10, ink, marginSide, leading)
		d.lines(lines, regular, bodySize, ink, marginSide, leading)
		return
	}
	d.begin(height)
	d.fill(marginSide, d.y, d.Width(), height, wash)
	d.fill(marginSide, d.y, 3, height, ink)
	y := d.y + pad
	for _, line := range head {
		y += 10 * leading
		d.text(marginSide+inset, y-10*0.36, line, bold, 10, ink)
	}
	for _, line := range lines {
		y += lineHeight(line)
		d.text(marginSide+inset, y-bodySize*0.36, line, regular, bodySize, ink)
	}
	d.y += height + 8
}

// lines sets lines of text at x, at least two together at a page's foot.
func (d *Document) lines(lines []string, s style, size float64, c rgb, x, lead float64) {
	height := size * lead
	for i, line := range lines {
		if i == 0 && len(lines) > 1 || i == len(lines)-2 {
			d.begin(2 * height)
		} else {
			d.begin(height)
		}
		d.y += height
		d.text(x, d.y-size*0.36, line, s, size, c)
	}
}

// Need breaks the page unless so much height is left on it, for blocks that
// belong together. Headings that wait go with what follows.
func (d *Document) Need(height float64) {
	if p := d.current(); d.y > marginTop && d.y+math.Min(height, d.bodyHeight()) > p.h-marginBottom {
		d.NewPage(p.w > p.h)
	}
}

// Figure sets a chart over the width of the text block; the caption stands
// below it and on the same page. draw is given a canvas of that size.
func (d *Document) Figure(height float64, caption string, draw func(draw.Canvas)) {
	d.Figures(height, []string{caption}, draw)
}

// Figures sets charts side by side, each with its caption.
func (d *Document) Figures(height float64, captions []string, charts ...func(draw.Canvas)) {
	if len(charts) == 0 {
		return
	}
	const gutter, captionGap = 16.0, 7.0
	width := (d.Width() - gutter*float64(len(charts)-1)) / float64(len(charts))
	below, wrapped := 0, make([][]string, len(charts))
	for i, c := range captions {
		if c == "" {
			continue
		}
		wrapped[i] = d.few(d.clean(c), regular, capSize, width)
		below = max(below, len(wrapped[i]))
	}
	caps := capSize * leading * float64(below)
	height = math.Min(height, d.bodyHeight()-caps-captionGap-10)
	d.begin(height + caps + captionGap + 2)
	for i, chart := range charts {
		x := marginSide + float64(i)*(width+gutter)
		d.draw(x, d.y, width, height, chart)
		for j, line := range wrapped[i] {
			d.text(x, d.y+height+captionGap+capSize*leading*float64(j+1)-capSize*0.36, line, regular, capSize, ink)
		}
	}
	d.y += height + caps + captionGap + 10
}

// draw runs a chart on a canvas whose lower left corner is the origin.
func (d *Document) draw(x, y, w, h float64, chart func(draw.Canvas)) {
	c := &canvas{d: d, x: x, y: d.current().h - y - h}
	c.open()
	chart(draw.Canvas{Canvas: c, Rectangle: vg.Rectangle{Max: vg.Point{X: vg.Length(w), Y: vg.Length(h)}}})
	c.close()
}

// Replaced counts the characters set so far that no embedded font has, each
// shown as Replacement.
func (d *Document) Replaced() int { return d.replaced }

// WriteTo ends the document and writes it. Heads, feet and bookmarks are set
// only now, since only now is the number of pages known.
func (d *Document) WriteTo(w io.Writer) (int64, error) {
	d.current()
	d.begin(0) // sets headings that nothing followed, so that none is lost
	d.setContents()
	n := len(d.pages) - 1
	whole := part{d.clean(d.info.Title), d.clean(d.info.Kind), d.clean(d.info.Footer), n}
	inPart := 0
	for i := 1; i <= n; i++ {
		p := d.pages[i]
		if inPart++; i > 1 && p.part != d.pages[i-1].part {
			inPart = 1
		}
		switch {
		case p.plain:
		case p.part > 0:
			x := d.partList[p.part-1]
			d.headAndFoot(i, x, fmt.Sprintf("page %d of %d", inPart, x.pages))
		default:
			d.headAndFoot(i, whole, fmt.Sprintf("%d of %d", i, n))
		}
	}
	_, lastHeight := d.f.GetPageSize()
	for _, m := range d.marks {
		d.f.SetPage(m.page)
		// The library reckons a bookmark's height from the last page's.
		d.f.Bookmark(m.text, m.level, math.Max(m.y-8, 0)+lastHeight-d.pages[m.page].h)
	}
	d.f.SetPage(n)
	count := &counter{w: w}
	if d.info.Record == "" {
		err := d.f.Output(count)
		return count.n, err
	}
	var file bytes.Buffer
	if err := d.f.Output(&file); err != nil {
		return 0, err
	}
	sealed, err := seal(file.Bytes(), d.info.Record)
	if err != nil {
		return 0, err
	}
	_, err = count.Write(sealed)
	return count.n, err
}

// headAndFoot sets what stands above and below the text block of a page.
func (d *Document) headAndFoot(i int, x part, number string) {
	d.f.SetPage(i)
	p, size := d.pages[i], d.atLeast(smallSize)
	right := p.w - marginSide
	kindWidth := d.width(x.kind, regular, size)
	d.textOn(p, marginSide, headerBaseline, d.fit(x.title, regular, size, right-marginSide-kindWidth-16), regular, size, grey)
	d.textOn(p, right-kindWidth, headerBaseline, x.kind, regular, size, grey)
	d.ruleOn(p, marginSide, headerBaseline+6, right, 0.4, faint)
	numberWidth := d.width(number, regular, size)
	base := p.h - footerBaseline
	d.ruleOn(p, marginSide, base-12, right, 0.4, faint)
	d.textOn(p, marginSide, base, d.fit(x.footer, regular, size, right-marginSide-numberWidth-16), regular, size, grey)
	d.textOn(p, right-numberWidth, base, number, regular, size, grey)
}

// atLeast is a size of small print, as the document allows it.
func (d *Document) atLeast(size float64) float64 { return math.Max(size, d.info.Least) }

type counter struct {
	w io.Writer
	n int64
}

func (c *counter) Write(p []byte) (int, error) {
	n, err := c.w.Write(p)
	c.n += int64(n)
	return n, err
}

// AsWritten reports whether a file is a document of this package that nothing
// was added to since, such as a signature or a remark: those make a file's
// second end.
func AsWritten(file []byte) bool {
	const end = "%%EOF\n"
	return bytes.HasPrefix(file, []byte("%PDF-")) && bytes.Contains(file, []byte(producerEntry)) &&
		bytes.HasSuffix(file, []byte(end)) && bytes.Count(file, []byte("%%EOF")) == 1
}
