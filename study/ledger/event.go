package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"strconv"
	"strings"
	"unicode/utf8"

	"shelfspan/study"
)

// Event is one thing that happened.
type Event = study.Event

// Kind is what an event says happened.
type Kind = study.EventKind

// canonical appends the bytes of an event that enter its hash.
func canonical(e *Event, b []byte) []byte {
	var number [20]byte
	b = netstring(b, strconv.AppendInt(number[:0], e.Seq, 10))
	for _, field := range [...]string{e.At, e.By, string(e.Kind), e.Study, e.Subject, e.Reason, e.File, e.Detail} {
		b = netstring(b, field)
	}
	if e.Account != "" { // events of the first layout have none
		b = netstring(b, e.Account)
	}
	return b
}

func netstring[T ~string | ~[]byte](b []byte, s T) []byte {
	b = strconv.AppendInt(b, int64(len(s)), 10)
	b = append(b, ':')
	b = append(b, s...)
	return append(b, ',')
}

// chained gives the hash of an event after that of the one before it, which is
// all zero for the first.
func chained(before [sha256.Size]byte, canonical []byte) [sha256.Size]byte {
	h := sha256.New()
	h.Write(before[:])
	h.Write(canonical)
	var sum [sha256.Size]byte
	h.Sum(sum[:0])
	return sum
}

// fileSum is the name a file is stored under.
func fileSum(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// checkText refuses a text that could not be shown as it is: too long, not
// UTF-8, or with characters that are not seen.
func checkText(what, s string, longest int) error {
	switch {
	case !utf8.ValidString(s):
		return refuse("", "%s is no text in UTF-8", what)
	case utf8.RuneCountInString(s) > longest:
		return refuse("", "%s is longer than %d characters", what, longest)
	}
	if i := strings.IndexFunc(s, study.Hidden); i >= 0 {
		r, _ := utf8.DecodeRuneInString(s[i:])
		return refuse("write it as plain text on one line", "%s holds a character that is not seen, %U (a control character, a line end, a mark of direction or of no width)", what, r)
	}
	return nil
}
