package pdf

import (
	"bytes"
	"fmt"
	"image/color"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"shelfspan/reports/pdf/pdftest"
)

var day = time.Date(2025, 1, 13, 0, 0, 0, 0, time.UTC)

func newTest() *Document {
	return New(Info{Title: "MB-26 · Meadow balm", Kind: "Stability summary", Footer: "study MB-26", Date: day})
}

func output(t *testing.T, d *Document) []byte {
	t.Helper()
	var b bytes.Buffer
	n, err := d.WriteTo(&b)
	if err != nil {
		t.Fatal(err)
	}
	if n != int64(b.Len()) {
		t.Fatalf("WriteTo says %d bytes and wrote %d", n, b.Len())
	}
	return b.Bytes()
}

func says(page string) string {
	var b strings.Builder
	for _, w := range pdftest.Words(page) {
		b.WriteString(w.Text)
		b.WriteByte('\n')
	}
	return b.String()
}

// TestCharactersOfTheTrade: each of these must print in every style.
func TestCharactersOfTheTrade(t *testing.T) {
	const needed = "°±≤≥−–…·×√²³µμαβγΔλστ†‡•%€éäößøžćł"
	d := newTest()
	if got := d.clean(needed + string(Replacement)); got != needed+string(Replacement) || d.Replaced() != 0 {
		t.Errorf("clean gives %q with %d replaced; every character of %q should have a glyph", got, d.Replaced(), needed)
	}
}

// TestGate: what cannot be printed is replaced visibly, one sign for each
// character, and counted.
func TestGate(t *testing.T) {
	for _, c := range []struct {
		in, want string
		replaced int
	}{
		{"plain text (25 °C)", "plain text (25 °C)", 0},
		{"a🧴b", "a□b", 1},
		{"\xff\xfe", "□□", 2},
		{"a\x00b\x07c", "a□b□c", 2},
		{"a\tb\nc\r", "a b c ", 0},
		{"pH‑meter", "pH-meter", 0}, // U+2011
		{"☐ ✓ ⚠ ⁻", "□ □ □ □", 4},
		{"日本", "□□", 2},
		{"e\u0301", "é", 0},
		{"\u202eevil", "□evil", 1},
		{"10\u202f000", "10\u00a0000", 0},
		{"\ufffd", "□", 1},
		{"", "", 0},
	} {
		d := newTest()
		if got := d.clean(c.in); got != c.want || d.Replaced() != c.replaced {
			t.Errorf("clean(%q) = %q with %d replaced, want %q with %d", c.in, got, d.Replaced(), c.want, c.replaced)
		}
	}
}

// FuzzText sets any text in every kind of block. It must neither panic nor
// fail, and what passed the gate is valid and within the basic plane.
func FuzzText(f *testing.F) {
	for _, s := range []string{"", "viscosity", "🧴\xff\x00", strings.Repeat("W", 300), "a b-c/d_e.f", "(\\)", "\u0301\u0301", "{nb}", " \u00a0 "} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d := New(Info{Title: s, Kind: s, Footer: s, Date: day})
		clean := d.clean(s)
		if !utf8.ValidString(clean) {
			t.Fatalf("clean(%q) is no UTF-8", s)
		}
		for _, r := range clean {
			if r > 0xFFFF || r < 0x20 {
				t.Fatalf("clean(%q) lets %U through", s, r)
			}
		}
		if again := d.clean(clean); again != clean {
			t.Fatalf("clean is not settled: %q then %q", clean, again)
		}
		d.Title(s, s)
		d.Section(s)
		d.Paragraph(s)
		d.Box(s, []string{s, s})
		d.Note(s)
		d.Table(Table{Caption: s, Columns: []Column{{Head: s}, {Head: s, Align: Right}}, Rows: []Row{Texts(s, s), {Group: s}}, Notes: []string{s}})
		d.Figure(100, s, func(c draw.Canvas) { c.Push(); c.Pop(); c.Pop() })
		output(t, d)
	})
}

