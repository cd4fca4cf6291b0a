package protocol

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/spelling"
)

// maxFaults bounds the faults listed of one file; the rest are counted.
const maxFaults = 1000

// reader collects the faults of a file while it is read.
type reader struct {
	name     string
	sections []section
	faults   finding.Faults
}

// full reports whether further faults are only counted.
func (r *reader) full() bool { return len(r.faults.List) >= maxFaults }

// count gives the number of faults so far.
func (r *reader) count() int { return len(r.faults.List) + r.faults.More }

// section gives the section of a name.
func (r *reader) section(name string) (section, bool) {
	i := slices.IndexFunc(r.sections, func(s section) bool { return s.name == name })
	if i < 0 {
		return section{}, false
	}
	return r.sections[i], true
}

// home gives the header of the one section that has a key, or "".
func (r *reader) home(key string) string {
	home := ""
	for _, s := range r.sections {
		if slices.Contains(s.keys, key) {
			if home != "" {
				return ""
			}
			home = s.String()
		}
	}
	return home
}

// fault notes what is wrong in a line, under a key where there is one.
func (r *reader) fault(line int, key, format string, args ...any) {
	if r.full() {
		r.faults.More++
		return
	}
	r.faults.List = append(r.faults.List, finding.Fault{
		File: r.name, Line: line, Column: key, Text: fmt.Sprintf(format, args...),
	})
}

// key says how one key of a section is read into a T.
type key[T any] struct {
	name    string
	example string // a right value as it stands in a file
	needed  bool
	read    func(r *reader, k field, example string, to *T)
}

// required makes a key one that its section cannot do without.
func (k key[T]) required() key[T] {
	k.needed = true
	return k
}

// bind reads a table by the keys of its section.
func bind[T any](r *reader, table *node, section string, keys []key[T], to *T) {
	for _, f := range table.fields {
		i := slices.IndexFunc(keys, func(k key[T]) bool { return k.name == f.name })
		switch {
		case i < 0:
			r.unknownKey(f, table, section, names(keys))
		case f.value.kind != unstable.Invalid:
			keys[i].read(r, *f, keys[i].example, to)
		}
	}
	for _, k := range keys {
		if k.needed && !table.has(k.name) {
			r.fault(table.line, k.name, "is missing; write %s = %s", k.name, k.example)
		}
	}
}

// unknownKey reports a key that its section does not have. The key that was
// likely meant counts as given, so that it is not called missing too.
func (r *reader) unknownKey(f *field, table *node, section string, known []string) {
	if r.full() { // the nearest key is not worth its search
		r.faults.More++
		return
	}
	right := "the keys there are " + strings.Join(known, ", ")
	if home := r.home(f.name); home != "" {
		right = "it belongs in " + home
	} else if near := spelling.Nearest(f.name, known); near != "" {
		right = fmt.Sprintf("did you mean %q?", near)
		if !table.has(near) {
			table.byName[near] = &field{name: near, line: f.line, value: &node{line: f.line}}
		}
	}
	r.fault(f.line, "", "unknown key %s in %s; %s", quote(f.name), section, right)
}

func names[T any](keys []key[T]) []string {
	out := make([]string, len(keys))
	for i, k := range keys {
		out[i] = k.name
	}
	return out
}

// wrongType reports a value of another type than the key's.
func (r *reader) wrongType(v *node, key, want, example string) {
	if v.kind != unstable.Invalid {
		r.fault(v.line, key, "must be %s, such as %s; %s", want, example, v.describe())
	}
}

// limits bounds a number; a strict one lies between them, neither included.
type limits struct {
	low, high float64
	strict    bool
	unit      string
}

// anyNumber is no bound but that of a finite number.
var anyNumber = limits{low: -math.MaxFloat64, high: math.MaxFloat64}

func (l limits) holds(x float64) bool {
	if l.strict {
		return l.low < x && x < l.high
	}
	return l.low <= x && x <= l.high
}

func (l limits) String() string {
	unit := ""
	if l.unit != "" {
		unit = " " + l.unit
	}
	if l.strict {
		return fmt.Sprintf("it must lie between %s and %s%s, neither included", plain(l.low), plain(l.high), unit)
	}
	return fmt.Sprintf("it must lie from %s to %s%s", plain(l.low), plain(l.high), unit)
}

func plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// text reads one line of text.
func text[T any](name, example string, to func(*T) *string) key[T] {
	return key[T]{name: name, example: example, read: func(r *reader, f field, example string, t *T) {
		if s, ok := r.text(f.value, f.name, example); ok {
			*to(t) = s
		}
	}}
}

func (r *reader) text(v *node, key, example string) (string, bool) {
	if v.kind != unstable.String {
		r.wrongType(v, key, "a text in quotes", example)
		return "", false
	}
	for _, c := range v.text {
		if study.Hidden(c) {
			r.fault(v.line, key, "holds a line break, a control character or another that is not seen; write it in one line")
			return "", false
		}
	}
	return v.text, true
}

// id reads a name that files and labels refer to.
func id[T any](example string, to func(*T) *string) key[T] {
	return key[T]{name: "id", example: example, needed: true, read: func(r *reader, f field, example string, t *T) {
		s, ok := r.text(f.value, f.name, example)
		if !ok {
			return
		}
		*to(t) = s // kept even if ill-formed, so that what refers to it is not reported too
		const most = 64
		switch bad := strings.IndexFunc(s, notInID); {
		case s == "":
			r.fault(f.value.line, f.name, "is empty; write %s = %s", f.name, example)
		case bad >= 0:
			c := []rune(s[bad:])[0]
			r.fault(f.value.line, f.name, "%s holds %q; use letters without accents, digits, . _ and -", quote(s), c)
		case len(s) > most:
			r.fault(f.value.line, f.name, "%s is longer than %d letters", quote(s), most)
		}
	}}
}

func notInID(c rune) bool {
	return !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '.' || c == '_' || c == '-')
}

// number reads a finite number within its limits.
func number[T any](name, example string, l limits, to func(*T) *float64) key[T] {
	return key[T]{name: name, example: example, read: func(r *reader, f field, example string, t *T) {
		if x, ok := r.number(f.value, f.name, "a number", example, l); ok {
			*to(t) = x
		}
	}}
}

func (r *reader) number(v *node, key, want, example string, l limits) (float64, bool) {
	if v.kind != unstable.Integer && v.kind != unstable.Float {
		r.wrongType(v, key, want, example)
		return 0, false
	}
	digits := strings.ReplaceAll(v.text, "_", "")
	x, err := strconv.ParseFloat(digits, 64)
	if v.kind == unstable.Integer && len(digits) > 2 && digits[0] == '0' { // 0x, 0o, 0b
		var n int64
		n, err = strconv.ParseInt(digits, 0, 64)
		x = float64(n)
	}
	switch {
	case err != nil, math.IsNaN(x), math.IsInf(x, 0):
		r.fault(v.line, key, "must be %s, such as %s; %s is none", want, example, v.text)
	case !l.holds(x):
		r.fault(v.line, key, "%s is out of range; %s", v.text, l)
	default:
		return x, true
	}
	return 0, false
}

// whole reads a whole number within its limits.
func whole[T any](name, example string, l limits, to func(*T) *int) key[T] {
	return key[T]{name: name, example: example, read: func(r *reader, f field, example string, t *T) {
		if n, ok := r.whole(f.value, f.name, example, l); ok {
			*to(t) = n
		}
	}}
}

func (r *reader) whole(v *node, key, example string, l limits) (int, bool) {
	x, ok := r.number(v, key, "a whole number", example, l)
	if ok && x != math.Trunc(x) {
		r.fault(v.line, key, "must be a whole number, such as %s; %s has a fraction", example, v.text)
		return 0, false
	}
	return int(x), ok
}

// flag reads true or false.
func flag[T any](name string, to func(*T) *bool) key[T] {
	return key[T]{name: name, example: "true", read: func(r *reader, f field, _ string, t *T) {
		if f.value.kind != unstable.Bool {
			r.fault(f.value.line, f.name, "must be true or false, without quotes; %s", f.value.describe())
			return
		}
		*to(t) = f.value.text == "true"
	}}
}

