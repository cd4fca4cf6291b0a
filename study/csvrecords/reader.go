// Package csvrecords splits a stream into the records and fields of RFC 4180, in
// constant memory. Every reader of tables stands on it.
package csvrecords

import (
	"bytes"
	"errors"
	"hash"
	"io"
	"unicode/utf8"
)

// maxRecord bounds the bytes of one record, so that a quote that is never
// closed, or a file that is no table at all, cannot fill the memory.
const maxRecord = 1 << 20

// BadRecord is what makes a record unreadable.
type BadRecord struct {
	Text  string
	Fatal bool // the rest of the file cannot be told apart any more
}

// Error gives the text.
func (e *BadRecord) Error() string { return e.Text }

// The ways a record can be unreadable.
var (
	ErrBareQuote  = &BadRecord{Text: `a quote inside a field that does not begin with one; put the whole field in quotes and double those inside it`}
	ErrAfterQuote = &BadRecord{Text: `text after the quote that closes a field; double a quote that belongs to the field`}
	ErrOpenQuote  = &BadRecord{Text: `a quote opened in this row is never closed`, Fatal: true}
	ErrBareReturn = &BadRecord{Text: `a carriage return without a line feed; save the file with the line ends CRLF or LF`, Fatal: true}
	ErrLongRecord = &BadRecord{Text: `a row longer than 1 MB; is a quote opened in it that is never closed?`, Fatal: true}
	ErrBinary     = &BadRecord{Text: `not a text file (it holds a NUL byte); save the table as CSV in UTF-8`, Fatal: true}
	ErrNotUTF8    = &BadRecord{Text: `not UTF-8; save the table as CSV in UTF-8`}
	ErrUTF16      = &BadRecord{Text: `text in UTF-16; save the table as CSV in UTF-8`, Fatal: true}
	ErrWorkbook   = &BadRecord{Text: `a spreadsheet workbook or another archive, not CSV; save the sheet as CSV in UTF-8`, Fatal: true}
)

// errNeedMore says that a record goes on beyond the bytes at hand.
var errNeedMore = errors.New("more bytes needed")

// Reader splits a stream into records, line ends CRLF or LF. It differs from
// encoding/csv only in what it refuses: records beyond maxRecord, NUL bytes,
// invalid UTF-8 and carriage returns that end no line. Line feeds inside quotes
// come out as LF, as there.
type Reader struct {
	Sep     byte // between fields; may be set anew before any record
	AnyText bool // text in other encodings than UTF-8 is let through as it is
	Line    int  // 1-based, on which the last record began

	src        io.Reader
	sum        hash.Hash // of every byte read
	buf        []byte
	start, end int   // the unread part of buf
	total      int64 // bytes read from src
	eof        bool
	next       int // line on which the next record begins
	fields     [][]byte
	unquoted   []byte // text of fields whose quotes or line ends were undone
	ends       []int  // of the fields in unquoted
}

// NewReader splits src at commas, and writes every byte it reads into sum.
func NewReader(src io.Reader, sum hash.Hash) *Reader {
	return &Reader{src: src, sum: sum, Sep: ',', buf: make([]byte, 64<<10), next: 1}
}