// TestWrap: no line is wider than asked, nothing is lost, and breaks come at
// spaces where there are any.
func TestWrap(t *testing.T) {
	d := newTest()
	for _, s := range []string{
		"The quick brown fox jumps over the lazy dog, and over a second one as well.",
		strings.Repeat("W", 100),
		"attribute_with_a_very_long_name-and-hyphens/and.slashes,commas",
		"short " + strings.Repeat("x", 90) + " tail",
		"1b3d5e7f9a1c3b5d7e9f1a9f2c4a6b8d0e1f3a5c7b9d1e3f5a7c9b1d3e5f7a9c",
	} {
		lines := d.wrap(s, regular, 9, 120)
		for _, line := range lines {
			if w := d.width(line, regular, 9); w > 120.01 {
				t.Errorf("line %q is %.1f points wide, more than 120", line, w)
			}
		}
		squeeze := func(s string) string { return strings.ReplaceAll(s, " ", "") }
		if squeeze(strings.Join(lines, "")) != squeeze(s) {
			t.Errorf("wrapping %q lost something: %q", s, lines)
		}
	}
	if got := d.wrap("two words", regular, 9, 30); len(got) != 2 || got[0] != "two" || got[1] != "words" {
		t.Errorf("wrap broke %q", got)
	}
	if got := d.wrap("", regular, 9, 30); len(got) != 1 || got[0] != "" {
		t.Errorf("an empty text is one empty line, not %q", got)
	}
}

// TestLongTable: heads stand on every page, each row is whole and on one page,
// in order, and nothing lies outside the text block.
func TestLongTable(t *testing.T) {
	d := newTest()
	tab := Table{Caption: "Results", Columns: []Column{{Head: "Batch"}, {Head: "Remark"}}, Notes: []string{"A note."}}
	const n = 120
	for i := range n {
		tab.Rows = append(tab.Rows, Texts(fmt.Sprintf("row-%d.", i), fmt.Sprintf("start-%d %s end-%d.", i, strings.Repeat("long text ", i%30), i)))
	}
	d.Table(tab)
	pages := pdftest.Contents(t, output(t, d))
	next := 0
	for i, p := range pages {
		s := says(p)
		if !strings.Contains(s, "\nBatch\n") || !strings.Contains(s, "\nRemark\n") {
			t.Errorf("page %d lacks the heads", i+1)
		}
		if want := fmt.Sprintf("%d of %d\n", i+1, len(pages)); !strings.Contains(s, want) {
			t.Errorf("page %d does not say %q", i+1, want)
		}
		for next < n && strings.Contains(s, fmt.Sprintf("row-%d.\n", next)) {
			for _, part := range []string{"start-%d", "end-%d."} {
				if !strings.Contains(s, fmt.Sprintf(part, next)) {
					t.Errorf("row %d is split: page %d lacks %s", next, i+1, part)
				}
			}
			next++
		}
		for _, w := range pdftest.Words(p) {
			if w.X < marginSide-0.1 || w.X > shortSide-marginSide || w.Y < footerBaseline-0.1 || w.Y > longSide-headerBaseline+0.1 {
				t.Errorf("page %d: %q stands at %.1f, %.1f, outside the page's block", i+1, w.Text, w.X, w.Y)
			}
		}
	}
	if next != n {
		t.Errorf("found %d rows of %d", next, n)
	}
	if len(pages) < 4 {
		t.Errorf("the table took %d pages; the test wants several", len(pages))
	}
}

// TestWideTable: what does not fit side by side is set in parts, each with the
// fixed columns or, where none is said to be, the first; and every other cell
// once.
func TestWideTable(t *testing.T) {
	for _, fixed := range []int{0, 1, 2} {
		d := newTest()
		tab := Table{Caption: "Wide", Fixed: fixed, Columns: []Column{{Head: "Batch"}}}
		row := Row{Cells: []Cell{{Text: "B1"}}}
		for i := range 40 {
			tab.Columns = append(tab.Columns, Column{Head: fmt.Sprintf("%dM", i), Align: Right})
			row.Cells = append(row.Cells, Cell{Text: fmt.Sprintf("v%d-%d", 1000+i, i)})
		}
		tab.Rows = []Row{row}
		d.Table(tab)
		s := ""
		for _, p := range pdftest.Contents(t, output(t, d)) {
			s += says(p)
		}
		parts := strings.Count(s, "B1\n")
		if parts < 2 {
			t.Errorf("fixed %d: the first column stands %d times; each part needs it", fixed, parts)
		}
		for i := range 40 {
			want := 1
			if i < fixed-1 {
				want = parts
			}
			if c := strings.Count(s, fmt.Sprintf("v%d-%d\n", 1000+i, i)); c != want {
				t.Errorf("fixed %d: cell %d stands %d times, want %d", fixed, i, c, want)
			}
		}
	}
}

