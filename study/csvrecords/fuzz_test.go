package csvrecords

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"errors"
	"io"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// FuzzRecords compares the splitter with encoding/csv.
func FuzzRecords(f *testing.F) {
	for _, s := range []string{
		"", "\n", "a", "a,b\n", "a,b\r\nc,d", "\"a\",\"b,\"\"c\"\"\"\n", "\"a\r\nb\",c\r\n", "a,\"b\nc\n\"\n\nd", "a\"b,c\nd,e\n",
		"\"a\"b\nc\n", "\"open", "\"a\"\r", "a\rb", "a\r", "\r\n\r", ",\n", "\"\"", "\"\",\"\"\r\n", "é,\"ü\"\n", "\xff,a\n\"\xff\"\n", "a,\x00\n", "\"a\"\r\r\n",
	} {
		f.Add([]byte(s), byte(1))
	}
	f.Fuzz(func(t *testing.T, data []byte, chunk byte) {
		rec := NewReader(&slow{data, int(chunk)%7 + 1}, sha256.New())
		rec.buf = make([]byte, 8) // so that records run over its end
		want := csv.NewReader(bytes.NewReader(data))
		want.FieldsPerRecord = -1
		for {
			fields, err := rec.Read()
			wantFields, wantErr := want.Read()
			if err != nil && err != io.EOF {
				var bad *BadRecord
				if !errors.As(err, &bad) {
					t.Fatal(err)
				}
				stricter := bad == ErrBareReturn || bad == ErrBinary || bad == ErrNotUTF8
				if !stricter && wantErr == nil {
					t.Fatalf("refused: %v; encoding/csv reads %q", err, wantFields)
				}
				return
			}
			if err != wantErr {
				t.Fatalf("%q, %v; encoding/csv gives %q, %v", fields, err, wantFields, wantErr)
			}
			if err == io.EOF {
				return
			}
			got := make([]string, len(fields))
			for i := range fields {
				got[i] = string(fields[i])
			}
			if diff := cmp.Diff(wantFields, got); diff != "" {
				t.Fatal(diff)
			}
			if line, _ := want.FieldPos(0); line != rec.Line {
				t.Fatalf("line %d, encoding/csv says %d", rec.Line, line)
			}
		}
	})
}

// slow gives a few bytes at a time.
type slow struct {
	data []byte
	most int
}

func (s *slow) Read(b []byte) (int, error) {
	if len(s.data) == 0 {
		return 0, io.EOF
	}
	n := copy(b[:min(len(b), s.most)], s.data)
	s.data = s.data[n:]
	return n, nil
}
