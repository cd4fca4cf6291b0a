// Package labels sets the labels of a study's units on A4 sheets, each with
// its unit id as a code and in full.
//
// A label looks the same whatever others stand beside it, so one printed again
// later matches the first. It is set as large as its size allows, and refused
// where that would be too small to read or to scan; nothing is left out to make
// it fit.
package labels

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"shelfspan/reports/codes"
	"shelfspan/reports/pdf"
	"shelfspan/study"
)

// Label is what one label says. All of it is given; empty fields are left out,
// but for the unit's id, which must be there.
type Label struct {
	Study, Batch, Pack, Orientation string
	Condition, Climate              string     // "25C60" and "25 °C, 60 % RH"
	Time                            string     // "18M", "initial", "returned at every pull" or "reserve"
	Due                             study.Date // NoDate where no single day is
	Unit                            string     // the unit's id, also in the code
	Cautions                        []string   // short words: pressurised, flammable, glass
}

// longest is how many characters of a field are printed; what is longer is
// shortened in its middle, with an ellipsis. The unit's id is never shortened.
const longest = 40

// Write sets labels as PDF, in the order given, from the first free place of
// the first sheet on. The same labels and layout give the same bytes. A label
// that does not fit its size is a *SizeError; nothing is written then.
func Write(w io.Writer, labels []Label, l Layout) error {
	sheet, err := l.sheet()
	if err != nil {
		return err
	}
	if len(labels) == 0 {
		return errors.New("there are no labels to print")
	}
	doc := pdf.New(pdf.Info{Title: strings.TrimSpace("Labels " + labels[0].Study)})
	contents, err := prepare(doc, labels, l.Code)
	if err != nil {
		return err
	}
	s := newSetter(doc, l.Code)
	faces := make([]face, len(contents))
	for i := range contents {
		var fits bool
		if faces[i], fits = s.set(&contents[i], sheet); !fits {
			return s.sizeError(contents, labels, i, l)
		}
	}
	for i := range faces {
		place := (i + l.Skip) % sheet.places()
		if i == 0 || place == 0 {
			doc.PlainPage(pageWidth, pageHeight)
		}
		x, y := sheet.corner(place)
		faces[i].draw(doc, x, y)
		if l.CutLines {
			doc.Frame(x, y, sheet.width, sheet.height, cutWeight)
		}
	}
	_, err = doc.WriteTo(w)
	return err
}

const cutWeight = 0.25

// content is a label's text, ready to be measured, and its code.
type content struct {
	paragraphs [4][]segment // study; batch, pack; condition; time, due
	cautions   []pdf.Line
	idLine     pdf.Line
	id         []pdf.Line // the same, cut after each slash
	em         float64    // width of all its text together
	code       codes.Symbol
}

// segment is a piece of a paragraph; big ones stand out where there is room.
type segment struct {
	line pdf.Line
	big  bool
}

func prepare(doc *pdf.Document, labels []Label, code Code) ([]content, error) {
	symbols, err := symbolsOf(labels, code)
	if err != nil {
		return nil, err
	}
	contents := make([]content, len(labels))
	for i := range labels {
		contents[i].read(doc, &labels[i])
		contents[i].code = symbols[i]
	}
	return contents, nil
}

func (c *content) read(doc *pdf.Document, x *Label) {
	add := func(paragraph int, text string, bold, big bool) {
		if line := doc.Line(text, bold); !line.Empty() {
			c.paragraphs[paragraph] = append(c.paragraphs[paragraph], segment{line, big})
			c.em += line.Width(1)
		}
	}
	pack := []string{shortened(x.Pack), shortened(x.Orientation)}
	pack = slices.DeleteFunc(pack, func(s string) bool { return s == "" })
	time := shortened(x.Time)
	add(0, shortened(x.Study), false, false)
	add(1, shortened(x.Batch), true, true)
	add(1, strings.Join(pack, ", "), true, false)
	add(2, shortened(x.Condition), true, false)
	add(2, unitsKept.Replace(shortened(x.Climate)), false, false)
	add(3, time, true, !strings.Contains(time, " "))
	if x.Due != study.NoDate {
		add(3, "due "+x.Due.String(), false, false)
	}
	for _, t := range x.Cautions {
		if line := doc.Line(strings.ToUpper(shortened(t)), true); !line.Empty() {
			c.cautions = append(c.cautions, line)
			c.em += line.Width(1)
		}
	}
	c.idLine = doc.Line(x.Unit, false)
	c.em += c.idLine.Width(1)
	for _, piece := range strings.SplitAfter(x.Unit, "/") {
		c.id = append(c.id, doc.Line(piece, false))
	}
}

// unitsKept keeps a number and its unit on one line.
var unitsKept = strings.NewReplacer(" °C", "\u00a0°C", " % RH", "\u00a0%\u00a0RH")

// symbolsOf draws the code of every label.
func symbolsOf(labels []Label, code Code) ([]codes.Symbol, error) {
	units := make([]string, len(labels))
	for i := range labels {
		units[i] = labels[i].Unit
		if k := strings.IndexFunc(units[i], unicode.IsControl); k >= 0 {
			r, _ := utf8.DecodeRuneInString(units[i][k:])
			return nil, fmt.Errorf("label %d: the unit id %q has the control character %q, which a scanner would pass on as a key", i+1, units[i], r)
		}
		if strings.TrimSpace(units[i]) == "" {
			return nil, fmt.Errorf("label %d has no unit id", i+1)
		}
	}
	if code != Code128 {
		symbols, bad, err := codes.QRs(units)
		if err != nil {
			return nil, fmt.Errorf("label %d, unit %.60q: %w", bad+1, units[bad], err)
		}
		return symbols, nil
	}
	symbols := make([]codes.Symbol, len(labels))
	for i, unit := range units {
		var err error
		if symbols[i], err = codes.Code128(unit); err != nil {
			return nil, fmt.Errorf("label %d, unit %.60q: %w; a QR code holds it", i+1, unit, err)
		}
	}
	return symbols, nil
}

// shortened keeps both ends of a text that is longer than any name should be.
func shortened(text string) string {
	const tail = 13
	text = strings.TrimSpace(text)
	if utf8.RuneCountInString(text) <= longest {
		return text
	}
	r := []rune(text)
	return strings.TrimSpace(string(r[:longest-tail-1])) + "…" + strings.TrimSpace(string(r[len(r)-tail:]))
}
