package intake

import (
	"strconv"

	"shelfspan/study"
)

// lookup finds ids among those of the study; rows that follow each other
// mostly name the same.
type lookup struct {
	index map[string]int
	names []string
	last  int // index of the id found last; -1 before
}

func newLookup(n int, id func(i int) string) lookup {
	l := lookup{index: make(map[string]int, n), names: make([]string, n), last: -1}
	for i := range n {
		l.names[i] = id(i)
		l.index[l.names[i]] = i
	}
	return l
}

// find gives the index of an id, -1 where the study has none such.
func (l *lookup) find(b []byte) int {
	if l.last >= 0 && l.names[l.last] == string(b) {
		return l.last
	}
	i, ok := l.index[string(b)]
	if !ok {
		return -1
	}
	l.last = i
	return i
}

// texts interns labels and remarks, which repeat from row to row.
type texts struct {
	index map[string]uint32
	list  []string
	odd   []oddity // of the characters in each
}

// oddity says which characters beyond plain text a text holds.
type oddity uint8

const (
	plainText   oddity = iota
	linedText          // tabs or line ends
	controlText        // characters that are not seen (study.Hidden), which garble a table or a terminal
)

func oddityOf(b []byte) oddity {
	odd := plainText
	for _, c := range string(b) {
		switch {
		case c == '\t' || c == '\n' || c == '\r':
			odd = linedText
		case study.Hidden(c):
			return controlText
		}
	}
	return odd
}

func newTexts() texts {
	return texts{index: map[string]uint32{"": 0}, list: []string{""}, odd: []oddity{plainText}}
}

// intern gives the index of a text.
func (t *texts) intern(b []byte) uint32 {
	if i, ok := t.index[string(b)]; ok {
		return i
	}
	s := string(b)
	i := uint32(len(t.list))
	t.list = append(t.list, s)
	t.odd = append(t.odd, oddityOf(b))
	t.index[s] = i
	return i
}

// shown gives a text as a message can have it.
func (t *texts) shown(i uint32) string {
	if t.odd[i] != plainText {
		return strconv.Quote(t.list[i])
	}
	return t.list[i]
}

// text is the text a column held last, and its index.
type text struct {
	bytes []byte
	index uint32
}

// most bounds the caches of parsed fields against files in which each differs.
const most = 1 << 14

// dateCache reads days, which repeat from row to row.
type dateCache struct {
	known map[string]study.Date
	last  study.Date
	text  []byte
}

func (c *dateCache) parse(b []byte) (study.Date, error) {
	if len(c.text) > 0 && string(c.text) == string(b) {
		return c.last, nil
	}
	d, ok := c.known[string(b)]
	if !ok {
		var err error
		if d, err = study.ParseTableDate(string(b[:min(len(b), 64)])); err != nil {
			return study.NoDate, err
		}
		if len(c.known) < most {
			c.known[string(b)] = d
		}
	}
	c.last, c.text = d, append(c.text[:0], b...)
	return d, nil
}
