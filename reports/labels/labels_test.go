package labels

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/reports/codes"
	"shelfspan/reports/pdf"
	"shelfspan/study"
)

type fatal interface {
	Helper()
	Fatalf(string, ...any)
}

// facesOf sets labels as Write does.
func facesOf(t fatal, labels []Label, l Layout) ([]face, []content, *sheet) {
	t.Helper()
	sh, err := l.sheet()
	if err != nil {
		t.Fatalf("%v", err)
	}
	doc := pdf.New(pdf.Info{})
	contents, err := prepare(doc, labels, l.Code)
	if err != nil {
		t.Fatalf("%v", err)
	}
	s := newSetter(doc, l.Code)
	faces := make([]face, len(contents))
	for i := range contents {
		var ok bool
		if faces[i], ok = s.set(&contents[i], sh); !ok {
			t.Fatalf("label %d does not fit", i)
		}
	}
	return faces, contents, sh
}

type box struct{ left, top, right, bottom float64 }

func (a box) meets(b box) bool {
	const touch = 0.05
	return a.left < b.right-touch && b.left < a.right-touch && a.top < b.bottom-touch && b.top < a.bottom-touch
}

func (a box) within(b box) bool {
	const touch = 0.05
	return a.left > b.left-touch && a.right < b.right+touch && a.top > b.top-touch && a.bottom < b.bottom+touch
}

// printed is where a text has ink: capitals and figures are about 0.72 of the
// size high, descenders about 0.21 deep.
func (p placed) printed() box {
	return box{p.x, p.y - 0.72*p.size, p.x + p.line.Width(p.size), p.y + 0.21*p.size}
}

// checkFace holds what every label must keep: ink inside its edges, no text on
// another nor in the quiet zone, sizes that can be read and scanned, and the
// whole id.
func checkFace(t fatal, f *face, c *content, sh *sheet, code Code) {
	t.Helper()
	label := box{0, 0, sh.width, sh.height}
	n, rows := float64(c.code.Columns), 1.0
	quietX, quietY, least := codes.QuietCode128*f.moduleX, 0.0, codes.LeastBarCode128
	if code != Code128 {
		rows, least = n, codes.LeastModuleQR
		quietX = codes.QuietQR * f.moduleX
		quietY = quietX
	}
	if f.moduleX < least*mm-1e-9 {
		t.Fatalf("a module is %.3f mm wide, less than %.2f", f.moduleX/mm, least)
	}
	zone := box{f.codeX - quietX, f.codeY - quietY, f.codeX + n*f.moduleX + quietX, f.codeY + rows*f.moduleY + quietY}
	if !zone.within(label) {
		t.Fatalf("the code with its quiet zone is %v, outside the label %v", zone, label)
	}
	if code == Code128 {
		if high := f.moduleY / mm; high < 4.999 || f.moduleY < 0.15*n*f.moduleX-1e-9 {
			t.Fatalf("bars %.1f mm high for a symbol %.1f mm wide", high, n*f.moduleX/mm)
		}
	}
	for i, p := range f.texts {
		if p.size < 5.999 {
			t.Fatalf("%q is set at %.1f points", p.line.Text(), p.size)
		}
		ink := p.printed()
		if !ink.within(label) {
			t.Fatalf("%q stands at %v, outside the label %v", p.line.Text(), ink, label)
		}
		if ink.meets(zone) {
			t.Fatalf("%q at %v runs into the code's quiet zone %v", p.line.Text(), ink, zone)
		}
		for _, q := range f.texts[:i] {
			if ink.meets(q.printed()) {
				t.Fatalf("%q at %v runs into %q at %v", p.line.Text(), ink, q.line.Text(), q.printed())
			}
		}
	}
	for _, r := range f.frames {
		if b := (box{r.x, r.y, r.x + r.w, r.y + r.h}); !b.within(label) || b.meets(zone) {
			t.Fatalf("the frame %v lies outside the label %v or in the code's quiet zone %v", b, label, zone)
		}
	}
	// The id is set first. What is broken may lose spaces at the break.
	squeeze := func(s string) string { return strings.Map(dropSpace, s) }
	want, got := squeeze(c.idLine.Text()), ""
	for _, p := range f.texts {
		if got += squeeze(p.line.Text()); len(got) >= len(want) {
			break
		}
	}
	if got != want {
		t.Fatalf("the id reads %q, want %q", got, want)
	}
}

