package main

import (
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// TestDirectionOfImports holds the house together: cmd → reports → analysis →
// study, and nothing looks back.
func TestDirectionOfImports(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "shelfspan/...").CombinedOutput()
	if err != nil {
		t.Fatalf("go list: %v\n%s", err, out)
	}
	layers := []string{"study", "analysis", "reports", "cmd"}
	layer := func(path string) int {
		parts := strings.Split(path, "/")
		if parts[0] != "shelfspan" {
			return -1
		}
		return slices.Index(layers, parts[1])
	}
	// What a package may not touch: analysis has no files, processes, network
	// or hidden randomness.
	impure := []string{"os", "os/exec", "log", "net", "net/http", "math/rand", "path/filepath"}
	seen := 0
	for _, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		fields := strings.Fields(line)
		from, imports := fields[0], fields[1:]
		own := layer(from)
		if own < 0 {
			t.Errorf("%s stands in none of %v", from, layers)
		}
		seen++
		for _, to := range imports {
			switch {
			case layer(to) > own:
				t.Errorf("%s imports %s, which is above it", from, to)
			case strings.HasPrefix(from, "shelfspan/analysis/") && to == "shelfspan/analysis":
				t.Errorf("the method %s imports what composes it", from)
			case layers[own] == "analysis" && slices.Contains(impure, to):
				t.Errorf("%s imports %s", from, to)
			case strings.Contains(to, "gofpdf") && from != "shelfspan/reports/pdf":
				t.Errorf("%s imports gofpdf, which is for reports/pdf alone", from)
			case from == "shelfspan/reports/chart" && to == "shelfspan/reports/pdf":
				t.Errorf("charts are drawn on any canvas and do not know the PDF")
			case from == "shelfspan/study/finding" && layer(to) >= 0:
				t.Errorf("findings import nothing of the project, not %s", to)
			}
		}
	}
	if seen < 10 {
		t.Fatalf("go list found only %d packages", seen)
	}
}
