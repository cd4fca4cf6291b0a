package ledger

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
)

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	data, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

// left copies a ledger that is open as a program killed now would leave it: the
// file, and its log beside it.
func left(t *testing.T, where, to string) {
	t.Helper()
	copyFile(t, where, to)
	copyFile(t, where+"-wal", to+"-wal")
}

// grow makes n changes.
func grow(t *testing.T, l *Ledger, n int) {
	t.Helper()
	for range n {
		table := fmt.Sprintf("batch,condition,time,attribute,unit,value\nB1,25C60,6M,assay,u%d,97.5\n", grown.Add(1))
		if _, err := l.TakeIn(context.Background(), ada(noon), "SB", File{"c.csv", []byte(table)}); err != nil {
			t.Fatal(err)
		}
	}
}

var grown atomic.Int64

// eventsOf opens a ledger, verifies it and counts its events.
func eventsOf(t *testing.T, where string) int64 {
	t.Helper()
	l, err := Open(context.Background(), where)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	v, err := l.Verify(context.Background(), "", nil)
	if err != nil || len(v.Faults) > 0 {
		t.Fatalf("%+v, %v", v, err)
	}
	return v.Events
}

// The log that a killed program left is taken in, wherever the copying back of
// its pages had come to.
func TestOwnLogIsTakenIn(t *testing.T) {
	dir := t.TempDir()
	where := filepath.Join(dir, "lab.db")
	l := create(t, where)
	left(t, where, filepath.Join(dir, "made.db"))
	if n := eventsOf(t, filepath.Join(dir, "made.db")); n != 0 {
		t.Errorf("just made: %d events", n)
	}
	registered(t, l, smallStudy)
	for i := range int64(8) {
		at := filepath.Join(dir, fmt.Sprintf("%d.db", i))
		left(t, where, at)
		if n := eventsOf(t, at); n != 1+i {
			t.Errorf("after %d changes: %d events", 1+i, n)
		}
		if i == 3 || i == 5 {
			if _, err := l.db.Exec("PRAGMA wal_checkpoint(PASSIVE)"); err != nil {
				t.Fatal(err)
			}
		}
		grow(t, l, 1)
	}
}