func dropSpace(r rune) rune {
	if r == ' ' || r == '\u00a0' {
		return -1
	}
	return r
}

// TestFaces: any text at any size is either set within the rules or refused
// with a size at which it is.
func TestFaces(t *testing.T) {
	word := rapid.OneOf(
		rapid.StringMatching(`[A-Z]{1,3}[0-9]{0,3}`),
		rapid.StringMatching(`[a-zA-Z0-9._-]{0,30}`),
		rapid.SampledFrom([]string{"", "=cmd|' /C calc'!A0", strings.Repeat("very long ", 30), strings.Repeat("W", 80), "a\x00b\x07\r\n\t", "日本語 🧴", "\xff\xfe", "\u202eevil", "e\u0301\u0301", "(\\)", " "}),
	)
	fitted, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		id := rapid.StringMatching(`[A-Za-z0-9._-]{1,12}(/[A-Za-z0-9._-]{1,12}){0,7}`)
		l := Layout{
			Width: rapid.Float64Range(15, 210).Draw(t, "width"), Height: rapid.Float64Range(10, 297).Draw(t, "height"),
			GapX: rapid.SampledFrom([]float64{0, 2.5}).Draw(t, "gap"), CutLines: rapid.Bool().Draw(t, "cut"),
			Code: rapid.SampledFrom([]Code{QR, QR, Code128}).Draw(t, "code"),
		}
		var labels []Label
		for range rapid.IntRange(1, 3).Draw(t, "n") {
			labels = append(labels, Label{
				Study: word.Draw(t, "study"), Batch: word.Draw(t, "batch"), Pack: word.Draw(t, "pack"), Orientation: word.Draw(t, "orientation"),
				Condition: word.Draw(t, "condition"), Climate: word.Draw(t, "climate"), Time: word.Draw(t, "time"),
				Due:      rapid.SampledFrom([]study.Date{study.NoDate, 20000}).Draw(t, "due"),
				Cautions: rapid.SliceOfN(word, 0, 3).Draw(t, "cautions"), Unit: id.Draw(t, "unit"),
			})
		}
		if l.Code == Code128 {
			for i := range labels {
				labels[i].Unit = labels[i].Unit[:min(len(labels[i].Unit), 40)]
			}
		}
		var b bytes.Buffer
		err := Write(&b, labels, l)
		if err != nil {
			refused++
			var e *SizeError
			if !errors.As(err, &e) {
				t.Fatalf("refused otherwise than for the size: %v", err)
			}
			if b.Len() > 0 {
				t.Fatalf("%d bytes were written of labels that were refused", b.Len())
			}
			if e.Width == 0 {
				return // too much for any label on A4
			}
			l.Width, l.Height = e.Width, e.Height
		} else {
			fitted++
		}
		faces, contents, sh := facesOf(t, labels, l)
		for i := range faces {
			checkFace(t, &faces[i], &contents[i], sh, l.Code)
		}
	})
	if fitted < 10 || refused < 5 {
		t.Errorf("%d fitted and %d were refused: the draws do not try both", fitted, refused)
	}
}

// TestUsual: the usual sheet holds 21 labels of an ordinary study, all set
// alike, with a code and text larger than the least.
func TestUsual(t *testing.T) {
	faces, contents, sh := facesOf(t, some(21, "SB-25"), Layout{})
	if sh.places() != 21 {
		t.Errorf("%d labels on a sheet, want 21", sh.places())
	}
	for i := range faces {
		checkFace(t, &faces[i], &contents[i], sh, QR)
		if faces[i].base != faces[0].base {
			t.Errorf("label %d is set at %.1f points, the first at %.1f", i, faces[i].base, faces[0].base)
		}
	}
	if faces[0].base < 8 || faces[0].moduleX < 0.5*mm {
		t.Errorf("text of %.1f points and modules of %.2f mm; there is room for 8 and 0.5", faces[0].base, faces[0].moduleX/mm)
	}
}

