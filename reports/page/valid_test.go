package page

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// TestValid asks html-validate, which SHELFSPAN_HTML_VALIDATE names, with the rules the
// gate has: of a page that has every kind of part, of such that have next to none, and of
// hostile names; those all have the elements of one (TestHostileNames).
func TestValid(t *testing.T) {
	program := os.Getenv("SHELFSPAN_HTML_VALIDATE")
	if program == "" {
		missing(t, "SHELFSPAN_HTML_VALIDATE names no html-validate")
	}
	rules, err := filepath.Abs(filepath.Join("..", "..", ".ci", "htmlvalidate.cjs"))
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	pages := map[string]Input{"lifetimes": lifetimes(t), "nothing": nothing(t), "one": one(t)}
	for _, i := range []int{0, 1, 5, 13} { // an element, an attribute, a comment, from right to left
		pages[fmt.Sprintf("hostile-%d", i)] = called(t, hostile[i])
	}
	for name, in := range pages {
		if err := os.WriteFile(filepath.Join(folder, name+".html"), written(t, in), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if out, err := exec.Command(program, "--config", rules, folder).CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