// TestHeadingKeepsWithText: a heading never ends a page.
func TestHeadingKeepsWithText(t *testing.T) {
	// A page holds some forty of these lines.
	for fillers := 28; fillers < 48; fillers++ {
		d := newTest()
		for range fillers {
			d.Paragraph("x")
		}
		d.Section("the heading")
		d.Table(Table{Columns: []Column{{Head: "head"}}, Rows: []Row{Texts("the row")}})
		for i, p := range pdftest.Contents(t, output(t, d)) {
			s := says(p)
			if strings.Contains(s, "the heading") != strings.Contains(s, "the row") {
				t.Fatalf("with %d lines before it, the heading and its table part at page %d", fillers, i+1)
			}
		}
	}
}

// TestMixedPages: heads and feet stand at the same place of upright and of
// wide pages, though they are written last.
// TestContents: each section stands in the list with the page it begins on,
// also where pages before and after differ in their shape.
func TestContents(t *testing.T) {
	d := newTest()
	d.Section("First")
	d.Paragraph("text")
	d.Contents("Contents", 4)
	d.NewPage(true)
	d.Section("Second")
	d.Subsection("Within it")
	d.Paragraph("text")
	d.NewPage(false)
	d.Section("Third")
	d.Paragraph("text")
	d.NewPage(true)
	d.Paragraph("text")
	var said []string
	y := map[string]float64{}
	for _, w := range pdftest.Words(pdftest.Contents(t, output(t, d))[0]) {
		said = append(said, w.Text)
		y[w.Text] = w.Y
	}
	list := strings.Join(said, " ")
	if !strings.Contains(list, "First 1 Second 2 Third 3") {
		t.Errorf("the first page says %q", list)
	}
	if strings.Contains(list, "Within it") {
		t.Error("a part of a section stands in the list")
	}
	if below := y["Contents"] - y["1"]; below < 5 || below > 30 {
		t.Errorf("the list begins %.1f below its head", below)
	}
	if y["Second"] != y["2"] || y["Second"] >= y["1"] || y["Third"] != y["1"] {
		t.Errorf("the lines of the list stand at %v", y)
	}
}

func TestMixedPages(t *testing.T) {
	d := newTest()
	d.Paragraph("upright")
	d.NewPage(true)
	d.Section("wide")
	d.Paragraph("text")
	d.NewPage(false)
	d.Paragraph("upright again")
	pages := pdftest.Contents(t, output(t, d))
	if len(pages) != 3 {
		t.Fatalf("%d pages, want 3", len(pages))
	}
	for i, p := range pages {
		height := longSide
		if i == 1 {
			height = shortSide
		}
		found := 0
		for _, w := range pdftest.Words(p) {
			switch w.Text {
			case "study MB-26":
				found++
				if math.Abs(w.Y-footerBaseline) > 0.1 {
					t.Errorf("page %d: the foot stands %.1f above the edge, want %.1f", i+1, w.Y, footerBaseline)
				}
			case "Stability summary":
				found++
				if math.Abs(w.Y-(height-headerBaseline)) > 0.1 {
					t.Errorf("page %d: the head stands at %.1f, want %.1f", i+1, w.Y, height-headerBaseline)
				}
			}
		}
		if found != 2 {
			t.Errorf("page %d has %d of head and foot", i+1, found)
		}
	}
}

// TestFile: dates of the data, no author, fonts inside, bookmarks.
func TestFile(t *testing.T) {
	d := newTest()
	d.Section("Conclusion")
	d.Paragraph("{nb} stays as it is")
	file := output(t, d)
	for _, want := range []string{"/CreationDate (D:20250113000000)", "/ModDate (D:20250113000000)", "/FontFile2", "/Outlines"} {
		if !bytes.Contains(file, []byte(want)) {
			t.Errorf("the file lacks %s", want)
		}
	}
	for _, not := range []string{"/Author", "/Subtype /Type1"} {
		if bytes.Contains(file, []byte(not)) {
			t.Errorf("the file has %s", not)
		}
	}
	if s := says(pdftest.Contents(t, file)[0]); !strings.Contains(s, "{nb} stays as it is") {
		t.Errorf("text was taken for a placeholder: %q", s)
	}
}

