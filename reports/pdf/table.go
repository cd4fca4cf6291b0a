package pdf

import (
	"math"
	"slices"
	"strings"
)

// Align is how a column's text stands.
type Align int

// The alignments.
const (
	Left Align = iota
	Right
)

// Column heads a column of a table.
type Column struct {
	Head  string
	Align Align
}

// Cell is one entry of a table.
type Cell struct {
	Text  string
	Under string // below it in smaller type, wrapped
	Bold  bool
	Tick  bool // a square to tick stands before the text
	Blank bool // instead of text: a frame to write into
}

// Row is one row of a table, never split over two pages.
type Row struct {
	Cells  []Cell  // missing ones are empty
	Height float64 // at least this high, in points, as for a signature
	Group  string  // instead of cells: a line over the rows that follow it, repeated where they continue
}

// Texts makes a row of plain cells.
func Texts(texts ...string) Row {
	cells := make([]Cell, len(texts))
	for i, t := range texts {
		cells[i].Text = t
	}
	return Row{Cells: cells}
}

// Table is a table over the width of the text block. Its heads are repeated
// on each page, long texts are wrapped, and where the columns do not fit side
// by side they are set in several parts, the first Fixed ones in each.
type Table struct {
	Caption string
	Columns []Column
	Fixed   int  // leading columns repeated where the others are set in parts; at least one is
	Wide    bool // stretched over the whole text block
	Even    bool // all but the fixed columns of the same width, where they fit; set in parts, each names its first and last
	Tight   bool // rows closer together, for many tables on a page
	Rows    []Row
	Notes   []string // below the table
	Size    float64  // of its text in points; 0 is the size of reports
}

const (
	columnGap  = 9.0
	cellPad    = 2.6 // above and below
	underSize  = 6.8
	tickSide   = 14.5 // a pen held in a glove hits it: 5 mm
	tickGap    = 5.0
	blankWidth = 48.0 // of three digits written by hand
)

// measures are the sizes a table is set in.
type measures struct{ size, line, under, pad float64 }

func (d *Document) measures(t Table) measures {
	size := d.atLeast(tableSize)
	if t.Size > 0 {
		size = t.Size
	}
	pad := cellPad
	if t.Tight {
		pad /= 2
	}
	return measures{size, size * 1.25, d.atLeast(size * underSize / tableSize), pad}
}

// lead is the width that stands before a cell's text.
func (c Cell) lead() float64 {
	if c.Tick {
		return tickSide + tickGap
	}
	return 0
}

// forHand reports whether a row is filled in by hand; its text then stands at
// half its height.
func (r Row) forHand() bool {
	for _, c := range r.Cells {
		if c.Tick || c.Blank {
			return true
		}
	}
	return false
}

// Table sets a table. One without rows is set with its heads alone.
func (d *Document) Table(t Table) {
	t = d.cleanTable(t)
	notes := 0.0
	for _, n := range t.Notes {
		size := d.atLeast(smallSize)
		notes += float64(len(d.wrap(d.clean(n), regular, size, d.Width())))*size*leading + 4
	}
	parts := d.parts(t)
	for i, part := range parts {
		below := 0.0
		switch first := min(max(t.Fixed, 1), len(part.Columns)-1); {
		case len(parts) > 1 && t.Even:
			part.Caption += ", " + part.Columns[first].Head + " to " + part.Columns[len(part.Columns)-1].Head
		case i > 0:
			part.Caption += " (further columns)"
		}
		if i == len(parts)-1 {
			below = notes
		}
		d.tablePart(part, below)
	}
	for _, n := range t.Notes {
		d.Note(n)
	}
	if !t.Tight {
		d.y += 7
	}
}

// cleanTable passes every text through the gate and makes all rows as long as
// the table is wide.
func (d *Document) cleanTable(t Table) Table {
	t.Caption = d.clean(t.Caption)
	columns, rows := make([]Column, len(t.Columns)), make([]Row, len(t.Rows))
	for i, c := range t.Columns {
		columns[i] = Column{d.clean(c.Head), c.Align}
	}
	for i, r := range t.Rows {
		rows[i] = Row{Cells: make([]Cell, len(columns)), Height: r.Height, Group: d.clean(r.Group)}
		for j := range min(len(r.Cells), len(columns)) {
			c := r.Cells[j]
			c.Text, c.Under = d.clean(c.Text), d.clean(c.Under)
			if c.Blank {
				c.Text, c.Under = "", ""
			}
			rows[i].Cells[j] = c
		}
	}
	t.Columns, t.Rows = columns, rows
	return t
}

