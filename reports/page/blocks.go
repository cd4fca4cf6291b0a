package page

import (
	"html"
	"html/template"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"shelfspan/reports/chart"
	"shelfspan/reports/dossier"
	"shelfspan/reports/svg"
)

// section writes one part of the page, and its line in the list of contents;
// nothing where there is nothing to say.
func (x *writer) section(id, title string, write func(*writer)) {
	before := x.out.Len()
	listed := len(x.contents)
	x.contents = append(x.contents, &entry{ID: id, Title: x.text(title)})
	x.put("section", map[string]any{"ID": id, "Title": x.text(title)})
	began := x.out.Len()
	write(x)
	if x.out.Len() == began {
		x.out.Truncate(before)
		x.contents = x.contents[:listed]
		return
	}
	x.raw("</section>\n")
}

// put writes one of the templates.
func (x *writer) put(name string, data any) {
	if err := templates.ExecuteTemplate(&x.out, name, data); err != nil && x.err == nil {
		x.err = err
	}
}

// raw writes markup that holds no text of the study.
func (x *writer) raw(t string) { x.out.WriteString(t) }

// heading sets a heading below the section's.
func (x *writer) heading(level int, id, text string) {
	x.put("heading", map[string]any{"Level": level, "ID": id, "Text": x.text(text)})
}

// listed puts what has an id into the list of contents, below the section.
func (x *writer) listed(id, title string) {
	last := x.contents[len(x.contents)-1]
	last.Below = append(last.Below, &entry{ID: id, Title: x.text(title)})
}

func (x *writer) paragraph(class, text string) {
	x.put("paragraph", map[string]any{"Class": class, "Text": x.text(text)})
}

// note sets small print; nothing where there is none.
func (x *writer) note(text string) {
	if text != "" {
		x.paragraph("note", text)
	}
}

// fold writes what is shown when its line is opened; the line may be a heading.
// values says that it holds single values, which are printed only where a reader
// opened them.
func (x *writer) fold(open, values bool, level int, id, line string, write func()) {
	x.put("fold", map[string]any{"Open": open, "Values": values, "Level": level, "ID": id, "Line": x.text(line)})
	write()
	x.raw("</details>\n")
}

// The columns of a table.
var left, right = dossier.Texts, dossier.Numbers

// cell is one field of a table.
type cell struct {
	text, under string
	bold        bool
	hash        bool   // broken anywhere, and set in letters of one width
	shade       int    // of the ground, a step of shades
	key         string // by which it is sorted, where that is not its text
}

func cells(texts ...string) []cell {
	out := make([]cell, len(texts))
	for i, t := range texts {
		out[i].text = t
	}
	return out
}

// table is rows under heads, with a caption above and notes below.
type table struct {
	caption string
	columns []dossier.Column
	named   int // so many first columns name a row
	rows    [][]cell
	notes   []string
	plain   bool // neither sorted nor filtered: its rows have an order or are few kinds of thing
	prose   bool // its texts are long, and wrap sooner than that it is wider than the page
	class   string
}

func (x *writer) table(t table) {
	if len(t.rows) == 0 {
		return
	}
	x.tables++
	id := "table-" + strconv.Itoa(x.tables)
	named := max(t.named, 1)
	x.put("table", map[string]any{"ID": id, "Caption": x.text(t.caption), "Plain": t.plain, "Prose": t.prose, "Class": t.class})
	b := &x.out
	b.WriteString("<thead><tr>")
	for _, c := range t.columns {
		b.WriteString(`<th scope="col"`)
		if c.Number {
			b.WriteString(` class="n"`)
		}
		b.WriteString(">" + x.names.isolate(c.Head))
		if c.Under != "" {
			b.WriteString("<small>" + x.names.isolate(c.Under) + "</small>")
		}
		b.WriteString("</th>")
	}
	b.WriteString("</tr></thead>\n<tbody>\n")
	for _, row := range t.rows {
		b.WriteString("<tr>")
		for i, c := range row {
			x.cell(c, i < named, t.columns[i].Number)
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody></table></div>\n")
	for _, n := range t.notes {
		x.note(n)
	}
	x.raw("</div>\n")
}

func (x *writer) cell(c cell, names, right bool) {
	b := &x.out
	tag := "td"
	if names {
		tag = "th"
	}
	b.WriteString("<" + tag)
	if names {
		b.WriteString(` scope="row"`)
	}
	switch {
	case c.shade > 0:
		b.WriteString(` class="n l` + strconv.Itoa(c.shade) + `"`)
	case right:
		b.WriteString(` class="n"`)
	case c.hash:
		b.WriteString(` class="hash"`)
	}
	if c.key != "" {
		b.WriteString(` data-key="` + html.EscapeString(c.key) + `"`)
	}
	b.WriteByte('>')
	text := x.names.isolate(c.text)
	if c.bold {
		text = "<strong>" + text + "</strong>"
	}
	b.WriteString(text)
	if c.under != "" {
		b.WriteString("<small>" + x.names.isolate(c.under) + "</small>")
	}
	b.WriteString("</" + tag + ">")
}

// The sizes charts are drawn at, in points; a page shows them larger.
const (
	wideWidth, wideHeight   = 372, 232
	smallWidth, smallHeight = 250, 168
)

// figure sets one chart over the width of the text, its legend below.
func (x *writer) figure(height vg.Length, caption, title string, c *chart.Chart) {
	x.put("wide", "Chart: "+title)
	x.drawing(title, c.WithoutLegend(), wideWidth, height)
	x.raw("</div>")
	x.key(c)
	x.put("figcaption", x.text(caption))
	x.raw("</figure>\n")
}

// small sets charts side by side under one legend.
func (x *writer) small(all []dossier.Framed) {
	if len(all) == 0 {
		return
	}
	var drawn []*chart.Chart
	for _, f := range all {
		drawn = append(drawn, f.Chart)
	}
	x.key(drawn...)
	x.raw("<div class=\"grid\">\n")
	for _, f := range all {
		x.raw("<figure class=\"small\">")
		x.put("figcaption", x.text(f.Caption))
		x.drawing(f.Title, f.Chart, smallWidth, smallHeight)
		x.raw("</figure>\n")
	}
	x.raw("</div>\n")
}

func (x *writer) drawing(title string, c *chart.Chart, width, height vg.Length) {
	x.figures++
	canvas := svg.New(width, height, classes)
	c.Draw(draw.NewCanvas(canvas, width, height))
	x.out.Write(canvas.Append(nil, "chart-"+strconv.Itoa(x.figures), "chart", title, c.Description))
}

// key sets the legend of charts, which a reader can select and enlarge as text.
func (x *writer) key(drawn ...*chart.Chart) {
	entries := chart.Entries(drawn...)
	if len(entries) == 0 {
		return
	}
	x.raw("<ul class=\"key\">\n")
	for _, k := range entries {
		var picture []byte
		if k.Draw != nil {
			canvas := svg.New(vg.Length(k.Width), vg.Length(k.Height), classes)
			k.Draw(draw.NewCanvas(canvas, vg.Length(k.Width), vg.Length(k.Height)))
			picture = canvas.AppendPicture(nil)
		}
		x.put("entry", map[string]any{"Picture": template.HTML(picture), "Text": x.text(k.Text)})
	}
	x.raw("</ul>\n")
}

func dash(t string) string {
	if t == "" {
		return "–"
	}
	return t
}

func join(sep string, parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, sep)
}

// without leaves a column out.
func (t *table) without(c int) {
	t.columns = slices.Delete(t.columns, c, c+1)
	for i := range t.rows {
		t.rows[i] = slices.Delete(t.rows[i], c, c+1)
	}
}
