package protocol

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"shelfspan/study"
)

// node is one value of a TOML file with the line it stands on. Its kind is
// unstable.Table for every table, however written, and unstable.Invalid for a
// value that could not be read and has been reported already.
type node struct {
	kind   unstable.Kind
	line   int
	text   string  // of a scalar: a string's content, else as it stands in the file
	items  []*node // of an array
	fields []*field
	byName map[string]*field
	header bool // the table has a header of its own, so another is a repeat
	list   bool // the array was made by [[headers]]
	closed bool // an inline table, to which nothing can be added
}

// field is one key of a table with its value.
type field struct {
	name  string
	line  int
	value *node
}

func newTable(line int) *node { return &node{kind: unstable.Table, line: line} }

// get gives the field of a table, or nil.
func (n *node) get(name string) *field { return n.byName[name] }

// has reports whether a table names a key, even misspelt or with a wrong value.
func (n *node) has(name string) bool { return n.byName[name] != nil }

// lineOf gives the line of a key, or of the table where it lacks the key.
func (n *node) lineOf(name string) int {
	if f := n.byName[name]; f != nil {
		return f.line
	}
	return n.line
}

// lastLine gives the line of the last value within a value.
func (n *node) lastLine() int {
	last := n.line
	for _, item := range n.items {
		last = max(last, item.lastLine())
	}
	return last
}

func (n *node) put(name string, line int, value *node) {
	if n.byName == nil {
		n.byName = map[string]*field{}
	}
	f := &field{name: name, line: line, value: value}
	n.fields = append(n.fields, f)
	n.byName[name] = f
}

// maxSyntaxFaults bounds how often reading is taken up again after a line that
// is no TOML, so that a large file of another kind is refused quickly.
const maxSyntaxFaults = 50

// maxValues bounds the values taken from a file, and with them the memory.
const maxValues = 500_000

// tree reads the whole file. After an expression that is no TOML it goes on at
// the next line that looks like a key or a header, so that one slip does not
// hide the other faults.
type tree struct {
	r     *reader
	data  []byte
	ends  []int // offset of each line's end
	root  *node
	table *node // the one that keys go into; nil after a header that is wrong
	count int   // values read
}

// parse gives the tree of a file; false where so little of it is TOML that
// nothing more can be said of it.
func parse(r *reader, data []byte) (*node, bool) {
	t := &tree{r: r, data: data, root: newTable(1)}
	t.table = t.root
	for i, b := range data {
		if b == '\n' {
			t.ends = append(t.ends, i)
		}
	}
	gaveUp := false
	for start, n := 0, 0; start < len(data) && !gaveUp; n++ {
		if gaveUp = n == maxSyntaxFaults; !gaveUp {
			start = t.read(start)
		} else if len(t.root.fields) > 0 {
			r.fault(t.line(start), "", "too much of this is no TOML; the rest was not read")
		}
	}
	if len(t.root.fields) == 0 {
		r.faults.List = nil
		r.fault(1, "", "nothing in the file is a section or key of TOML; a study file begins with [study]")
		r.faults.Hint = startHint
		return nil, false
	}
	return t.root, !gaveUp && t.count <= maxValues
}

// line gives the 1-based line of an offset.
func (t *tree) line(offset int) int { return sort.SearchInts(t.ends, offset) + 1 }

// nextLine gives the offset of the line after that of an offset.
func (t *tree) nextLine(offset int) int {
	if i := bytes.IndexByte(t.data[offset:], '\n'); i >= 0 {
		return offset + i + 1
	}
	return len(t.data)
}

// head gives the line at an offset, cut short where it is long.
func (t *tree) head(offset int) []byte {
	const most = 200
	return t.data[offset:min(t.nextLine(offset), offset+most)]
}

