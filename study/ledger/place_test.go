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
				if events, err := l.Events(context.Background(), Filter{Since: study.NoDate, Until: study.NoDate}); err != nil || len(events) != 1 {
					t.Errorf("%s: %v, %v", where, events, err)
				}
				l.Close()
			}
		})
	}
}

func TestTooLongAPath(t *testing.T) {
	for _, where := range []string{strings.Repeat("x", 248), filepath.Join(strings.Repeat(strings.Repeat("d", 100)+"/", 5), "lab.db")} {
		var trouble *Trouble
		if _, err := Create(context.Background(), where); !errors.As(err, &trouble) || !strings.Contains(trouble.Text, "too long") {
			t.Errorf("%v", err)
		}
	}
}
