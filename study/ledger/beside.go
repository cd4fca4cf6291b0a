package ledger

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// SQLite keeps what was written last beside its file, in FILE-wal, and takes in
// whatever it finds there: the log that a program stopped in the middle left
// behind, but also the log of another ledger, of another time of this one, or of
// a copy of it that went its own way, which lies there when a backup was put in
// place of the file alone. That would spread the pages of the one over the other,
// and even a reader would do it. And of a log with a damaged page it takes what
// stands before the page, and drops the changes behind it without a word. So
// every change leaves a mark that the file and its log both hold, and a log that
// does not go on where the file stands, or breaks off and goes on again, is
// refused before SQLite sees it.

// A mark is the number of a change drawn at random, and behind it that of the
// change before: 16 bits each, for SQLite has 32 for a program's own use.
type mark uint32

func (m mark) own() uint16    { return uint16(m >> 16) }
func (m mark) before() uint16 { return uint16(m) }

// next draws the mark of the change after m's.
func (m mark) next() mark {
	for {
		// Never 0, which is the mark of a file that was never written to, and never
		// that of the change before.
		if n := uint16(1 + rand.N(1<<16-1)); n != m.own() {
			return mark(n)<<16 | mark(m.own())
		}
	}
}

// changed marks a change.
func (e *sqlite) changed(ctx context.Context, tx *sql.Tx) error {
	var n int32
	if err := tx.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&n); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, fmt.Sprintf(`PRAGMA user_version = %d`, int32(mark(n).next())))
	return err
}

// header is the start of an SQLite file (its file format, 1.3); numbers are
// big-endian.
type header [72]byte

func readHeader(r io.ReaderAt) (h header, n int, err error) {
	n, err = r.ReadAt(h[:], 0)
	if n == len(h) {
		err = nil
	}
	return h, n, err
}

func (h *header) isSQLite(n int) bool {
	return bytes.HasPrefix(h[:n], []byte("SQLite format 3\x00"))
}

func (h *header) number(at int) uint32 { return binary.BigEndian.Uint32(h[at:]) }

// pageSize is in bytes; 65,536 does not fit its two and is written as 1.
func (h *header) pageSize() uint32 {
	n := uint32(binary.BigEndian.Uint16(h[16:]))
	if n == 1 {
		return 1 << 16
	}
	return n
}

func (h *header) hasLog() bool          { return h[18] == 2 && h[19] == 2 }
func (h *header) pages() uint32         { return h.number(28) }
func (h *header) mark() mark            { return mark(h.number(60)) }
func (h *header) applicationID() uint32 { return h.number(68) }

// lookBeside refuses what lies beside the file of a ledger and is not its own.
func (e *sqlite) lookBeside(f *os.File) error {
	path := e.path
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	var seen foundLog
	for range 100 {
		before, _, err := readHeader(f)
		if err != nil {
			return e.damaged(err)
		}
		// A ledger has had its log since before it had tables; a journal that
		// lies there is none of it, and would be played back into it.
		if info, err := os.Stat(path + "-journal"); err == nil && info.Size() > 0 && before.hasLog() && before.pages() > 1 {
			return e.stray(path + "-journal")
		}
		found, err := readLog(path+"-wal", &before)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return nil
		case err != nil:
			return &Trouble{Text: "the log " + e.path + "-wal of the ledger cannot be read: " + cause(err), Hint: "ask whoever keeps it for permission to read and write it and its folder", Err: err}
		case found.own && !found.damaged:
			return nil
		}
		// It may have been read while others were writing; what is found again,
		// nobody is at.
		if after, _, err := readHeader(f); err == nil && after == before && found == seen {
			if found.damaged {
				return e.damagedLog(path + "-wal")
			}
			return e.stray(path + "-wal")
		}
		seen = found
	}
	return nil // others write to it all the time, so it is theirs
}

// lookAlone refuses a log whose ledger is gone: it holds changes, and SQLite would
// delete it when a new file is made there.
func (e *sqlite) lookAlone() error {
	log, err := os.Stat(e.path + "-wal")
	if err != nil || log.Size() == 0 {
		return nil
	}
	if info, err := os.Stat(e.path); err == nil && info.Size() > 0 {
		return nil // another has made the ledger meanwhile
	}
	return &Trouble{
		Text: e.path + "-wal is the log of a ledger that is gone; it was not touched",
		Hint: "is the ledger's file misplaced? Put it back, or move " + e.path + "-wal away and keep it",
	}
}