// read takes in the expressions from an offset on, up to the end or to one
// that is no TOML, and gives the offset at which to go on.
func (t *tree) read(base int) int {
	var p unstable.Parser
	data := t.data[base:len(t.data):len(t.data)]
	p.Reset(data)
	good := base // the end of what was read
	for t.count <= maxValues && p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.KeyValue:
			good = base + int(e.Raw.Offset+e.Raw.Length)
			if t.table != nil {
				t.keyValue(e, t.table, base)
			}
		case unstable.Table, unstable.ArrayTable:
			for k := e.Key(); k.Next(); {
				good = base + int(k.Node().Raw.Offset+k.Node().Raw.Length)
			}
			t.openHeader(e, base)
		}
	}
	if t.count > maxValues {
		t.r.fault(t.line(good), "", "the file holds more than %d values, which no study file does; the rest was not read", maxValues)
		return len(t.data)
	}
	err := p.Error()
	if err == nil {
		return len(t.data)
	}
	at := good
	var perr *unstable.ParserError
	if errors.As(err, &perr) {
		at = base + int(p.Range(perr.Highlight).Offset)
	}
	at = min(at, len(t.data)-1)
	return t.recover(t.expressionStart(good, base, at), at, err.Error())
}

// expressionStart gives the line on which the expression begins that went
// wrong at an offset: the first after the last good one, which always ends its
// line, that is neither blank nor a comment.
func (t *tree) expressionStart(good, base, at int) int {
	start := good
	if good > base {
		start = t.nextLine(good)
	}
	for {
		next := t.nextLine(start)
		line := bytes.TrimSpace(t.data[start:next])
		if next > at || len(line) > 0 && line[0] != '#' {
			return start
		}
		start = next
	}
}

var (
	looksLikeKey    = regexp.MustCompile(`^\s*([A-Za-z0-9_-]+)\s*[=:]`)
	looksLikeHeader = regexp.MustCompile(`^\s*(\[\[?)\s*([A-Za-z0-9_-]+)\s*\]?`)
	resumes         = regexp.MustCompile(`^\s*([A-Za-z0-9_.-]+\s*=|\[\[?\s*[A-Za-z0-9_.-]+\s*\])`)
)

// recover reports an expression that is no TOML, keeps in mind the key or
// header it was meant to be, and gives the offset at which to go on.
func (t *tree) recover(start, at int, message string) int {
	text := strings.TrimRight(string(t.head(start)), "\r\n")
	line, begun := t.line(at), t.line(start)
	switch h, k := looksLikeHeader.FindStringSubmatch(text), looksLikeKey.FindStringSubmatch(text); {
	case h != nil:
		t.guessHeader(h[2], h[1] == "[[", begun)
	case k != nil && t.table != nil && !t.table.has(k[1]):
		t.table.put(k[1], begun, &node{line: begun})
	}
	if strings.Contains(message, "terminated") || strings.Contains(message, "incomplete") {
		line = begun // the end of the file says nothing of where the quote is missing
	}
	t.r.fault(line, "", "%s", explain(message, text, string(t.head(at)), begun, line))
	next := t.nextLine(start)
	for next < len(t.data) {
		if resumes.Match(t.head(next)) {
			break
		}
		next = t.nextLine(next)
	}
	return next
}

// guessHeader opens the table that a broken header was meant to open.
func (t *tree) guessHeader(name string, list bool, line int) {
	t.table = newTable(line)
	old := t.root.get(name)
	switch {
	case old == nil && list:
		t.root.put(name, line, &node{kind: unstable.Array, line: line, list: true, items: []*node{t.table}})
	case old == nil:
		t.root.put(name, line, t.table)
	case old.value.kind == unstable.Array && old.value.list:
		old.value.items = append(old.value.items, t.table)
	case old.value.kind == unstable.Table:
		t.table = old.value
	}
}

// openHeader opens the table of [a.b] or [[a.b]].
func (t *tree) openHeader(e *unstable.Node, base int) {
	t.count++
	t.table = nil
	path := t.path(e, base)
	in := t.descend(t.root, path[:len(path)-1])
	if in == nil {
		return
	}
	last := path[len(path)-1]
	old := in.get(last.name)
	list := e.Kind == unstable.ArrayTable
	if s, ok := t.r.section(last.name); ok && s.many && !list && len(path) == 1 && (old == nil || old.value.list) {
		t.r.fault(last.line, "", "[%s] must be %s, in double brackets: there can be several", s.name, s)
		list = true // so that the keys of the next one are no repeats
	}
	if list {
		switch {
		case old == nil:
			old = &field{value: &node{kind: unstable.Array, line: last.line, list: true}}
			in.put(last.name, last.line, old.value)
		case old.value.kind != unstable.Array || !old.value.list:
			t.r.fault(last.line, "", "[[%s]] is already given in another way on line %d; keep one way", last.name, old.line)
			return
		}
		t.table = newTable(last.line)
		t.table.header = true
		old.value.items = append(old.value.items, t.table)
		return
	}
	switch {
	case old == nil:
		t.table = newTable(last.line)
		in.put(last.name, last.line, t.table)
	case old.value.kind != unstable.Table || old.value.closed:
		t.r.fault(last.line, "", "[%s] is already given in another way on line %d; keep one way", last.name, old.line)
		return
	case old.value.header:
		t.r.fault(last.line, "", "[%s] is already given on line %d; put its keys there", last.name, old.line)
		t.table = old.value
	default:
		t.table = old.value
	}
	t.table.header = true
}