func (d *Document) style(c Cell) style {
	if c.Bold {
		return bold
	}
	return regular
}

// extents gives for each column the width of its longest entry on one line,
// the least it can do with: its longest word, but no more than 90 points,
// beyond which words are broken; and the width of all its entries in a row.
func (d *Document) extents(t Table) (natural, least, total []float64) {
	const longest = 90
	natural, least, total = make([]float64, len(t.Columns)), make([]float64, len(t.Columns)), make([]float64, len(t.Columns))
	m := d.measures(t)
	see := func(j int, text string, s style, size, lead float64) {
		w := lead + d.width(text, s, size)
		natural[j] = math.Max(natural[j], w)
		total[j] += w
		start := 0
		for i := 0; i <= len(text); i++ {
			if i == len(text) || text[i] == ' ' {
				least[j] = math.Max(least[j], lead+math.Min(longest, d.width(text[start:i], s, size)))
				start = i + 1
			}
		}
	}
	for j, c := range t.Columns {
		see(j, c.Head, bold, m.size, 0)
	}
	for _, r := range t.Rows {
		for j, c := range r.Cells {
			see(j, c.Text, d.style(c), m.size, c.lead())
			for word := range strings.FieldsSeq(c.Under) {
				see(j, word, regular, m.under, c.lead())
			}
			if c.Blank {
				natural[j], least[j] = math.Max(natural[j], blankWidth), math.Max(least[j], blankWidth)
			}
		}
	}
	for j := range natural {
		natural[j] = math.Max(natural[j], 6)
		least[j] = math.Max(least[j], 6)
	}
	return natural, least, total
}

// parts cuts a table too wide for the page into several, each with the fixed
// columns.
func (d *Document) parts(t Table) []Table {
	_, least, _ := d.extents(t)
	room := d.Width()
	used := func(js []int) float64 {
		w := -columnGap
		for _, j := range js {
			w += least[j] + columnGap
		}
		return w
	}
	fixed := make([]int, min(max(t.Fixed, 1), len(t.Columns)))
	for j := range fixed {
		fixed[j] = j
	}
	var cuts [][]int
	present := slices.Clone(fixed)
	for j := len(fixed); j < len(t.Columns); j++ {
		if len(present) > len(fixed) && used(append(slices.Clone(present), j)) > room {
			cuts = append(cuts, present)
			present = slices.Clone(fixed)
		}
		present = append(present, j)
	}
	cuts = append(cuts, present)
	if len(cuts) == 1 {
		return []Table{t}
	}
	if even := evenly(len(fixed), len(t.Columns), len(cuts)); !slices.ContainsFunc(even, func(js []int) bool { return used(js) > room }) {
		cuts = even
	}
	out := make([]Table, len(cuts))
	for i, js := range cuts {
		part := Table{Caption: t.Caption, Fixed: len(fixed), Wide: t.Wide, Even: t.Even, Tight: t.Tight, Size: t.Size}
		for _, j := range js {
			part.Columns = append(part.Columns, t.Columns[j])
		}
		for _, r := range t.Rows {
			row := Row{Height: r.Height, Group: r.Group}
			for _, j := range js {
				row.Cells = append(row.Cells, r.Cells[j])
			}
			part.Rows = append(part.Rows, row)
		}
		out[i] = part
	}
	return out
}

// evenly deals the columns after the fixed ones to so many parts, so that none is
// left with a single one.
func evenly(fixed, columns, parts int) [][]int {
	out := make([][]int, parts)
	for i := range out {
		for j := range fixed {
			out[i] = append(out[i], j)
		}
		for j := fixed + i*(columns-fixed)/parts; j < fixed+(i+1)*(columns-fixed)/parts; j++ {
			out[i] = append(out[i], j)
		}
	}
	return out
}