// day reads a calendar date.
func day[T any](name, example string, to func(*T) *study.Date) key[T] {
	return key[T]{name: name, example: example, read: func(r *reader, f field, example string, t *T) {
		if d, ok := r.day(f.value, f.name, example); ok {
			*to(t) = d
		}
	}}
}

// The years that a study can plausibly touch.
var (
	firstDay = study.NewDate(1950, 1, 1)
	lastDay  = study.NewDate(2150, 12, 31)
)

func (r *reader) day(v *node, key, example string) (study.Date, bool) {
	if v.kind != unstable.LocalDate {
		r.wrongType(v, key, "a day without quotes or time", example)
		return study.NoDate, false
	}
	d, err := study.ParseDate(v.text)
	switch {
	case err != nil:
		r.fault(v.line, key, "%v", err)
	case d < firstDay || d > lastDay:
		r.fault(v.line, key, "%s is not between 1950 and 2150; is the year right?", v.text)
	default:
		return d, true
	}
	return study.NoDate, false
}

// duration reads a storage time.
func duration[T any](name, example string, to func(*T) *study.Duration) key[T] {
	return key[T]{name: name, example: example, read: func(r *reader, f field, example string, t *T) {
		d, ok := r.duration(f.value, f.name, example)
		if ok && d.Unit == study.Cycles {
			r.fault(f.value.line, f.name, "%s counts cycles, which only the pulls of a cycling condition can; write days, weeks, months or years", quote(f.value.text))
			return
		}
		if ok {
			*to(t) = d
		}
	}}
}

// maxMonths is the longest storage time taken, a hundred years.
const maxMonths = 1200

func (r *reader) duration(v *node, key, example string) (study.Duration, bool) {
	if v.kind != unstable.String {
		r.wrongType(v, key, "a duration in quotes", example)
		return study.Duration{}, false
	}
	d, err := study.ParseDuration(v.text)
	switch {
	case err != nil:
		r.fault(v.line, key, "%v", err)
	case d.Months(0) > maxMonths:
		r.fault(v.line, key, "%s is longer than 100 years", quote(v.text))
	default:
		return d, true
	}
	return study.Duration{}, false
}

// choice reads one of a few words.
func choice[T any, S ~string](name string, words []S, to func(*T) *S) key[T] {
	return key[T]{name: name, example: strconv.Quote(string(words[0])), read: func(r *reader, f field, example string, t *T) {
		if s, ok := oneOf(r, f.value, f.name, words); ok {
			*to(t) = s
		}
	}}
}

func oneOf[S ~string](r *reader, v *node, key string, words []S) (S, bool) {
	if v.kind != unstable.String {
		r.wrongType(v, key, "a text in quotes", strconv.Quote(string(words[0])))
		return "", false
	}
	known := make([]string, len(words))
	for i, w := range words {
		if known[i] = string(w); known[i] == v.text {
			return w, true
		}
	}
	if near := spelling.Nearest(v.text, known); near != "" {
		r.fault(v.line, key, "%s is not known; did you mean %q?", quote(v.text), near)
	} else {
		r.fault(v.line, key, "%s is not known; write one of %s", quote(v.text), strings.Join(known, ", "))
	}
	return "", false
}

// list reads a list by its items, which must not repeat. An empty list is
// taken only where empty says so.
func list[T, E any](name, example string, empty bool, item func(r *reader, v *node, key string) (E, bool), put func(*T, []E)) key[T] {
	return key[T]{name: name, example: example, read: func(r *reader, f field, example string, t *T) {
		if f.value.kind != unstable.Array {
			r.wrongType(f.value, f.name, "a list in square brackets", example)
			return
		}
		if len(f.value.items) == 0 && !empty {
			r.fault(f.value.line, f.name, "is an empty list; write at least one, as %s", example)
			return
		}
		seen := map[string]bool{}
		var out []E
		for _, v := range f.value.items {
			e, ok := item(r, v, f.name)
			if !ok {
				continue
			}
			if v.text != "" && seen[v.text] {
				r.fault(v.line, f.name, "%s is listed twice", v.text)
				continue
			}
			seen[v.text] = true
			out = append(out, e)
		}
		put(t, out)
	}}
}
