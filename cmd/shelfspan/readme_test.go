package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// typedWord is a word of a command line, in quotes or not.
var typedWord = regexp.MustCompile(`"[^"]*"|\S+`)

// TestReadmeTours types each command of the README's tours, in a folder where
// the demo was run, and finds every line the README shows, in its order; "…"
// stands for lines, or the end of one, left out.
func TestReadmeTours(t *testing.T) {
	readme := string(read(t, "../../README.md"))
	t.Chdir(t.TempDir())
	t.Setenv("COLUMNS", "80")
	if status := run(context.Background(), []string{"shelfspan", "demo"}, strings.NewReader(""), &bytes.Buffer{}, os.Stderr); status != 0 {
		t.Fatalf("the demo ended with status %d", status)
	}
	tours := 0
	for i, block := range strings.Split(readme, "```") {
		if i%2 == 0 || !strings.HasPrefix(block, "\n$ ") {
			continue
		}
		tours++
		typed, shown, _ := strings.Cut(strings.ReplaceAll(block[len("\n$ "):], "\\\n", ""), "\n")
		args := typedWord.FindAllString(typed, -1)
		for i := range args {
			args[i] = strings.Trim(args[i], `"`)
		}
		args[0] = filepath.Base(args[0])
		var out, errs bytes.Buffer
		if status := run(context.Background(), args, strings.NewReader(""), &out, &errs); status != 0 {
			t.Errorf("%s: status %d: %s", typed, status, errs.String())
			continue
		}
		said := strings.Split(out.String(), "\n")
		for _, want := range strings.Split(strings.TrimSpace(shown), "\n") {
			if want == "…" {
				continue
			}
			begin, cut := strings.CutSuffix(want, "…")
			for len(said) > 0 && said[0] != want && !(cut && strings.HasPrefix(said[0], begin)) {
				said = said[1:]
			}
			if len(said) == 0 {
				t.Errorf("%s: after the lines before it, this one is not said: %q", typed, want)
				break
			}
		}
	}
	if tours < 5 {
		t.Errorf("the README shows %d commands with their output", tours)
	}
}