// widths shares the width of the page among the columns: each has what it
// needs where all can, else the narrow ones do and the wide ones share the rest
// by the square root of how much text they hold, which keeps rows about equally
// deep.
func (d *Document) widths(t Table) []float64 {
	natural, least, all := d.extents(t)
	n := len(natural)
	room := d.Width() - columnGap*float64(n-1)
	total := 0.0
	for _, w := range natural {
		total += w
	}
	if t.Even && len(natural) > t.Fixed {
		widest, sum := slices.Max(natural[t.Fixed:]), 0.0
		for _, w := range natural[:t.Fixed] {
			sum += w
		}
		if sum+widest*float64(n-t.Fixed) <= room {
			for j := t.Fixed; j < n; j++ {
				natural[j] = widest
			}
			total = sum + widest*float64(n-t.Fixed)
		}
	}
	if total <= room {
		// A table is stretched so far that rows can still be read across.
		slack := math.Min(room-total, 0.9*total+40) / float64(n)
		if t.Wide || total+slack*float64(n) > 0.85*room {
			slack = (room - total) / float64(n)
		}
		for j := range natural {
			natural[j] += slack
		}
		return natural
	}
	out := slices.Clone(least)
	for _, w := range least {
		room -= w
	}
	for room > 0.01 {
		want := 0.0
		for j := range out {
			if out[j] < natural[j] {
				want += math.Sqrt(all[j])
			}
		}
		if want == 0 {
			break
		}
		given := 0.0
		for j := range out {
			if out[j] < natural[j] {
				add := math.Min(room*math.Sqrt(all[j])/want, natural[j]-out[j])
				out[j] += add
				given += add
			}
		}
		room -= given
	}
	if room < 0 { // a single column too wide even so: all are squeezed alike
		total := 0.0
		for _, w := range out {
			total += w
		}
		k := (total + room) / total
		for j := range out {
			out[j] *= math.Max(k, 0.05)
		}
	}
	return out
}

// setRow is a row broken into lines.
type setRow struct {
	lines  [][]string
	under  [][]string
	height float64
}

func (d *Document) breakRow(cells []Cell, widths []float64, least float64, m measures) setRow {
	// A row that no page could hold is cut, and says so.
	most := max(1, int((d.bodyHeight()-120)/m.line))
	r := setRow{lines: make([][]string, len(cells)), under: make([][]string, len(cells))}
	deepest := m.line
	for j, c := range cells {
		width := widths[j] - c.lead()
		lines := d.wrap(c.Text, d.style(c), m.size, width)
		if len(lines) > most {
			lines = append(lines[:most-1], "… (cut)")
		}
		r.lines[j] = lines
		depth := float64(len(lines)) * m.line
		if c.Under != "" {
			r.under[j] = d.wrap(c.Under, regular, m.under, width)
			if len(lines)+len(r.under[j]) > most {
				r.under[j] = append(r.under[j][:max(0, most-len(lines)-1)], "… (cut)")
			}
			depth += m.under * 1.25 * float64(len(r.under[j]))
		}
		if c.Tick {
			depth = math.Max(depth, tickSide)
		}
		deepest = math.Max(deepest, depth)
	}
	r.height = math.Max(least, deepest+2*m.pad)
	return r
}