// descend finds or makes the table at a dotted path; nil where a part of the
// path is no table, which is reported.
func (t *tree) descend(in *node, path []*field) *node {
	for _, part := range path {
		old := in.get(part.name)
		if old == nil {
			next := newTable(part.line)
			in.put(part.name, part.line, next)
			in = next
			continue
		}
		next := old.value
		if next.kind == unstable.Array && next.list {
			next = next.items[len(next.items)-1]
		}
		if next.kind != unstable.Table || next.closed {
			if next.kind != unstable.Invalid {
				t.r.fault(part.line, part.name, "is already given on line %d and takes no keys of its own", old.line)
			}
			return nil
		}
		in = next
	}
	return in
}

// keyValue puts key = value into a table.
func (t *tree) keyValue(e *unstable.Node, in *node, base int) {
	path := t.path(e, base)
	in = t.descend(in, path[:len(path)-1])
	if in == nil {
		return
	}
	last := path[len(path)-1]
	if old := in.get(last.name); old != nil {
		t.r.fault(last.line, last.name, "is already given on line %d; keep one of them", old.line)
		return
	}
	in.put(last.name, last.line, t.value(e.Value(), last.line, base))
}

// path gives the parts of a dotted key, of which a study file needs two or
// three; what follows the fourth is left out, since the four are no key already.
func (t *tree) path(e *unstable.Node, base int) []*field {
	var path []*field
	for k := e.Key(); k.Next() && len(path) < 4; {
		n := k.Node()
		path = append(path, &field{name: string(n.Data), line: t.line(base + int(n.Raw.Offset))})
	}
	return path
}

// value copies a parsed value; lists carry no position and take that of what
// holds them.
func (t *tree) value(n *unstable.Node, line, base int) *node {
	if n.Raw.Length > 0 {
		line = t.line(base + int(n.Raw.Offset))
	}
	v := &node{kind: n.Kind, line: line}
	t.count++
	switch n.Kind {
	case unstable.Array:
		for it := n.Children(); it.Next() && t.count <= maxValues; {
			v.items = append(v.items, t.value(it.Node(), line, base))
		}
	case unstable.InlineTable:
		v.kind = unstable.Table
		for it := n.Children(); it.Next(); {
			t.keyValue(it.Node(), v, base)
		}
		v.closed = true
	default:
		v.text = string(n.Data)
	}
	return v
}

// describe says what a value is, for a complaint about its type.
func (n *node) describe() string {
	switch n.kind {
	case unstable.String:
		return quote(n.text) + " is a text"
	case unstable.Bool:
		return n.text + " is true or false"
	case unstable.Integer, unstable.Float:
		return n.text + " is a number"
	case unstable.LocalDate:
		return n.text + " is a day"
	case unstable.LocalTime, unstable.LocalDateTime, unstable.DateTime:
		return n.text + " is a time of day"
	case unstable.Array:
		return "this is a list"
	}
	return "this is a table"
}

// quote puts a text in quotes, cut short where it is long.
func quote(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return strconv.Quote(s)
}

