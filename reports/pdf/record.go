package pdf

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"strings"
)

// A document can carry a record: one line of text for programs, kept as a comment
// before the file's end, where readers of PDF pass over it, with a digest of all
// other bytes of the file on the next line:
//
//	%shelfspan-record {"…"}
//	%shelfspan-sha256 9f86d0…
//	startxref
//	504031
//	%%EOF
//
// The digest covers every byte but its own 64 digits. It shows that a file was
// damaged, cut or edited by a program that knows nothing of it. It is no
// signature: who knows of it can change the file and reckon it anew.
const (
	recordLead = "\n%shelfspan-record "
	digestLead = "\n%shelfspan-sha256 "
	digestSize = 2 * sha256.Size
	tailLead   = "\nstartxref\n"
	fileEnd    = "\n%%EOF\n"
)

// What a file is where it has no record.
var (
	ErrNoPDF    = errors.New("it is no PDF")
	ErrCut      = errors.New("its end is missing")
	ErrNoRecord = errors.New("it carries no record of what it was made from")
)

// Record is what a file says of itself.
type Record struct {
	Text   string // the line that was kept
	Intact bool   // the digest fits
	Added  int    // bytes that follow the end of the document as it was written
	Size   int    // of the document as it was written
}

// seal puts a record and the digest into a finished file.
func seal(file []byte, record string) ([]byte, error) {
	at := bytes.LastIndex(file, []byte(tailLead))
	if at < 0 || !bytes.HasSuffix(file, []byte(fileEnd)) {
		return nil, errors.New("pdf: the library ends files otherwise than this package knows")
	}
	out := make([]byte, 0, len(file)+len(record)+len(recordLead)+len(digestLead)+digestSize)
	out = append(out, file[:at]...)
	out = append(out, recordLead...)
	out = append(out, onOneLine.Replace(record)...)
	out = append(out, digestLead...)
	sum := digest(out, file[at:])
	out = append(out, sum...)
	return append(out, file[at:]...), nil
}

// onOneLine keeps a record on its line, and free of what ends a file. In JSON,
// where these stand in texts alone, it changes nothing that is read.
var onOneLine = strings.NewReplacer("\n", " ", "\r", " ", "%", `\u0025`)

// digest is the SHA-256 in hex of what stands before and after its own place.
func digest(before, after []byte) string {
	h := sha256.New()
	h.Write(before)
	h.Write(after)
	return hex.EncodeToString(h.Sum(nil))
}

// ReadRecord reads the record of a file, whatever the file is. An error says why
// there is none.
func ReadRecord(file []byte) (Record, error) {
	if !bytes.HasPrefix(file, []byte("%PDF-")) {
		return Record{}, ErrNoPDF
	}
	for from := 0; ; {
		at := bytes.Index(file[from:], []byte(recordLead))
		if at < 0 {
			break
		}
		from += at + len(recordLead)
		line := bytes.IndexByte(file[from:], '\n')
		if line < 0 {
			return Record{}, ErrCut
		}
		begin := from + line // of the digest's line
		rest, ok := bytes.CutPrefix(file[begin:], []byte(digestLead))
		if !ok {
			continue
		}
		end, ok := tailOf(rest)
		if !ok {
			return Record{}, ErrCut
		}
		place := begin + len(digestLead)
		size := place + end
		return Record{
			Text: string(file[from:begin]), Added: len(file) - size, Size: size,
			Intact: digest(file[:place], file[place+digestSize:size]) == string(file[place:place+digestSize]),
		}, nil
	}
	if !bytes.Contains(file[max(0, len(file)-1024):], []byte("%%EOF")) {
		return Record{}, ErrCut
	}
	return Record{}, ErrNoRecord
}

// tailOf finds the end of a file behind the lead of its digest.
func tailOf(rest []byte) (end int, ok bool) {
	if len(rest) < digestSize {
		return 0, false
	}
	tail, ok := bytes.CutPrefix(rest[digestSize:], []byte(tailLead))
	if !ok {
		return 0, false
	}
	digits := 0
	for digits < len(tail) && tail[digits]-'0' <= 9 {
		digits++
	}
	if digits == 0 || !bytes.HasPrefix(tail[digits:], []byte(fileEnd)) {
		return 0, false
	}
	return digestSize + len(tailLead) + digits + len(fileEnd), true
}
