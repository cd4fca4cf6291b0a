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
// behind, but also the log of another ledger, or of another time of this one,
// which lies there when a backup was put in place of the file alone. That would
// spread the pages of the one over the other, and even a reader would do it. So
// every change counts up a number that the file and its log both hold, and a log
// that does not go on where the file stands is refused before SQLite sees it.
// The number begins at random: another ledger's is never near.

// changed counts a change up.
func (e *sqlite) changed(ctx context.Context, tx *sql.Tx) error {
	var n int64
	if err := tx.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&n); err != nil {
		return err
	}
	if n == 0 {
		n = 1 + rand.Int64N(1<<30)
	}
	_, err := tx.ExecContext(ctx, fmt.Sprintf(`PRAGMA user_version = %d`, n+1))
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
func (h *header) change() uint32        { return h.number(60) }
func (h *header) applicationID() uint32 { return h.number(68) }

// lookBeside refuses what lies beside the file of a ledger and is not its own.
func (e *sqlite) lookBeside(f *os.File) error {
	path := e.path
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
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
		own, steady, err := isOwnLog(path+"-wal", &before)
		switch {
		case errors.Is(err, fs.ErrNotExist) || own:
			return nil
		case err != nil:
			return &Trouble{Text: "the log " + e.path + "-wal of the ledger cannot be read: " + cause(err), Hint: "ask whoever keeps it for permission to read and write it and its folder", Err: err}
		}
		// It may have been read while others were writing; then it is looked at again.
		if after, _, err := readHeader(f); err == nil && after == before && steady {
			return e.stray(path + "-wal")
		}
	}
	return nil // others write to it all the time, so it is theirs
}

// lookAlone refuses a log whose ledger is gone: SQLite would delete it when a
// new file is made there.
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

// isOwnLog reports whether a write-ahead log goes on where the file with the
// header stands. Steady says that nobody began the log anew meanwhile. The
// format is that of SQLite's file format, 4: 32 bytes of header, then frames of
// 24 bytes and a page.
func isOwnLog(path string, h *header) (own, steady bool, err error) {
	f, err := os.Open(path)
	if err != nil {
		return false, false, err
	}
	defer f.Close()
	const headSize, frameSize = 32, 24
	var head [headSize]byte
	n, err := f.ReadAt(head[:], 0)
	if err != nil && err != io.EOF {
		return false, false, err
	}
	if bytes.Count(head[:n], []byte{0}) == n {
		return true, true, nil // nothing in it: never written, or lost with the power
	}
	var order binary.ByteOrder
	switch binary.BigEndian.Uint32(head[:]) {
	case 0x377f0682:
		order = binary.LittleEndian
	case 0x377f0683:
		order = binary.BigEndian
	default:
		return false, true, nil
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
	if n < headSize || s != written(head[24:]) {
		return true, true, nil // half written; SQLite takes nothing from it
	}
	size := binary.BigEndian.Uint32(head[8:])
	first, commits, found := uint32(0), false, false
	if size != h.pageSize() {
		return false, true, nil
	}
	frame := make([]byte, frameSize+int(size))
	in := bufio.NewReaderSize(io.NewSectionReader(f, headSize, 1<<62), 1<<18)
	var pending []uint32 // the numbers of a change whose last frame is still to come
	foreign := false
	for {
		if _, err := io.ReadFull(in, frame); err != nil {
			break
		}
		s = sum(sum(s, frame[:8]), frame[frameSize:])
		if !bytes.Equal(frame[8:16], head[16:24]) || s != written(frame[16:]) {
			break // left from an earlier turn of the log
		}
		if binary.BigEndian.Uint32(frame) == 1 {
			var page header
			copy(page[:], frame[frameSize:])
			pending = append(pending, page.change())
			foreign = foreign || page.applicationID() != applicationID
		}
		if binary.BigEndian.Uint32(frame[4:]) == 0 {
			continue
		}
		commits = true
		if foreign {
			break
		}
		for _, change := range pending {
			if !found {
				first, found = change, true
			}
			// The file stands before the log, within it where its pages were
			// copied back, or has never been written to.
			if now := h.change(); now == 0 || now == change || now+1 == first {
				return true, true, nil
			}
		}
		pending = pending[:0]
	}
	var again [headSize]byte
	if _, err := f.ReadAt(again[:], 0); err != nil {
		return false, false, nil
	}
	return !commits, again == head, nil
}
