package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestReadmeTours types each command of the README's tours, in a folder where
// the demo was run, and finds every line the README shows, in its order; "…"
// stands for lines left out.
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
		args := strings.Fields(typed)
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
			for len(said) > 0 && said[0] != want {
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