// stray is the Trouble of a file that lies beside a ledger.
func (e *sqlite) stray(path string) error {
	return &Trouble{
		Text: path + " does not belong to the ledger it lies beside, " + e.path + "; neither was touched",
		Hint: "was a backup put in place, or the file replaced, without it? Move " + path + " away and keep it; what shelfspan audit then lists is the ledger without it",
	}
}

// damagedLog is the Trouble of a log whose middle is damaged.
func (e *sqlite) damagedLog(path string) error {
	return &Trouble{
		Text: path + ", which holds the last changes of the ledger " + e.path + ", is damaged; neither was touched",
		Hint: "keep a copy of both as they are and go back to a backup; with " + path + " moved away the ledger may open as it was before those changes, and shelfspan audit --verify says whether that is sound",
	}
}

// foundLog is what was found of a write-ahead log.
type foundLog struct {
	head    [logHead]byte
	end     int  // frames that are as they were written
	own     bool // it goes on where the file stands
	damaged bool // changes stand behind its end that were kept, and would be dropped
}

const logHead, frameHead = 32, 24

// readLog reads a write-ahead log that lies beside a file with the header. The
// format is that of SQLite's file format, 4: 32 bytes of header, then frames of
// 24 bytes and a page.
func readLog(path string, h *header) (found foundLog, err error) {
	f, err := os.Open(path)
	if err != nil {
		return found, err
	}
	defer f.Close()
	head := &found.head
	n, err := f.ReadAt(head[:], 0)
	if err != nil && err != io.EOF {
		return found, err
	}
	if n < logHead || *head == [logHead]byte{} {
		return foundLog{own: true}, nil // nothing in it: never written, or lost with the power
	}
	var order binary.ByteOrder
	switch binary.BigEndian.Uint32(head[:]) {
	case 0x377f0682:
		order = binary.LittleEndian
	case 0x377f0683:
		order = binary.BigEndian
	default:
		return found, nil
	}
	sum := func(s [2]uint32, b []byte) [2]uint32 {
		for ; len(b) >= 8; b = b[8:] {
			s[0] += order.Uint32(b) + s[1]
			s[1] += order.Uint32(b[4:]) + s[0]
		}
		return s
	}
	written := func(b []byte) [2]uint32 { return [2]uint32{binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:])} }
	s := sum([2]uint32{}, head[:24])
	if s != written(head[24:]) {
		found.damaged = true // 32 bytes are written whole
		return found, nil
	}
	size := binary.BigEndian.Uint32(head[8:])
	if size != h.pageSize() {
		return found, nil
	}
	var (
		now    = h.mark()
		frame  = make([]byte, frameHead+int(size))
		in     = bufio.NewReaderSize(io.NewSectionReader(f, logHead, 1<<62), 1<<18)
		known  = map[uint16]bool{now.own(): true, now.before(): true} // changes that were kept, as far as is known
		last   header                                                 // page 1 of the change being read, where it has one
		broken bool
		first  = true
	)
	found.own = true
	for {
		if _, err := io.ReadFull(in, frame); err != nil {
			return found, nil
		}
		ofThisTurn := bytes.Equal(frame[8:16], head[16:24])
		if !broken {
			s = sum(sum(s, frame[:8]), frame[frameHead:])
			if broken = !ofThisTurn || s != written(frame[16:]); broken {
				continue
			}
			found.end++
		}
		isFirstPage := binary.BigEndian.Uint32(frame) == 1
		if isFirstPage {
			copy(last[:], frame[frameHead:])
		}
		if broken {
			// Behind the end stand frames of an earlier turn of the log, and those of
			// a change that was stopped or given up. Such a one goes on from a change
			// that was kept; what goes on from an unknown one, goes on from one that
			// was kept and that the damage hides.
			found.damaged = found.damaged || ofThisTurn && isFirstPage && last.applicationID() == applicationID && !known[last.mark().before()]
			continue
		}
		if binary.BigEndian.Uint32(frame[4:]) == 0 || last == (header{}) {
			continue // the change goes on; or it left no mark, being none of ours
		}
		m := last.mark()
		if last.applicationID() != applicationID {
			found.own = false
			return found, nil
		}
		// The file stands before the log, within it where its pages were copied
		// back, or has never been written to.
		if first {
			found.own, first = now == 0 || m.before() == now.own(), false
		}
		found.own = found.own || m == now
		known[m.own()], known[m.before()], last = true, true, header{}
	}
}
