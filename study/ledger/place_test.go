package ledger

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"shelfspan/study"
)

// Whatever a ledger's file is called, the ledger is in that file and nowhere
// else.
func TestNamesOfLedgers(t *testing.T) {
	for _, name := range []string{
		"a b.db", "a?b.db", "a#b.db", "a%41b.db", "a%zz.db", "a&mode=ro.db", "ä漢.db", "a\nb.db", ":memory:", "file:x.db", "file::memory:", "-x.db", "http:x",
		"x?mode=memory", strings.Repeat("y", 240),
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			t.Chdir(dir)
			l, err := Create(context.Background(), name)
			if err != nil {
				t.Fatal(err)
			}
			registered(t, l, smallStudy)
			l.Close()
			files, err := os.ReadDir(dir)
			if err != nil || len(files) != 1 || files[0].Name() != name {
				t.Errorf("%v, %v", files, err)
			}
			for _, where := range []string{name, filepath.Join(dir, name), "/" + filepath.Join(dir, name)} {
				l, err := Open(context.Background(), where)
				if err != nil {
					t.Fatal(err)
				}
				if events, err := l.Events(context.Background(), Filter{}); err != nil || len(events) != 1 {
					t.Errorf("%s: %v, %v", where, events, err)
				}
				l.Close()
			}
		})
	}
}

func TestTooLongAPath(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, where := range []string{strings.Repeat("x", 248), filepath.Join(strings.Repeat(strings.Repeat("d", 100)+"/", 5), "lab.db")} {
		var trouble *Trouble
		if _, err := Create(context.Background(), where); !errors.As(err, &trouble) || !strings.Contains(trouble.Text, "too long") {
			t.Errorf("%v", err)
		}
	}
}

// Who, why and what for are shown as they are: nothing hidden is in them.
func TestHiddenCharactersAreRefused(t *testing.T) {
	l := create(t, sqlitePlace(t))
	registered(t, l, smallStudy)
	for _, hidden := range []string{"\x1b[31m", "\x00", "\u009d", "\u202e", "\u2028", "\u200b", "\xff"} {
		text := "a" + hidden + "b"
		for name, q := range map[string]struct {
			a Author
			q PullRequest
		}{
			"by":     {Author{By: text, Now: noon}, PullRequest{Pull: "SB-25C60-3M", Day: study.NoDate}},
			"reason": {ada(noon), PullRequest{Pull: "SB-25C60-3M", Day: study.NoDate, Reason: text}},
			"note":   {ada(noon), PullRequest{Pull: "SB-25C60-3M", Day: study.NoDate, Note: text}},
		} {
			var refusal *Refusal
			if _, err := l.Pull(context.Background(), q.a, q.q); !errors.As(err, &refusal) || strings.Contains(refusal.Text, hidden) {
				t.Errorf("%s %q: %v", name, text, err)
			}
		}
		var refusal *Refusal
		if _, err := l.TakeIn(context.Background(), ada(noon), "SB", File{text + ".csv", []byte("batch,condition,time,attribute,value\nB1,25C60,3M,assay,99\n")}); !errors.As(err, &refusal) {
			t.Errorf("the name of a file %q: %v", text, err)
		}
		if _, err := l.TakeIn(context.Background(), ada(noon), "SB", File{"a.csv", []byte("batch,condition,time,attribute,unit,value\nB1,25C60,3M,assay," + text + ",99\n")}); err == nil {
			t.Errorf("a unit %q was taken in", text)
		}
	}
}