// TestSays: each thing a label must say stands on it, what cannot be printed
// visibly replaced.
func TestSays(t *testing.T) {
	labels := []Label{
		{Study: "SB-25", Batch: "B1", Pack: "can", Orientation: "inverted", Condition: "25C60", Climate: "25 °C, 60 % RH", Time: "18M",
			Due: study.NewDate(2026, 8, 4), Unit: "SB-25/B1/can/i/25C60/18M/2/K", Cautions: []string{"pressurised", "flammable"}},
		{Study: "=cmd", Batch: "B\x001", Pack: "日本", Time: "reserve", Due: study.NoDate, Unit: "ид/ü/日", Cautions: []string{"glass"}},
		{Study: strings.Repeat("a", 30) + strings.Repeat("z", 30), Due: study.NoDate, Unit: "x"},
	}
	wants := [][]string{
		{"SB-25", "B1", "can, inverted", "25C60", "25 °C, 60 % RH", "18M", "due 2026-08-04", "PRESSURISED", "FLAMMABLE", "SB-25/B1/can/i/25C60/18M/2/K"},
		{"=cmd", "B□1", "□□", "reserve", "GLASS", "ид/ü/□"},
		{strings.Repeat("a", 26) + "…" + strings.Repeat("z", 13), "x"},
	}
	for _, size := range [][2]float64{{63.5, 38.1}, {105, 148}, {40, 60}} {
		faces, _, _ := facesOf(t, labels, Of(size[0], size[1]))
		for i, want := range wants {
			said := ""
			for _, p := range faces[i].texts {
				said += p.line.Text() + " "
			}
			said = strings.Map(dropSpace, said)
			for _, w := range want {
				if !strings.Contains(said, strings.Map(dropSpace, w)) {
					t.Errorf("%v: label %d says %q, not %q", size, i, said, w)
				}
			}
		}
		for _, p := range faces[1].texts {
			if strings.Contains(p.line.Text(), "due") {
				t.Errorf("a reserve unit has %q", p.line.Text())
			}
		}
	}
}

// TestReprint: a label printed alone, or from the middle of a sheet, looks as
// it did among others.
func TestReprint(t *testing.T) {
	labels := some(30, "SB-25")
	labels[3].Pack = strings.Repeat("long name of a pack ", 2)
	all, _, _ := facesOf(t, labels, Layout{})
	for i := range labels {
		alone, _, _ := facesOf(t, labels[i:i+1], Layout{Skip: 7})
		if a, b := fmt.Sprint(alone[0].texts, alone[0].codeX), fmt.Sprint(all[i].texts, all[i].codeX); a != b {
			t.Errorf("label %d alone: %s\namong others: %s", i, a, b)
		}
	}
}

// TestWrite: the same bytes each time, as many pages as needed, the first one
// begun where a used sheet has its first free place.
func TestWrite(t *testing.T) {
	for _, c := range []struct{ labels, skip, pages int }{{1, 0, 1}, {21, 0, 1}, {22, 0, 2}, {21, 1, 2}, {1, 20, 1}, {2, 20, 2}, {63, 0, 3}} {
		l := Layout{Skip: c.skip}
		file := pdfOf(t, some(c.labels, "SB-25"), l)
		if got := bytes.Count(file, []byte("/Type /Page\n")); got != c.pages {
			t.Errorf("%d labels after %d used places take %d pages, want %d", c.labels, c.skip, got, c.pages)
		}
		if !bytes.Equal(file, pdfOf(t, some(c.labels, "SB-25"), l)) {
			t.Errorf("%d labels give other bytes the second time", c.labels)
		}
		if bytes.Contains(file, []byte("/Subtype /Image")) {
			t.Error("a code is an image")
		}
	}
}