// A log that does not go on where the file stands is refused, and nothing is
// touched: of another ledger, of another time, of a copy that went its own way.
func TestStrayLogIsRefused(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	lived(t, at("base.db")).Close()
	lived(t, at("another.db")).Close()
	copyFile(t, at("base.db"), at("early.db"))
	copyFile(t, at("base.db"), at("copy.db"))
	for _, name := range []string{"base.db", "copy.db", "another.db"} {
		l := opened(t, at(name))
		grow(t, l, 1)
		left(t, at(name), at("one "+name)) // after one change
		l.Close()
		copyFile(t, at(name), at("closed "+name))
		l = opened(t, at(name))
		grow(t, l, 2)
		left(t, at(name), at("three "+name))
		l.Close()
	}
	for _, c := range []struct{ file, log string }{
		{"base.db", "one another.db"},
		{"closed base.db", "one copy.db"}, // each has a change after the same
		{"closed copy.db", "one base.db"},
		{"base.db", "three copy.db"},
		{"early.db", "three base.db"}, // a backup of before the log was begun
		{"base.db", "one base.db"},    // a file that has gone on since
	} {
		where := at("tried.db")
		copyFile(t, at(c.file), where)
		copyFile(t, at(c.log+"-wal"), where+"-wal")
		file, log := read(t, where), read(t, where+"-wal")
		var trouble *Trouble
		l, err := Open(context.Background(), where)
		if !errors.As(err, &trouble) || !strings.Contains(trouble.Text, "does not belong to the ledger") {
			t.Errorf("%s with the log of %s: %v", c.file, c.log, err)
		}
		if err == nil {
			l.Close()
		}
		if !bytes.Equal(file, read(t, where)) || !bytes.Equal(log, read(t, where+"-wal")) {
			t.Errorf("%s with the log of %s was touched", c.file, c.log)
		}
	}
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// One byte of a log changed, at any place: the log is refused, or but the last
// change is missing, which nobody can tell from one that was never finished.
func TestAnyByteOfTheLog(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	where := filepath.Join(dir, "lab.db")
	lived(t, where).Close()
	l := opened(t, where)
	grow(t, l, 5)
	before := len(read(t, where+"-wal"))
	grow(t, l, 1)
	left(t, where, filepath.Join(dir, "left.db"))
	log := read(t, filepath.Join(dir, "left.db-wal"))
	random := rand.New(rand.NewPCG(6, 200))
	at := filepath.Join(dir, "changed.db")
	refused, short := 0, 0
	for i := range 300 {
		place := random.IntN(len(log))
		if i < logHead {
			place = i
		}
		changed := bytes.Clone(log)
		changed[place] ^= byte(1 + random.IntN(255))
		copyFile(t, filepath.Join(dir, "left.db"), at)
		if err := os.WriteFile(at+"-wal", changed, 0o644); err != nil {
			t.Fatal(err)
		}
		l, err := Open(context.Background(), at)
		var trouble *Trouble
		if errors.As(err, &trouble) {
			refused++
			if !bytes.Equal(read(t, at+"-wal"), changed) {
				t.Errorf("byte %d: the log was touched", place)
			}
			continue
		}
		if err != nil {
			t.Errorf("byte %d: %v", place, err)
			continue
		}
		l.Close()
		if n := eventsOf(t, at); n != livedEvents+5 || place < before {
			t.Errorf("byte %d of %d: %d events and no word", place, len(log), n)
		}
		short++
	}
	t.Logf("%d refused, %d in the last change", refused, short)
}

// What a change that was given up left in the log is no damage, though it has a
// mark: a change too large for memory is written before it is kept, its first
// page last, and where the disk fills up then, a smaller one comes in its place.
func TestChangeGivenUpIsNoDamage(t *testing.T) {
	dir := t.TempDir()
	where := filepath.Join(dir, "lab.db")
	lived(t, where).Close()
	l := opened(t, where)
	grow(t, l, 2)
	at := filepath.Join(dir, "left.db")
	left(t, where, at)
	log := read(t, at+"-wal")
	var h header
	copy(h[:], read(t, at))
	frame := bytes.Clone(log[logHead : logHead+frameHead+int(h.pageSize())])
	if binary.BigEndian.Uint32(frame) != 1 {
		t.Fatal("the log does not begin with the first page")
	}
	// The file stands before the log, or where all of the log is copied back.
	behind := h
	for f := log[logHead:]; len(f) > 0; f = f[len(frame):] {
		if binary.BigEndian.Uint32(f) == 1 {
			copy(behind[:], f[frameHead:])
		}
	}
	first := mark(binary.BigEndian.Uint32(frame[frameHead+60:]))
	if first.before() != h.mark().own() || behind.mark().before() != first.own() {
		t.Fatalf("the file stands at %#x, and the log goes from %#x to %#x", h.mark(), first, behind.mark())
	}
	for _, c := range []struct {
		file    *header
		before  uint16
		damaged bool
	}{
		{&h, h.mark().own(), false},
		{&h, first.own(), false},
		{&behind, h.mark().own(), false},
		{&behind, behind.mark().own(), false},
		{&h, h.mark().own() ^ 0x5555, true},
		{&behind, h.mark().own() ^ 0x5555, true},
	} {
		binary.BigEndian.PutUint32(frame[frameHead+60:], 0xabcd<<16|uint32(c.before))
		if err := os.WriteFile(at+"-wal", slices.Concat(log, frame, frame), 0o644); err != nil {
			t.Fatal(err)
		}
		found, err := readLog(at+"-wal", c.file)
		if err != nil || !found.own || found.damaged != c.damaged {
			t.Errorf("behind %#x: %+v, %v", c.before, found, err)
		}
	}
}

// A log whose file was moved away is told of and kept; so is a link to a place
// where nothing is, which may be a disk that is not mounted.
func TestFileGone(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	l := lived(t, at("lab.db"))
	left(t, at("lab.db"), at("left.db"))
	l.Close()
	if err := os.Rename(at("left.db"), at("moved.db")); err != nil {
		t.Fatal(err)
	}
	log := read(t, at("left.db-wal"))
	if err := os.Symlink(at("far.db"), at("link.db")); err != nil {
		t.Fatal(err)
	}
	for name, says := range map[string]string{"left.db": "is the log of a ledger that is gone", "link.db": "is a link to " + at("far.db") + ", and that is not there"} {
		for what, open := range map[string]func(context.Context, string) (*Ledger, error){"open": Open, "create": Create} {
			var trouble *Trouble
			if _, err := open(context.Background(), at(name)); !errors.As(err, &trouble) || !strings.Contains(trouble.Text, says) {
				t.Errorf("%s %s: %v", what, name, err)
			}
		}
	}
	if !bytes.Equal(log, read(t, at("left.db-wal"))) {
		t.Error("the log was touched")
	}
	// Through a link to it a ledger and its log are found.
	if err := os.Rename(at("moved.db"), at("left.db")); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(at("link.db")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("left.db", at("link.db")); err != nil {
		t.Fatal(err)
	}
	if n := eventsOf(t, at("link.db")); n != livedEvents {
		t.Errorf("%d events", n)
	}
}
