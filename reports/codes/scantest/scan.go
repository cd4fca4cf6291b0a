// Package scantest reads printed codes back, in tests: with a renderer and a
// scanner that are not ours.
package scantest

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Read renders each page of a PDF at a resolution and gives the texts of the
// codes a scanner finds on it, page by page. symbology is the scanner's name of
// the kind: qrcode or code128. Without the programs the test is skipped, but in
// the gate, which sets CI=true, it fails.
func Read(t testing.TB, file []byte, dpi int, symbology string) [][]string {
	t.Helper()
	for _, program := range []string{"pdftoppm", "zbarimg"} {
		if _, err := exec.LookPath(program); err == nil {
			continue
		}
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is missing: the printed codes were not read back", program)
		}
		t.Skipf("%s is missing: the printed codes are not read back (Debian: poppler-utils, zbar-tools)", program)
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "file.pdf")
	if err := os.WriteFile(path, file, 0o666); err != nil {
		t.Fatal(err)
	}
	run(t, "pdftoppm", "-r", fmt.Sprint(dpi), "-gray", "-png", path, filepath.Join(dir, "page"))
	pages, err := filepath.Glob(filepath.Join(dir, "page*.png"))
	if err != nil || len(pages) == 0 {
		t.Fatalf("no page was rendered (%v)", err)
	}
	out := make([][]string, len(pages)) // Glob sorts, and the numbers have leading zeros
	for i, page := range pages {
		for _, line := range strings.Split(run(t, "zbarimg", "--raw", "--quiet", "-S*.enable=0", "-S"+symbology+".enable=1", page), "\n") {
			if line != "" {
				out[i] = append(out[i], line)
			}
		}
	}
	return out
}

// nothingFound is the exit status of a scanner that saw no code.
const nothingFound = 4

func run(t testing.TB, name string, arguments ...string) string {
	t.Helper()
	c := exec.Command(name, arguments...)
	c.Env = append(os.Environ(), "OMP_NUM_THREADS=1") // several run at a time
	var out, complaint bytes.Buffer
	c.Stdout, c.Stderr = &out, &complaint
	var exit *exec.ExitError
	if err := c.Run(); err != nil && !(errors.As(err, &exit) && exit.ExitCode() == nothingFound) {
		t.Fatalf("%s: %v: %s", name, err, complaint.String())
	}
	return out.String()
}