// TestRefused: what is wrong is said, and what would be right.
func TestRefused(t *testing.T) {
	one := some(1, "SB-25")
	unit := func(id string) []Label {
		l := some(1, "SB-25")
		l[0].Unit = id
		return l
	}
	for name, c := range map[string]struct {
		labels []Label
		layout Layout
		want   string
	}{
		"no labels":          {nil, Layout{}, "no labels"},
		"no id":              {unit(""), Layout{}, "label 1 has no unit id"},
		"blank id":           {unit(" \u00a0"), Layout{}, "label 1 has no unit id"},
		"control character":  {unit("a/b\nc"), Layout{}, `control character '\n'`},
		"no ASCII":           {unit("B1/ñ"), Layout{Code: Code128}, "a QR code holds it"},
		"too long for 128":   {unit(strings.Repeat("a/", 41)), Layout{Code: Code128}, "82 characters are more than the 80 of a Code 128; a QR code holds it"},
		"too long for all":   {unit(strings.Repeat("a/", 2000)), Layout{}, "4000 bytes are more than the 2331"},
		"one side only":      {one, Layout{Width: 50}, "both sides are at least 5"},
		"negative":           {one, Layout{Width: -50, Height: 20}, "both sides are at least 5"},
		"not a number":       {one, Layout{Width: math.NaN(), Height: 20}, "both sides are at least 5"},
		"larger than A4":     {one, Layout{Width: 211, Height: 20}, "larger than A4"},
		"endless":            {one, Layout{Width: math.Inf(1), Height: 20}, "larger than A4"},
		"too many columns":   {one, Layout{Width: 63.5, Height: 38.1, Columns: 4}, "at most 3 do"},
		"too many rows":      {one, Layout{Width: 63.5, Height: 38.1, Rows: 8}, "at most 7 do"},
		"negative columns":   {one, Layout{Columns: -1}, "0 takes as many as fit"},
		"negative gap":       {one, Layout{GapX: -1}, "at least 0"},
		"gap is no number":   {one, Layout{GapY: math.NaN()}, "at least 0"},
		"all skipped":        {one, Layout{Skip: 21}, "at most 20"},
		"negative skip":      {one, Layout{Skip: -1}, "at most 20"},
		"kind of code":       {one, Layout{Code: "dots"}, "qr or code128"},
		"small":              {one, Layout{Width: 20, Height: 10}, "mm would do"},
		"bars too wide":      {one, Layout{Code: Code128}, "or QR codes in place of Code 128"},
		"more than a sheet":  {unit(strings.Repeat("a/", 1100)), Layout{Width: 30, Height: 30}, "mm would do"},
		"too fine for a QR":  {unit("SB-25/" + strings.Repeat("a", 60)), Layout{Width: 60, Height: 16}, "mm would do"},
		"cautions by dozens": {cautious(80), Layout{}, "mm would do"},
		"beyond any label":   {cautious(20000), Layout{}, "no size on A4 would do"},
	} {
		var b bytes.Buffer
		err := Write(&b, c.labels, c.layout)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
		if b.Len() > 0 {
			t.Errorf("%s: %d bytes were written all the same", name, b.Len())
		}
	}
}

func cautious(n int) []Label {
	l := some(1, "SB-25")
	for range n {
		l[0].Cautions = append(l[0].Cautions, "pressurised")
	}
	return l
}

// TestSmallest: the size that a refusal names does, and half a millimetre less
// of what it changed does not.
func TestSmallest(t *testing.T) {
	labels := some(21, "SB-25")
	for _, l := range []Layout{{Width: 20, Height: 38}, {Width: 63.5, Height: 15}, {Width: 25, Height: 20}, {Width: 60, Height: 40, Code: Code128}} {
		var e *SizeError
		if err := Write(io.Discard, labels, l); !errors.As(err, &e) || e.Width == 0 {
			t.Fatalf("%v: %v, want a size that would do", l, err)
		}
		if e.QR != (l.Code == Code128) {
			t.Errorf("%v: says QR fits: %v", l, e.QR)
		}
		asked := l
		l.Width, l.Height = e.Width, e.Height
		if err := Write(io.Discard, labels, l); err != nil {
			t.Errorf("%v: the size named does not do: %v", asked, err)
		}
		if l.Width > asked.Width {
			l.Width -= growth
		} else {
			l.Height -= growth
		}
		if err := Write(io.Discard, labels, l); err == nil {
			t.Errorf("%v: %g × %g mm does, which is less than was named", asked, l.Width, l.Height)
		}
	}
}

func BenchmarkWrite(b *testing.B) {
	labels := some(5000, "SB-25")
	for _, code := range []Code{QR, Code128} {
		b.Run(string(code), func(b *testing.B) {
			l := Of(99.1, 38.1)
			l.Code = code
			for b.Loop() {
				if err := Write(io.Discard, labels, l); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
