package pdf

import (
	"math"
	"strings"
	"testing"

	"shelfspan/reports/pdf/pdftest"
)

// TestParts: each part begins on a new page, with its own head and foot, and
// counts its own pages; a part that fills its last page adds none.
func TestParts(t *testing.T) {
	d := newTest()
	d.Part("first", "sheet", "foot one")
	for d.Room() > 30 {
		d.Paragraph("text")
	}
	d.Block(d.Room(), func(_, _, _ float64) {})
	d.Block(7, func(_, _, _ float64) {}) // what follows the last block may reach into the margin
	d.Part("second", "sheet", "foot two")
	d.Paragraph("text")
	d.NewPage(false)
	d.Paragraph("text")
	d.Part("third", "sheet", "foot three")
	d.Section("a heading that nothing follows")
	d.Part("fourth", "sheet", "foot four")
	file := output(t, d)
	pages := pdftest.Pages(t, file)
	want := []string{
		"first sheet foot one page 1 of 2", "first sheet foot one page 2 of 2", "second sheet foot two page 1 of 2",
		"second sheet foot two page 2 of 2", "third sheet foot three page 1 of 1", "fourth sheet foot four page 1 of 1",
	}
	if len(pages) != len(want) {
		t.Fatalf("%d pages, want %d: %q", len(pages), len(want), pages)
	}
	for i, w := range want {
		if !strings.HasSuffix(strings.TrimSpace(pages[i]), w) {
			t.Errorf("page %d ends in %q, want %q", i+1, pages[i], w)
		}
	}
	if !strings.Contains(pages[4], "a heading that nothing follows") {
		t.Error("a heading at the end of a part is lost")
	}
}

// TestFullPage: a document that ends just where its page does has no empty
// page after it.
func TestFullPage(t *testing.T) {
	d := newTest()
	d.Paragraph("text")
	d.Block(d.Room(), func(_, _, _ float64) {})
	d.y += 7 // the gap that blocks leave below them
	if n := len(pdftest.Contents(t, output(t, d))); n != 1 {
		t.Errorf("%d pages, want 1", n)
	}
}

// TestPlainPage: what is placed stands where it is placed, black, and nothing
// else stands on the page.
func TestPlainPage(t *testing.T) {
	d := newTest()
	d.PlainPage(200, 300)
	l := d.Line("25 °C\x00", true)
	d.Place(l, 10, 20, 8)
	d.Rects(40, 50, 2, 3, []Rect{{0, 0, 7, 1}, {3, 4, 1, 2}})
	d.Rects(0, 0, 1, 1, nil)
	d.Frame(5, 6, 7, 8, 0.5)
	d.Stroke(1, 2, 3, 4, 0.5)
	file := output(t, d)
	content := pdftest.Contents(t, file)[0]
	words := pdftest.Words(content)
	if len(words) != 1 || words[0].Text != "25 °C□" || words[0].X != 10 || words[0].Y != 280 || words[0].Size != 8 {
		t.Errorf("the page says %v", words)
	}
	for _, want := range []string{
		"2.00000 0.00000 0.00000 -3.00000 40.00000 250.00000 cm\n0 0 7 1 re\n3 4 1 2 re\nf Q",
		"5.00 294.00 7.00 -8.00 re S", "1.00 298.00 m 3.00 296.00 l S", "0.000 g",
	} {
		if !strings.Contains(content, want) {
			t.Errorf("the page lacks %q:\n%s", want, content)
		}
	}
	if !strings.Contains(string(file), "/MediaBox [0 0 200.00 300.00]") {
		t.Error("the page has not the size asked for")
	}
}

// TestLine: a line is as wide as what is printed of it, and breaks into lines
// that fit.
func TestLine(t *testing.T) {
	d := newTest()
	if l := d.Line("", false); !l.Empty() || l.Width(9) != 0 {
		t.Errorf("an empty line is %v", l)
	}
	l := d.Line("viscosity in can inverted", true)
	if want := d.width("viscosity in can inverted", bold, 9); math.Abs(l.Width(9)-want) > 1e-9 || !l.Bold() {
		t.Errorf("the line is %.2f wide, want %.2f", l.Width(9), want)
	}
	if got := d.Break(l, 9, 1000); len(got) != 1 || got[0] != l {
		t.Errorf("a line that fits was broken into %v", got)
	}
	text := ""
	for _, part := range d.Break(l, 9, 60) {
		if part.Width(9) > 60 || !part.Bold() {
			t.Errorf("%q is %.1f wide", part.Text(), part.Width(9))
		}
		text += part.Text() + " "
	}
	if text != "viscosity in can inverted " {
		t.Errorf("breaking gave %q", text)
	}
}

// TestForms: a table to be filled in has a square for each tick, a frame for
// each blank, its text at the size asked for, and none of it below the least.
func TestForms(t *testing.T) {
	d := New(Info{Title: "t", Kind: "k", Footer: "f", Least: 8, Date: day})
	d.Table(Table{
		Caption: "form", Size: 10, Wide: true, Columns: []Column{{Head: "unit"}, {Head: "taken"}, {Head: "note", Align: Right}},
		Rows: []Row{
			{Cells: []Cell{{Text: "B1", Tick: true, Under: "small"}, {Blank: true, Text: "not shown"}, {Text: "2"}}, Height: 30},
			{Cells: []Cell{{Text: "B2", Tick: true}, {Blank: true}, {Text: strings.Repeat("long words ", 60)}}},
		},
		Notes: []string{"note"},
	})
	d.Table(Table{Columns: []Column{{Head: "plain"}}, Rows: []Row{Texts("x")}})
	content := pdftest.Contents(t, output(t, d))[0]
	if n := strings.Count(content, "14.50 -14.50 re S"); n != 2 {
		t.Errorf("%d squares to tick, want 2", n)
	}
	if n := strings.Count(content, "re S"); n != 4 {
		t.Errorf("%d frames in all, want 4", n)
	}
	sizes := map[string]float64{}
	place := map[string]Rect{}
	for _, w := range pdftest.Words(content) {
		sizes[w.Text] = w.Size
		place[w.Text] = Rect{X: int(w.X), Y: int(w.Y)}
		if w.Size < 8 {
			t.Errorf("%q is set at %.1f points", w.Text, w.Size)
		}
	}
	if sizes["B1"] != 10 || sizes["x"] != tableSize {
		t.Errorf("texts are set at %v", sizes)
	}
	if _, shown := sizes["not shown"]; shown {
		t.Error("a blank shows a text")
	}
	if place["B1"].X-place["unit"].X != tickSide+tickGap-0.5 { // in whole points
		t.Errorf("a text stands at %v beside its box, its head at %v", place["B1"], place["unit"])
	}
}
