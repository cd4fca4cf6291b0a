package pdf

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"strings"
	"testing"
)

const recorded = `{"study":"MB-26","inputs":[{"path":"100%%EOF.csv"}]}`

func sealed(t testing.TB) []byte {
	d := New(Info{Title: "MB-26", Kind: "Stability summary", Date: day, Record: recorded + "\nmore"})
	d.Paragraph("An invented balm.")
	var b bytes.Buffer
	n, err := d.WriteTo(&b)
	if err != nil {
		t.Fatal(err)
	}
	if n != int64(b.Len()) {
		t.Fatalf("WriteTo says %d bytes and wrote %d", n, b.Len())
	}
	return b.Bytes()
}

// A record comes back as it went in, on one line; the digest is SHA-256 over the
// file without its own 64 digits, which anybody can reckon; and the file is still
// one that this package knows as its own.
func TestRecord(t *testing.T) {
	file := sealed(t)
	r, err := ReadRecord(file)
	if err != nil || !r.Intact || r.Added != 0 || r.Size != len(file) {
		t.Fatalf("%+v, %v", r, err)
	}
	if want := strings.ReplaceAll(recorded, "%", `\u0025`) + " more"; r.Text != want {
		t.Errorf("%s, want %s", r.Text, want)
	}
	before, after, _ := bytes.Cut(file, []byte("%shelfspan-sha256 "))
	sum := sha256.Sum256(append(append(bytes.Clone(before), "%shelfspan-sha256 "...), after[64:]...))
	if got := string(after[:64]); got != hex.EncodeToString(sum[:]) {
		t.Errorf("the digest is %s", got)
	}
	if !AsWritten(file) {
		t.Error("it is not known as written")
	}
	if !bytes.Equal(file, sealed(t)) {
		t.Error("the same document has other bytes")
	}
}

// One byte changed anywhere is seen; what is added is counted; what is cut off or
// foreign is named.
func TestRecordOfAChangedFile(t *testing.T) {
	file := sealed(t)
	for at := len("%PDF-"); at < len(file); at += 7 {
		changed := bytes.Clone(file)
		changed[at] ^= 1
		if r, err := ReadRecord(changed); err == nil && r.Intact && r.Added == 0 {
			t.Fatalf("byte %d of %d was changed, and it was not seen", at, len(file))
		}
	}
	r, err := ReadRecord(append(bytes.Clone(file), "a signature\n%%EOF\n"...))
	if err != nil || !r.Intact || r.Added != 18 || r.Size != len(file) {
		t.Errorf("with 18 bytes added: %+v, %v", r, err)
	}
	plain := output(t, newTest())
	for name, c := range map[string]struct {
		file []byte
		want error
	}{
		"nothing": {nil, ErrNoPDF}, "a table": {[]byte("batch,condition\n"), ErrNoPDF},
		"a sheet of ours without a record": {plain, ErrNoRecord},
		"another program's":                {[]byte("%PDF-1.7\n1 0 obj\nendobj\nstartxref\n9\n%%EOF\n"), ErrNoRecord},
		"half of it":                       {file[:len(file)/2], ErrCut},
		"all but its last byte":            {file[:len(file)-1], ErrCut},
		"all but its end":                  {file[:len(file)-80], ErrCut},
		"the record alone":                 {[]byte("%PDF-" + recordLead), ErrCut},
	} {
		if _, err := ReadRecord(c.file); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}

// FuzzReadRecord: whatever the bytes, there is an answer; a record that is intact
// is one whose file no byte can be changed in unseen.
func FuzzReadRecord(f *testing.F) {
	file := sealed(f)
	f.Add(file, uint(100))
	f.Add(file[:len(file)-3], uint(0))
	f.Add([]byte("%PDF-1.3"+recordLead+"{}"+digestLead+strings.Repeat("0", 64)+tailLead+"12"+fileEnd), uint(9))
	f.Add([]byte("%PDF-"+recordLead+recordLead+digestLead), uint(3))
	f.Fuzz(func(t *testing.T, data []byte, at uint) {
		r, err := ReadRecord(data)
		if err != nil {
			if r != (Record{}) {
				t.Fatalf("%+v beside %v", r, err)
			}
			return
		}
		if r.Size+r.Added != len(data) || r.Added < 0 || strings.Contains(r.Text, "\n") {
			t.Fatalf("%+v of %d bytes", r, len(data))
		}
		if r.Intact {
			changed := bytes.Clone(data[:r.Size])
			changed[at%uint(r.Size)] ^= 0x20
			if c, err := ReadRecord(changed); err == nil && c.Intact && c.Size == r.Size {
				t.Fatalf("byte %d was changed unseen", at%uint(r.Size))
			}
		}
	})
}