// tablePart sets a table that fits the width. A short one is kept on one page;
// the last row of a long one stays with the notes below it, whose height is
// given.
func (d *Document) tablePart(t Table, notes float64) {
	if len(t.Columns) == 0 {
		return
	}
	widths, m := d.widths(t), d.measures(t)
	total := columnGap * float64(len(widths)-1)
	for _, w := range widths {
		total += w
	}
	heads := make([]Cell, len(t.Columns))
	headed := false
	for j, c := range t.Columns {
		heads[j] = Cell{Text: c.Head, Bold: true}
		headed = headed || c.Head != ""
	}
	head := d.breakRow(heads, widths, 0, m)
	rows := make([]setRow, len(t.Rows))
	for i, r := range t.Rows {
		if r.Group != "" {
			rows[i].height = d.groupHeight(r.Group, total, m)
		} else {
			rows[i] = d.breakRow(r.Cells, widths, r.Height, m)
		}
	}
	caption := d.few(t.Caption, bold, capSize, d.Width())
	if t.Caption == "" {
		caption = nil
	}
	captionHeight := float64(len(caption))*capSize*leading + 3

	setHead := func(caption []string) {
		for _, line := range caption {
			d.y += capSize * leading
			d.text(marginSide, d.y-capSize*0.36, line, bold, capSize, ink)
		}
		d.y += 3
		d.rule(marginSide, d.y, marginSide+total, 0.9, ink)
		if headed {
			d.setCells(t.Columns, heads, head, widths, m, onFoot)
			d.y += head.height
			d.rule(marginSide, d.y, marginSide+total, 0.45, ink)
		}
	}

	// The head, with the first row or the first group and its first row.
	first := captionHeight + head.height
	whole := first + notes
	for i := range rows {
		whole += rows[i].height
	}
	for i := range rows {
		first += rows[i].height
		if t.Rows[i].Group == "" {
			break
		}
	}
	if whole < 0.4*d.bodyHeight() {
		first = whole
	}
	d.begin(math.Min(first, d.bodyHeight()))
	setHead(caption)
	group := -1
	for i, r := range rows {
		need := r.height
		if t.Rows[i].Group != "" {
			group = i
			if i+1 < len(rows) {
				need += rows[i+1].height
			}
		}
		if i == len(rows)-1 {
			need = math.Max(need, math.Min(need+notes, d.bodyHeight()/2))
		}
		if d.y+need > d.current().h-marginBottom {
			d.rule(marginSide, d.y, marginSide+total, 0.9, ink)
			d.NewPage(d.Landscape())
			more := slices.Clone(caption)
			if len(more) > 0 {
				more = d.few(t.Caption+" (continued)", bold, capSize, d.Width())
			}
			setHead(more)
			if group >= 0 && group != i {
				d.setGroup(t.Rows[group].Group+" (continued)", total, m)
			}
		} else if i > 0 && group != i {
			d.rule(marginSide, d.y, marginSide+total, 0.25, faint)
		}
		if group == i {
			d.setGroup(t.Rows[i].Group, total, m)
			continue
		}
		at := onTop
		if t.Rows[i].forHand() {
			at = halfway
		}
		d.setCells(t.Columns, t.Rows[i].Cells, r, widths, m, at)
		d.y += r.height
	}
	d.rule(marginSide, d.y, marginSide+total, 0.9, ink)
	d.y += 4
}

func (d *Document) setGroup(text string, total float64, m measures) {
	height := d.groupHeight(text, total, m)
	d.fill(marginSide, d.y+1, total, height-1, wash)
	y := d.y + m.pad
	for _, line := range d.few(text, bold, m.size, total-6) {
		y += m.line
		d.text(marginSide+3, y-m.size*0.3, line, bold, m.size, ink)
	}
	d.y += height
}

func (d *Document) groupHeight(text string, total float64, m measures) float64 {
	return float64(len(d.few(text, bold, m.size, total-6)))*m.line + 2*m.pad
}

// stand says where the text of a row's cells stands.
type stand int

const (
	onTop stand = iota
	halfway
	onFoot // heads of several lines, on the rule below them
)

func (d *Document) setCells(columns []Column, cells []Cell, r setRow, widths []float64, m measures, at stand) {
	x := marginSide
	for j, lines := range r.lines {
		c, u := cells[j], r.under[j]
		depth := float64(len(lines)) * m.line
		depth += m.under * 1.25 * float64(len(u))
		y := d.y + m.pad
		switch at {
		case onFoot:
			y = d.y + r.height - m.pad - depth
		case halfway:
			y = d.y + (r.height-depth)/2
		}
		switch {
		case c.Tick:
			d.Frame(x+0.45, d.y+(r.height-tickSide)/2, tickSide, tickSide, 0.9)
		case c.Blank:
			d.Frame(x, d.y+m.pad, widths[j], r.height-2*m.pad, 0.7)
		}
		left, s := x+c.lead(), d.style(c)
		for _, line := range lines {
			y += m.line
			from := left
			if columns[j].Align == Right {
				from = x + widths[j] - d.width(line, s, m.size)
			}
			d.text(from, y-m.size*0.3, line, s, m.size, ink)
		}
		for _, line := range u {
			y += m.under * 1.25
			from := left
			if columns[j].Align == Right {
				from = x + widths[j] - d.width(line, regular, m.under)
			}
			d.text(from, y-m.under*0.3, line, regular, m.under, grey)
		}
		x += widths[j] + columnGap
	}
}
