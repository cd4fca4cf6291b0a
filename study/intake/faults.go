package intake

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"shelfspan/study/finding"
	"shelfspan/study/spelling"
)

// listed is the number of faults told one by one; the rest are counted.
const listed = 50

// faultList gathers the faults of all files.
type faultList struct {
	list  []located
	total int
	hint  string // what to do about all of them
}

type located struct {
	input int
	finding.Fault
}

// full reports that a further fault is counted only, so that its text need not
// be made.
func (f *faultList) full() bool { return len(f.list) >= listed }

func (f *faultList) add(input int, file string, line int, column, text string) {
	f.total++
	if !f.full() {
		f.list = append(f.list, located{input, finding.Fault{File: file, Line: line, Column: column, Text: text}})
	}
}

// count counts a fault that is not listed any more.
func (f *faultList) count() { f.total++ }

// err gives the faults in the order of files and lines, nil where there are none.
func (f *faultList) err() error {
	if f.total == 0 {
		return nil
	}
	slices.SortStableFunc(f.list, func(a, b located) int {
		return cmp.Or(cmp.Compare(a.input, b.input), cmp.Compare(a.Line, b.Line))
	})
	out := &finding.Faults{More: f.total - len(f.list), Hint: f.hint}
	for _, l := range f.list {
		out.List = append(out.List, l.Fault)
	}
	return out
}

// quote puts a field in quotes for a message, cut where it is long.
func quote(b []byte) string {
	const most = 60
	if len(b) > most {
		cut := most
		for cut > 0 && !utf8.RuneStart(b[cut]) {
			cut--
		}
		return strconv.Quote(string(b[:cut]) + "…")
	}
	return strconv.Quote(string(b))
}

// unknown says that a word is not among those known, and which was likely meant.
func unknown(what string, word []byte, known []string, whose string) string {
	text := "no " + what + " " + quote(word)
	if len(word) <= 100 {
		if near := spelling.Nearest(string(word), known); near != "" {
			return text + "; did you mean " + strconv.Quote(near) + "?"
		}
	}
	return text + "; " + whose + " " + enumerate(known)
}

func itoa(n int) string { return strconv.Itoa(n) }

// enumerate lists words, the first twelve of a long list.
func enumerate(words []string) string {
	const most = 12
	if len(words) > most {
		return strings.Join(words[:most], ", ") + " and " + strconv.Itoa(len(words)-most) + " more"
	}
	return strings.Join(words, ", ")
}