// Begin looks at the head of the stream: a byte-order mark is passed over, what
// is no CSV by its first bytes is refused.
func (r *Reader) Begin() error {
	if err := r.fill(); err != nil {
		return err
	}
	head := r.buf[:r.end]
	switch {
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		r.start = 3
	case bytes.HasPrefix(head, []byte("\xff\xfe")), bytes.HasPrefix(head, []byte("\xfe\xff")):
		return ErrUTF16
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.HasPrefix(head, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")):
		return ErrWorkbook
	}
	return nil
}

// FirstLine gives the line that the next record begins with, as far as it is
// in the buffer.
func (r *Reader) FirstLine() []byte {
	line, _, _ := bytes.Cut(bytes.TrimLeft(r.buf[r.start:r.end], "\r\n"), []byte("\n"))
	return line
}

// FirstLines gives the first lines of the stream, as far as a title above a
// table may reach; it is to be asked for before the first record is read.
func (r *Reader) FirstLines() []byte {
	const most = 4 << 10
	return r.buf[r.start:min(r.end, r.start+most)]
}

// Read returns the fields of the next record, valid until the next call. The
// error is io.EOF at the end, a *BadRecord, or that of the source.
func (r *Reader) Read() ([][]byte, error) {
	for {
		r.Line = r.next
		if r.start == r.end && r.eof {
			return nil, io.EOF
		}
		n, lines, err := r.split(r.buf[r.start:r.end])
		if err == errNeedMore {
			if err := r.fill(); err != nil {
				return nil, err
			}
			continue
		}
		r.start += n
		r.next += lines
		if err != nil {
			return nil, err
		}
		if len(r.fields) > 0 {
			return r.fields, nil
		}
	}
}

// Consumed gives the bytes split into records so far.
func (r *Reader) Consumed() int64 { return r.total - int64(r.end-r.start) }

// Ended reports whether the source was read to its end.
func (r *Reader) Ended() bool { return r.eof }

// fill reads more bytes behind those not yet split.
func (r *Reader) fill() error {
	if r.start > 0 {
		r.end = copy(r.buf, r.buf[r.start:r.end])
		r.start = 0
	}
	if r.end == len(r.buf) {
		if len(r.buf) >= maxRecord {
			return ErrLongRecord
		}
		r.buf = append(r.buf, make([]byte, len(r.buf))...)
	}
	// Filling the buffer before splitting again keeps the work on one long
	// record linear.
	for r.end < len(r.buf) {
		n, err := r.src.Read(r.buf[r.end:])
		r.sum.Write(r.buf[r.end : r.end+n])
		r.end += n
		r.total += int64(n)
		if err == io.EOF {
			r.eof = true
			return nil
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// split finds the record at the head of data: the bytes and lines it takes,
// with its fields in r.fields. A blank line has none.
func (r *Reader) split(data []byte) (n, lines int, err error) {
	fields, from, high, sep := r.fields[:0], 0, byte(0), r.Sep
	for i, c := range data {
		high |= c
		if c == sep {
			fields = append(fields, data[from:i])
			from = i + 1
			continue
		}
		if c > '"' || c == ' ' || c == '!' {
			continue
		}
		switch c {
		case '"':
			return r.splitQuoted(data)
		case 0:
			return 0, 0, ErrBinary
		case '\r':
			if i+1 == len(data) && !r.eof {
				return 0, 0, errNeedMore
			}
			if i+1 < len(data) && data[i+1] != '\n' {
				return 0, 0, ErrBareReturn
			}
			if i+1 == len(data) {
				r.fields = endRecord(fields, data[from:i], i == 0)
				return len(data), 1, r.checkText(data, high)
			}
		case '\n':
			last := data[from:i]
			if len(last) > 0 && last[len(last)-1] == '\r' {
				last = last[:len(last)-1]
			}
			r.fields = endRecord(fields, last, from == 0 && len(last) == 0)
			return i + 1, 1, r.checkText(data[:i], high)
		}
	}
	if !r.eof {
		return 0, 0, errNeedMore
	}
	r.fields = endRecord(fields, data[from:], len(data) == 0)
	return len(data), 1, r.checkText(data, high)
}

// endRecord adds the last field, but for a blank line.
func endRecord(fields [][]byte, last []byte, blank bool) [][]byte {
	if blank {
		return fields[:0]
	}
	return append(fields, last)
}

func (r *Reader) checkText(data []byte, high byte) error {
	if !r.AnyText && high >= utf8.RuneSelf && !utf8.Valid(data) {
		return ErrNotUTF8
	}
	return nil
}

// splitQuoted does what split does for a record with a quote in it.
func (r *Reader) splitQuoted(data []byte) (n, lines int, err error) {
	r.fields, r.unquoted, r.ends = r.fields[:0], r.unquoted[:0], r.ends[:0]
	p := 0
	for {
		if p < len(data) && data[p] == '"' {
			p++
			for {
				i := bytes.IndexByte(data[p:], '"')
				if i < 0 && !r.eof {
					return 0, 0, errNeedMore
				}
				if i < 0 {
					return 0, 0, ErrOpenQuote
				}
				text := data[p : p+i]
				if n := bytes.Count(text, []byte("\n")); n > 0 {
					lines += n
					text = bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))
				}
				r.unquoted = append(r.unquoted, text...)
				p += i + 1
				if p == len(data) && !r.eof {
					return 0, 0, errNeedMore
				}
				if p == len(data) || data[p] != '"' {
					break
				}
				r.unquoted = append(r.unquoted, '"')
				p++
			}
		} else {
			i := bytes.IndexAny(data[p:], string([]byte{r.Sep, '\r', '\n', '"'}))
			if i < 0 {
				i = len(data) - p
			}
			r.unquoted = append(r.unquoted, data[p:p+i]...)
			p += i
			if p < len(data) && data[p] == '"' {
				return r.skipLine(data, p, lines, ErrBareQuote)
			}
		}
		r.ends = append(r.ends, len(r.unquoted))
		switch {
		case p < len(data) && data[p] == r.Sep:
			p++
			continue
		case p < len(data) && data[p] == '\n':
			p++
		case p+1 < len(data) && data[p] == '\r' && data[p+1] == '\n':
			p += 2
		case p+1 >= len(data) && !r.eof:
			return 0, 0, errNeedMore
		case p == len(data):
		case data[p] == '\r' && p+1 == len(data):
			p++
		case data[p] == '\r':
			return 0, 0, ErrBareReturn
		default:
			return r.skipLine(data, p, lines, ErrAfterQuote)
		}
		// The fields are cut only now that r.unquoted no longer grows.
		from := 0
		for _, to := range r.ends {
			r.fields = append(r.fields, r.unquoted[from:to])
			from = to
		}
		if bytes.IndexByte(data[:p], 0) >= 0 {
			return 0, 0, ErrBinary
		}
		if !r.AnyText && !utf8.Valid(data[:p]) {
			return p, lines + 1, ErrNotUTF8
		}
		return p, lines + 1, nil
	}
}

// skipLine gives up a record with a misplaced quote at the end of the line
// that holds it.
func (r *Reader) skipLine(data []byte, p, lines int, why error) (int, int, error) {
	i := bytes.IndexByte(data[p:], '\n')
	if i < 0 && !r.eof {
		return 0, 0, errNeedMore
	}
	if i < 0 {
		return len(data), lines + 1, why
	}
	return p + i + 1, lines + 1, why
}
