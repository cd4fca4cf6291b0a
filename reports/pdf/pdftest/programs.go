package pdftest

import (
	"bytes"
	"cmp"
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Clean has programs that are not ours judge a document: its structure is sound
// (qpdf), every font is embedded (pdffonts), and no word reaches out of its page
// or stands on another (pdftotext). Without the programs the test is skipped, but in the gate,
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
	placed(t, run("pdftotext", "-bbox", path, "-"))
}

// box is a word with the rectangle it takes, from the upper left corner.
type box struct {
	left, top, right, bottom float64
	word                     string
}

// placed reports the words of which a part lies outside of their page, and those
// that are printed over one another.
func placed(t testing.TB, boxes string) {
	t.Helper()
	const slack = 0.5 // points
	d := xml.NewDecoder(strings.NewReader(boxes))
	d.Strict = false
	pages, faults := 0, 0
	fault := func(format string, args ...any) {
		if faults++; faults < 4 {
			t.Errorf(format, args...)
		}
	}
	var w, h float64
	var words []box
	for {
		token, err := d.Token()
		if err != nil {
			break
		}
		switch e := token.(type) {
		case xml.StartElement:
			at := map[string]float64{}
			for _, a := range e.Attr {
				at[a.Name.Local], _ = strconv.ParseFloat(a.Value, 64)
			}
			switch e.Name.Local {
			case "page":
				w, h, words = at["width"], at["height"], words[:0]
				pages++
			case "word":
				words = append(words, box{left: at["xMin"], top: at["yMin"], right: at["xMax"], bottom: at["yMax"]})
			}
		case xml.CharData:
			if n := len(words); n > 0 && words[n-1].word == "" {
				words[n-1].word = string(e)
			}
		case xml.EndElement:
			if e.Name.Local != "page" {
				continue
			}
			for _, b := range words {
				if b.left < -slack || b.top < -slack || b.right > w+slack || b.bottom > h+slack {
					fault("%q of page %d reaches out of it", b.word, pages)
				}
			}
			for _, pair := range overprinted(words) {
				fault("%q and %q of page %d are printed over one another", pair[0].word, pair[1].word, pages)
			}
		}
	}
	if pages == 0 {
		t.Error("no page was read")
	}
}

// overprinted gives the pairs of words that share more than the slack of a letter's
// side and nearly half of their line.
func overprinted(words []box) (pairs [][2]box) {
	slices.SortFunc(words, func(a, b box) int { return cmp.Compare(a.top, b.top) })
	for i, a := range words {
		for _, b := range words[i+1:] {
			if b.top > a.bottom {
				break
			}
			across := min(a.right, b.right) - max(a.left, b.left)
			down := min(a.bottom, b.bottom) - b.top
			if across > 0.8 && down > 0.45*min(a.bottom-a.top, b.bottom-b.top) {
				pairs = append(pairs, [2]box{a, b})
			}
		}
	}
	return pairs
}
