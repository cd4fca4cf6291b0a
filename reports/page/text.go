package page

import (
	"cmp"
	"html"
	"html/template"
	"slices"
	"strings"
	"unicode/utf8"

	"shelfspan/study"
)

// text makes a text of the study or of the answer fit for the page: escaped, and
// each name that is written from right to left kept apart, so that it does not
// carry the words beside it along.
func (x *writer) text(t string) template.HTML { return template.HTML(x.names.isolate(t)) }

// isolator knows the names of a study that are written from right to left.
type isolator struct{ marks *strings.Replacer }

// The marks stand for <bdi> until a text is escaped; no text has them, since a
// page shows no control characters.
const openMark, closeMark = "\x01", "\x02"

var unmarked = strings.NewReplacer(openMark, "<bdi>", closeMark, "</bdi>")

func isolatorOf(d *study.Dataset) isolator {
	s := d.Study
	names := []string{s.ID, s.Title, s.Product}
	for i := range s.Conditions {
		names = append(names, s.Conditions[i].ID)
	}
	for i := range s.Batches {
		b := &s.Batches[i]
		names = append(names, b.ID, b.Scale, b.Lot, b.Size)
		for _, f := range b.Factors {
			names = append(names, f.Name, f.Level)
		}
	}
	for i := range s.Packs {
		names = append(names, s.Packs[i].ID, s.Packs[i].Description)
	}
	for i := range s.Attributes {
		a := &s.Attributes[i]
		names = append(append(names, a.ID, a.Unit, a.ExpectedAtAccelerated), a.Grades...)
	}
	names = append(names, d.Texts...)
	for i := range s.Chambers {
		names = append(names, s.Chambers[i].ID)
	}
	names = slices.DeleteFunc(names, func(n string) bool { return !rightToLeft(n) })
	slices.SortFunc(names, func(a, b string) int { return cmp.Or(cmp.Compare(len(b), len(a)), cmp.Compare(a, b)) })
	var pairs []string
	for _, n := range slices.Compact(names) {
		pairs = append(pairs, n, openMark+n+closeMark)
	}
	if pairs == nil {
		return isolator{}
	}
	return isolator{strings.NewReplacer(pairs...)}
}

// isolate escapes a text and keeps its right-to-left names apart; what is from
// right to left and no name known is kept apart as a whole.
func (n isolator) isolate(t string) string {
	if !rightToLeft(t) {
		return html.EscapeString(t)
	}
	t = strings.NewReplacer(openMark, "\uFFFD", closeMark, "\uFFFD").Replace(t)
	if n.marks != nil {
		if marked := n.marks.Replace(t); marked != t {
			return unmarked.Replace(html.EscapeString(marked))
		}
	}
	return "<bdi>" + html.EscapeString(t) + "</bdi>"
}

// rightToLeft reports whether a text has letters that are written from right to
// left: the blocks of Unicode set aside for them.
func rightToLeft(t string) bool {
	for i := range len(t) {
		if t[i] >= utf8.RuneSelf {
			return strings.ContainsFunc(t[i:], func(r rune) bool {
				return r >= 0x590 && r <= 0x8FF || r == 0x200F || r >= 0xFB1D && r <= 0xFDFF || r >= 0xFE70 && r <= 0xFEFC ||
					r >= 0x10800 && r <= 0x10FFF || r >= 0x1E800 && r <= 0x1EFFF
			})
		}
	}
	return false
}

// printable makes what a page cannot show, or what would silently turn the order
// of other words about, plain to see: control characters become U+FFFD, and the
// explicit signs of direction their number. Every page passes through it whole.
func printable(page []byte) []byte {
	bad := func(r rune) bool {
		return r < ' ' && r != '\n' && r != '\t' || r >= 0x7F && r < 0xA0 || explicit(r) || r == utf8.RuneError || r&0xFFFE == 0xFFFE || r >= 0xFDD0 && r <= 0xFDEF
	}
	at := indexFunc(page, bad)
	if at < 0 {
		return page
	}
	out := make([]byte, 0, len(page)+64)
	for len(page) > 0 {
		if at = indexFunc(page, bad); at < 0 {
			return append(out, page...)
		}
		out = append(out, page[:at]...)
		r, n := utf8.DecodeRune(page[at:])
		if explicit(r) {
			const digits = "0123456789ABCDEF"
			out = append(out, "⟨U+"...)
			for shift := 12; shift >= 0; shift -= 4 {
				out = append(out, digits[r>>shift&15])
			}
			out = append(out, "⟩"...)
		} else {
			out = append(out, "\uFFFD"...)
		}
		page = page[at+n:]
	}
	return out
}

// explicit reports whether a character embeds, overrides or isolates a direction.
func explicit(r rune) bool { return r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069 }

// indexFunc is bytes.IndexFunc with a short way over ASCII, of which a page
// mostly is.
func indexFunc(b []byte, bad func(rune) bool) int {
	for i := 0; i < len(b); {
		if c := b[i]; c >= ' ' && c < 0x7F || c == '\n' || c == '\t' {
			i++
			continue
		}
		r, n := utf8.DecodeRune(b[i:])
		if bad(r) {
			return i
		}
		i += n
	}
	return -1
}