// TestNoDate: a document without a date has a fixed one, not that of the clock.
func TestNoDate(t *testing.T) {
	if file := output(t, New(Info{})); !bytes.Contains(file, []byte("/CreationDate (D:19700101000000)")) {
		t.Error("the file's date is not 1970-01-01")
	}
}

// TestAsWritten: a document is known as ours until something is added to it.
func TestAsWritten(t *testing.T) {
	file := output(t, newTest())
	for name, c := range map[string]struct {
		file []byte
		want bool
	}{
		"as written": {file, true},
		"signed":     {append(bytes.Clone(file), "added\n%%EOF\n"...), false},
		"cut off":    {file[:len(file)/2], false},
		"another's":  {bytes.Replace(file, []byte("(shelfspan)"), []byte("(something)"), 1), false},
		"empty":      {nil, false},
	} {
		if got := AsWritten(c.file); got != c.want {
			t.Errorf("%s: AsWritten is %v", name, got)
		}
	}
}

// TestCanvas: shapes come out as the operators that draw them, states are
// closed, and points that are no numbers draw nothing.
func TestCanvas(t *testing.T) {
	d := newTest()
	d.Figure(100, "", func(c draw.Canvas) {
		c.SetColor(color.RGBA{255, 0, 0, 255})
		c.FillPolygon(color.RGBA{255, 0, 0, 255}, []vg.Point{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 10}})
		c.StrokeLines(draw.LineStyle{Color: color.RGBA{0, 0, 255, 255}, Width: 2, Dashes: []vg.Length{3, 1}}, []vg.Point{{X: 1, Y: 2}, {X: 3, Y: 4}})
		c.StrokeLines(draw.LineStyle{Width: 7}, []vg.Point{{X: vg.Length(math.NaN()), Y: 2}, {X: 3, Y: 4}})
		var p vg.Path
		p.Move(vg.Point{X: 20, Y: 10})
		p.Arc(vg.Point{X: 10, Y: 10}, 10, 0, 2*math.Pi)
		c.Stroke(p)
		c.SetColor(color.NRGBA{0, 0, 0, 128}) // half translucent black is grey on paper
		c.Push()                              // left open
	})
	page := pdftest.Contents(t, output(t, d))[0]
	for _, want := range []string{
		"1.000 0.000 0.000 rg",
		"0.000 0.000 m 10.000 0.000 l 10.000 10.000 l",
		"[3.000 1.000] 0.000 d", "2.000 w", "1.000 2.000 m 3.000 4.000 l S",
		"20.000 15.523 15.523 20.000 10.000 20.000 c", // 10 + 10 × 0.5523, the usual quarter turn
		"0.498 0.498 0.498 rg",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(page, "NaN") {
		t.Error("the page has a NaN")
	}
	opened, closed := 0, 0
	for _, f := range strings.Fields(page) {
		switch f {
		case "q":
			opened++
		case "Q":
			closed++
		}
	}
	if opened != closed || opened == 0 {
		t.Errorf("%d states opened, %d closed", opened, closed)
	}
}

// TestWordsStayWhole: in a line exactly as wide as a word is, the word is not
// broken for the last digit of a sum.
func TestWordsStayWhole(t *testing.T) {
	d := newTest()
	for _, word := range []string{"Condition", "Formula", "Batches", "Results", "zero-order", "Pack", "extrapolation", "WWWWWWWWWWWWWWWWWWWW"} {
		for _, size := range []float64{6.4, 7.1, 7.6, 8.2, 9.5, 10.3} {
			for _, st := range []style{regular, bold} {
				if lines := d.wrap(word, st, size, d.width(word, st, size)); len(lines) != 1 {
					t.Errorf("%q at %v is broken: %q", word, size, lines)
				}
			}
		}
	}
}