// slips are what people write by habit where TOML wants something else, told
// from the text after the = sign.
var slips = []struct {
	value *regexp.Regexp
	right string
}{
	{regexp.MustCompile(`^(#.*)?$`), `nothing stands after the = sign`},
	{regexp.MustCompile("^[\u201c\u201d\u201e\u00ab\u00bb\u2018\u2019]"), `a text stands in straight quotes, "like this"`},
	{regexp.MustCompile(`^(?i:true|yes|on)\s*(#.*)?$`), `write true, in small letters`},
	{regexp.MustCompile(`^(?i:false|no|off)\s*(#.*)?$`), `write false, in small letters`},
	{regexp.MustCompile(`^[+-]?\d{1,3}(,\d{3})+(\.\d*)?\s*(#.*)?$`), `a number has no commas, and a decimal point, as 18000.0`},
	{regexp.MustCompile(`^[+-]?\d{1,3}([. ']\d{3})+(,\d*)?\s*(#.*)?$`), `a number is not grouped in thousands, and has a decimal point, as 18000.0`},
	{regexp.MustCompile(`^[+-]?\d+,\d+\s*(#.*)?$`), `a number has a decimal point, as 25.5, not a comma`},
	{regexp.MustCompile("^[\u2010-\u2015\u2212]\\s*[\\d.]"), `a minus sign is the hyphen of the keyboard, as -4.8`},
	{regexp.MustCompile(`^\d+[DdWwMmYyCc]\s*(#.*)?$`), `a duration stands in quotes, as "3M"`},
	{regexp.MustCompile(`^[+-]?[\d.]+\s*[\p{L}%°]`), `more than a number stands here; write the number alone, or a text in quotes`},
	{regexp.MustCompile(`^\.\d`), `a number has a digit before its point, as 0.5`},
	{regexp.MustCompile(`^\p{L}`), `a text stands in quotes, "like this"`},
}

// explain turns the parser's message into what to write instead, from the
// line on which the expression began and the text at which it went wrong.
func explain(message, text, wrong string, begun, line int) string {
	key, value, joined := strings.Cut(text, "=")
	value = strings.TrimSpace(value)
	switch {
	case strings.HasPrefix(strings.TrimSpace(text), "["):
		return "a section's name stands alone in its brackets, as [study] or [[condition]]"
	case !joined && looksLikeKey.MatchString(text), !joined && message == "expected '=' after key":
		return `a key and its value are joined by =, as id = "B1"`
	case message == "expected '=' after key":
		return fmt.Sprintf("%s is no key; a key is one word, as store_at", quote(strings.TrimSpace(key)))
	case strings.Contains(message, "terminated"), strings.Contains(message, "cannot have new lines"):
		return "a text begins here that has no closing quote"
	case strings.Contains(message, "invalid escape"):
		return "a backslash in a text is written twice, or the text in single quotes, 'like this'"
	case strings.Contains(message, "incomplete"):
		return "a list or table begins here that has no closing bracket"
	case line != begun && !strings.HasPrefix(message, "strings must"):
		return fmt.Sprintf("the list or table begun on line %d lacks a comma or its closing bracket before this", begun)
	case strings.Contains(message, "after array value"), strings.Contains(message, "after inline table"):
		return "a comma or a closing bracket is missing"
	}
	if joined && line == begun {
		if d := dateInDigits.FindString(value); d != "" {
			if _, err := study.ParseDate(d); err != nil {
				return err.Error()
			}
		}
		for _, s := range slips {
			if s.value.MatchString(value) {
				return s.right
			}
		}
	}
	switch {
	case joined && strings.HasPrefix(message, "expected newline"):
		return explainRest(value, strings.TrimSpace(wrong))
	case strings.Contains(message, "leading zero"):
		return "a number has no leading zeroes, as 5, not 05"
	case strings.HasPrefix(message, "strings must"):
		return `a text or duration stands in quotes, as "3M"`
	case startsWithLetter.MatchString(wrong):
		return `a text stands in quotes, "like this"`
	}
	return "is no TOML: " + message
}

// dateInDigits finds a day, in whatever order, at the head of a value.
var dateInDigits = regexp.MustCompile(`^\d{1,4}[-./]\d{1,2}[-./]\d{1,4}`)

// explainRest says what is wrong with a value that is complete and has more
// text behind it.
func explainRest(value, rest string) string {
	after, comma := strings.CutPrefix(rest, ",")
	after = strings.TrimSpace(after)
	switch {
	case comma && (after == "" || after[0] == '#'):
		return "a line does not end with a comma; leave it out"
	case comma && strings.HasPrefix(value, `"`):
		return `several values stand in square brackets, as ["0", "3M", "6M"]`
	case comma:
		return "several values stand in square brackets, as [1, 2]; a number has a decimal point, as 25.5, not a comma"
	}
	return "nothing follows a value on its line but a comment, which begins with #"
}

// startsWithLetter also takes the quotes that word processors put.
var startsWithLetter = regexp.MustCompile("^[\\p{L}\u201c\u201d\u201e\u00ab\u00bb\u2018\u2019]")
