package intake

import (
	"hash"
	"io"

	"shelfspan/study/csvrecords"
)

// badRecord is what makes a record unreadable.
type badRecord struct {
	text  string
	fatal bool // the rest of the file cannot be told apart any more
}

func (e *badRecord) Error() string { return e.text }

// errNotUTF8 is told once for a file.
var errNotUTF8 = bad(csvrecords.ErrNotUTF8)

func bad(e *csvrecords.BadRecord) *badRecord { return &badRecord{e.Text, e.Fatal} }

// records is the splitter as the reader of results calls it.
type records struct {
	csv  *csvrecords.Reader
	sep  byte
	line int // 1-based, on which the last record began
	eof  bool
}

func newRecords(src io.Reader, sum hash.Hash) *records {
	return &records{csv: csvrecords.NewReader(src, sum), sep: ','}
}

func (r *records) begin() error       { return plain(r.csv.Begin()) }
func (r *records) firstLine() []byte  { return r.csv.FirstLine() }
func (r *records) firstLines() []byte { return r.csv.FirstLines() }
func (r *records) consumed() int64    { return r.csv.Consumed() }

func (r *records) read() ([][]byte, error) {
	r.csv.Sep = r.sep
	fields, err := r.csv.Read()
	r.line = r.csv.Line
	if err != nil {
		r.eof = r.csv.Ended()
		return nil, plain(err)
	}
	return fields, nil
}

func plain(err error) error {
	e, ok := err.(*csvrecords.BadRecord)
	switch {
	case !ok:
		return err
	case e == csvrecords.ErrNotUTF8:
		return errNotUTF8
	}
	return bad(e)
}
