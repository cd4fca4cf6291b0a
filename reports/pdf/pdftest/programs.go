package pdftest

import (
	"bytes"
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// Clean has programs that are not ours judge a document: its structure is sound
// (qpdf), every font is embedded (pdffonts) and no word reaches out of its page
// (pdftotext). Without the programs the test is skipped, but in the gate,
// which sets CI=true, it fails.
func Clean(t testing.TB, file []byte) {
	t.Helper()
	for _, program := range []string{"qpdf", "pdffonts", "pdftotext"} {
		if _, err := exec.LookPath(program); err == nil {
			continue
		}
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is missing: the document was not checked by it", program)
		}
		t.Skipf("%s is missing: the document is not checked by it (Debian: qpdf, poppler-utils)", program)
	}
	path := filepath.Join(t.TempDir(), "file.pdf")
	if err := os.WriteFile(path, file, 0o666); err != nil {
		t.Fatal(err)
	}
	run := func(name string, arguments ...string) string {
		c := exec.Command(name, arguments...)
		var out, complaint bytes.Buffer
		c.Stdout, c.Stderr = &out, &complaint
		if err := c.Run(); err != nil || complaint.Len() > 0 {
			t.Errorf("%s: %v: %s%s", name, err, out.String(), complaint.String())
		}
		return out.String()
	}
	run("qpdf", "--check", path)
	fonts := strings.Split(strings.TrimSpace(run("pdffonts", path)), "\n")
	if len(fonts) < 3 { // a head of two lines
		t.Errorf("no fonts: %q", fonts)
	}
	// name, type, encoding, then whether it is embedded, a subset, and has Unicode
	embedded := regexp.MustCompile(`\s(yes|no)\s+(yes|no)\s+(yes|no)\s+\d+\s+\d+$`)
	for _, line := range fonts[min(2, len(fonts)):] {
		if m := embedded.FindStringSubmatch(line); m == nil || m[1] != "yes" {
			t.Errorf("a font is not embedded: %s", line)
		}
	}
	inside(t, run("pdftotext", "-bbox", path, "-"))
}

// inside reports the words of which a part lies outside of its page.
func inside(t testing.TB, boxes string) {
	t.Helper()
	const slack = 0.5 // points
	d := xml.NewDecoder(strings.NewReader(boxes))
	d.Strict = false
	pages, faults := 0, 0
	var w, h float64
	for {
		token, err := d.Token()
		if err != nil {
			break
		}
		e, ok := token.(xml.StartElement)
		if !ok || e.Name.Local != "page" && e.Name.Local != "word" {
			continue
		}
		at := map[string]float64{}
		for _, a := range e.Attr {
			at[a.Name.Local], _ = strconv.ParseFloat(a.Value, 64)
		}
		if e.Name.Local == "page" {
			w, h = at["width"], at["height"]
			pages++
			continue
		}
		if at["xMin"] < -slack || at["yMin"] < -slack || at["xMax"] > w+slack || at["yMax"] > h+slack {
			if faults++; faults < 4 {
				t.Errorf("a word of page %d lies at %v, and the page is %g by %g", pages, at, w, h)
			}
		}
	}
	if pages == 0 {
		t.Error("no page was read")
	}
}
