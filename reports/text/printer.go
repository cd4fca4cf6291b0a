// Package text writes answers for people at a terminal: the conclusion first,
// aligned tables, warnings last, and no line wider than the terminal.
package text

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"shelfspan/study/finding"
)

// Printer writes paragraphs and tables to a terminal or a file. The first
// error of the writer is kept and returned by Err; writing goes on as no-ops.
type Printer struct {
	w     io.Writer
	width int
	bold  bool
	err   error
}

// minWidth is the narrowest terminal that is laid out for; a narrower one gets
// lines of this width.
const minWidth = 40

// NewPrinter writes to w in lines of at most width columns; bold says whether
// headings may be set off by terminal attributes.
func NewPrinter(w io.Writer, width int, bold bool) *Printer {
	return &Printer{w: w, width: max(width, minWidth), bold: bold}
}

// Err returns the first error of the writer.
func (p *Printer) Err() error { return p.err }

func (p *Printer) write(s string) {
	if p.err == nil {
		_, p.err = io.WriteString(p.w, s)
	}
}

// Heading writes a line set off by an empty line before it.
func (p *Printer) Heading(s string) {
	p.write("\n")
	for line := range strings.SplitSeq(wrap(s, p.width), "\n") {
		if p.bold {
			line = text.Bold.EscapeSeq() + line + text.Reset.EscapeSeq()
		}
		p.write(line + "\n")
	}
}

// Paragraph writes wrapped text.
func (p *Printer) Paragraph(s string) { p.Hanging("", s) }

// Hanging writes wrapped text after a lead such as "- ", the following lines
// indented to stand below its start.
func (p *Printer) Hanging(lead, s string) {
	indent := strings.Repeat(" ", textWidth(lead))
	for i, line := range strings.Split(wrap(s, p.width-len(indent)), "\n") {
		if i > 0 {
			lead = indent
		}
		p.write(strings.TrimRight(lead+line, " ") + "\n")
	}
}

// Warnings writes the warnings as a list under a heading, or nothing.
func (p *Printer) Warnings(ws []finding.Warning) {
	if len(ws) == 0 {
		return
	}
	gathered := finding.Gather(ws)
	p.Heading(fmt.Sprintf("Warnings (%d)", len(gathered)))
	for _, w := range gathered {
		p.Hanging("- ", w.String())
	}
}

// Align says how the cells of a column stand.
type Align = text.Align

// The ways cells stand: words to the left, numbers to the right.
const (
	Left  = text.AlignLeft
	Right = text.AlignRight
)

// Column is one column of a table.
type Column struct {
	Head  string
	Align Align
}

// Table writes aligned columns under their heads. Where they do not fit, the
// widest columns of words wrap at spaces; only where even that is too wide are
// words cut. A column without a single entry is left out.
func (p *Printer) Table(columns []Column, rows [][]string) {
	columns, rows = filled(columns, rows)
	const gap = 2
	widths, floors := make([]int, len(columns)), make([]int, len(columns))
	for i, c := range columns {
		widths[i], floors[i] = textWidth(c.Head), longestWord(c.Head)
		for _, r := range rows {
			widths[i] = max(widths[i], textWidth(r[i]))
			floors[i] = max(floors[i], longestWord(r[i]))
		}
	}
	room := p.width - gap*(len(columns)-1)
	narrow(widths, cells(columns, rows), room)
	narrow(widths, floors, room)
	narrow(widths, make([]int, len(columns)), room)
	t := table.NewWriter()
	style := table.StyleDefault
	style.Box = table.BoxStyle{MiddleHorizontal: "─", MiddleVertical: "  ", MiddleSeparator: "──", PageSeparator: "\n"}
	style.Options = table.Options{SeparateHeader: true, SeparateColumns: true}
	style.Format.Header = text.FormatDefault
	t.SetStyle(style)
	head := make(table.Row, len(columns))
	configs := make([]table.ColumnConfig, len(columns))
	for i, c := range columns {
		head[i] = wrap(c.Head, widths[i])
		configs[i] = table.ColumnConfig{Number: i + 1, Align: c.Align, AlignHeader: c.Align, WidthMax: widths[i]}
	}
	t.SetColumnConfigs(configs)
	t.AppendHeader(head)
	for _, r := range rows {
		row := make(table.Row, len(r))
		for i, s := range r {
			row[i] = wrap(s, widths[i])
		}
		t.AppendRow(row)
	}
	for _, line := range strings.Split(t.Render(), "\n") {
		p.write(strings.TrimRight(line, " ") + "\n")
	}
}

// filled leaves out the columns that are empty in every row.
func filled(columns []Column, rows [][]string) ([]Column, [][]string) {
	var keep []int
	for i := range columns {
		if slices.ContainsFunc(rows, func(r []string) bool { return r[i] != "" }) {
			keep = append(keep, i)
		}
	}
	if len(keep) == len(columns) || len(keep) == 0 {
		return columns, rows
	}
	c := make([]Column, len(keep))
	r := make([][]string, len(rows))
	for j, i := range keep {
		c[j] = columns[i]
		for k := range rows {
			r[k] = append(r[k], rows[k][i])
		}
	}
	return c, r
}

// narrow takes columns from the widest until they have room, none below its
// floor or two columns, which the widest letters take.
func narrow(widths, floors []int, room int) {
	total := 0
	for _, w := range widths {
		total += w
	}
	for ; total > room; total-- {
		widest := -1
		for i, w := range widths {
			if w > max(floors[i], 2) && (widest < 0 || w > widths[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			return
		}
		widths[widest]--
	}
}

// cells is how wide columns are with their heads wrapped at every space.
func cells(columns []Column, rows [][]string) []int {
	widths := make([]int, len(columns))
	for i, c := range columns {
		widths[i] = longestWord(c.Head)
		for _, r := range rows {
			widths[i] = max(widths[i], textWidth(r[i]))
		}
	}
	return widths
}

func textWidth(s string) int { return text.StringWidthWithoutEscSequences(s) }

func longestWord(s string) int {
	n := 0
	for word := range strings.FieldsSeq(s) {
		n = max(n, textWidth(word))
	}
	return n
}

// wrap breaks text at spaces into lines of at most width columns; a longer
// word is cut. Control characters, which a terminal would obey, are replaced.
func wrap(s string, width int) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\r':
			return ' '
		case r != '\n' && unicode.IsControl(r):
			return unicode.ReplacementChar
		}
		return r
	}, s)
	var lines []string
	for line := range strings.SplitSeq(s, "\n") {
		lines = append(lines, wrapLine(line, width)...)
	}
	return strings.Join(lines, "\n")
}

func wrapLine(s string, width int) []string {
	if textWidth(s) <= width {
		return []string{strings.TrimRight(s, " ")}
	}
	var lines []string
	line := ""
	for s != "" {
		// The next word with the spaces before it.
		word := strings.TrimLeft(s, " ")
		spaces := s[:len(s)-len(word)]
		if end := strings.IndexByte(word, ' '); end >= 0 {
			word = word[:end]
		}
		s = s[len(spaces)+len(word):]
		if textWidth(line+spaces+word) <= width {
			line += spaces + word
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		for line = word; textWidth(line) > width; {
			at := cut(line, width)
			lines = append(lines, line[:at])
			line = line[at:]
		}
	}
	return append(lines, strings.TrimRight(line, " "))
}

// cut gives how many bytes of a word fit into so many columns, at least those
// of its first letter.
func cut(word string, width int) int {
	columns := 0
	for i, r := range word {
		columns += text.RuneWidth(r)
		if columns > width && i > 0 {
			return i
		}
	}
	return len(word)
}
