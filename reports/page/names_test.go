package page

import (
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"golang.org/x/net/html"

	"shelfspan/study"
	"shelfspan/testdata"
)

// called is an evaluated study in which every name is the given one with
// something before it, so that none is empty.
func called(t testing.TB, name string) Input {
	in := evaluated(t, strings.Replace(balmHead, "title", "product = \"x\"\ntitle", 1)+namedParts, testdata.Table("r.csv", namedRows()))
	d := in.Evaluation.Dataset
	s := d.Study
	s.ID, s.Title, s.Product = "S"+name, "T"+name, "P"+name
	for i := range s.Conditions {
		s.Conditions[i].ID = "C" + name
	}
	for i := range s.Batches {
		b := &s.Batches[i]
		b.ID, b.Scale, b.Lot, b.Size = "B"+name, "s"+name, "l"+name, "z"+name
		b.Factors = []study.Factor{{Name: "f" + name, Level: "v" + name}}
	}
	for i := range s.Packs {
		s.Packs[i].ID, s.Packs[i].Description = "K"+name, "d"+name
	}
	for i := range s.Attributes {
		a := &s.Attributes[i]
		a.ID, a.ExpectedAtAccelerated = "A"+name, "e"+name
		if a.Kind == study.Measure {
			a.Unit = "u" + name
		}
		for g := range a.Grades {
			a.Grades[g] = "g" + name
		}
	}
	for _, a := range in.Evaluation.Analyses {
		for i := range a.Samples {
			a.Samples[i].Unit = "n" + name
		}
	}
	d.Texts = append(d.Texts, "n"+name)
	for _, c := range in.Evaluation.Interactions.Comparisons {
		c.Level, c.Against, c.Reason = "L"+name, "R"+name, "r"+name
	}
	for i := range in.Evaluation.Warnings {
		in.Evaluation.Warnings[i].Where, in.Evaluation.Warnings[i].Text = "w"+name, "W"+name
	}
	in.StudyFile.Path, in.Options = "p"+name, []string{"--o " + name}
	d.Inputs[0].Path = "i" + name
	d.Changes = []study.Change{{ID: "R" + name, Kind: study.Excluded, Result: d.Results[0], Before: "b" + name, Reason: "r" + name, By: "y" + name, At: "t" + name}}
	d.Pulls = []study.PullRecord{{Pull: "q" + name, By: "y" + name, Reason: "r" + name, Note: "o" + name}}
	return in
}

const namedParts = `[[batch]]
id = "B1"
[[batch]]
id = "B2"
[[pack]]
id = "jar"
[[pack]]
id = "tube"
[[attribute]]
id = "assay"
unit = "%"
lower = 90.0
model = "zero-order"
[[attribute]]
id = "colour"
kind = "grade"
sampling = "shared"
grades = ["none", "slight", "marked"]
upper = 1
`

func namedRows() string {
	var b strings.Builder
	b.WriteString("batch,condition,pack,time,attribute,value\n")
	for _, batch := range []string{"B1", "B2"} {
		for _, pack := range []string{"jar", "tube"} {
			for i, time := range []string{"0", "3M", "6M", "9M"} {
				value := []string{"100.1", "99.4", "99.1", "98.2"}[i]
				b.WriteString(strings.Join([]string{batch, "25C60", pack, time, "assay", value}, ",") + "\n")
				b.WriteString(strings.Join([]string{batch, "25C60", pack, time, "colour", []string{"none", "none", "slight", "marked"}[i]}, ",") + "\n")
			}
		}
	}
	return b.String()
}

// hostile are names that would break out of where they stand, or carry what is
// beside them along.
var hostile = []string{
	"<script>alert(1)</script>", `"><img src=x onerror=alert(1)>`, "' onmouseover='alert(1)", "</title></style></script><b>", "</svg><script>alert(1)</script>",
	"<!--", "-->", "]]>", "&lt;b&gt;&amp;", "{{.}}", "javascript:alert(1)", "\u202Eevil\u202C", "\u2066in\u2069\u2069", "שלום (א)", "مرحبا ٣", "\u200fmark", "\x00\x01\x02\x1b[31m", "\xff\xfe",
	strings.Repeat("a hundred letters ", 6), strings.Repeat("W", 100), "軟膏の粘度", "🧴🧴", "e\u0301\u0302\u0303", "\u2028\u2029", "\ufffe", "<bdi>",
}

// TestHostileNames: whatever the names are, the page has the same elements with
// the same attributes as with plain ones, and shows the names as text.
func TestHostileNames(t *testing.T) {
	plain := skeleton(t, written(t, called(t, "plain")))
	for _, name := range hostile {
		checkInert(t, plain, name)
	}
}

func FuzzNames(f *testing.F) {
	for _, name := range hostile {
		f.Add(name)
	}
	plain := skeleton(f, written(f, called(f, "plain")))
	f.Fuzz(func(t *testing.T, name string) { checkInert(t, plain, name) })
}

func checkInert(t *testing.T, plain []string, name string) {
	t.Helper()
	page := written(t, called(t, name))
	if !utf8.Valid(page) {
		t.Errorf("%q: the page is no UTF-8", name)
	}
	for _, r := range string(page) {
		if unicode.IsControl(r) && r != '\n' && r != '\t' || r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069 {
			t.Errorf("%q: the page has the character %U", name, r)
			break
		}
	}
	got := skeleton(t, page)
	if !slices.Equal(got, plain) {
		for i := range min(len(got), len(plain)) {
			if got[i] != plain[i] {
				t.Fatalf("%q: element %d is %s, with a plain name %s", name, i, got[i], plain[i])
			}
		}
		t.Fatalf("%q: the page has %d elements, with a plain name %d", name, len(got), len(plain))
	}
	// The name stands as it is, but for what is made visible instead.
	root := parsed(t, page)
	if want := strings.Join(strings.Fields("T"+string(printable([]byte(name)))), " "); textOf(oneOf(t, root, "h1")) != want {
		t.Errorf("the title is %q, want %q", textOf(oneOf(t, root, "h1")), want)
	}
	if rightToLeft(name) {
		for _, n := range elements(root, "h1", "th", "td", "li", "p") {
			if text := directText(n); rightToLeft(text) {
				t.Errorf("%q: %s shows %q beside other words without keeping it apart", name, n.Data, text)
				break
			}
		}
	}
}

// skeleton is the elements of a page, but for what keeps names apart, with their
// attributes; of drawings, whose lines hang on the lengths of names, only the
// kinds of elements they may have.
func skeleton(t testing.TB, page []byte) []string {
	t.Helper()
	var out []string
	for _, n := range elements(parsed(t, page)) {
		inDrawing := false
		for p := n.Parent; p != nil; p = p.Parent {
			inDrawing = inDrawing || p.Data == "svg"
		}
		switch {
		case n.Data == "bdi":
			continue
		case inDrawing:
			if !slices.Contains([]string{"title", "desc", "g", "path", "text"}, n.Data) {
				out = append(out, "drawing: "+n.Data)
			}
			for _, a := range n.Attr {
				if !slices.Contains([]string{"id", "class", "d", "x", "y", "fill", "stroke", "stroke-width", "stroke-dasharray", "font-size", "text-anchor", "transform"}, a.Key) {
					out = append(out, "drawing: "+n.Data+" "+a.Key)
				}
			}
			continue
		}
		tag := n.Data
		for _, a := range n.Attr {
			tag += " " + a.Key
			if slices.Contains([]string{"id", "href", "class", "role", "aria-labelledby"}, a.Key) {
				tag += "=" + a.Val
			}
		}
		out = append(out, tag)
	}
	return out
}

// directText is the text of an element outside of <bdi> and of drawings.
func directText(n *html.Node) string {
	var b strings.Builder
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		switch {
		case c.Type == html.TextNode:
			b.WriteString(c.Data)
		case c.Data != "bdi" && c.Data != "svg":
			b.WriteString(directText(c))
		}
	}
	return b.String()
}

// TestNamesAreKeptApart: in a sentence only the name is, not the words about it.
func TestNamesAreKeptApart(t *testing.T) {
	d := &study.Dataset{Study: &study.Study{Attributes: []study.Attribute{{ID: "צמיגות"}, {ID: "צמיגות ב"}, {ID: "assay"}}}}
	n := isolatorOf(d)
	for text, want := range map[string]string{
		"limited by צמיגות in <b>": "limited by <bdi>צמיגות</bdi> in &lt;b&gt;",
		"צמיגות ב, צמיגות":         "<bdi>צמיגות ב</bdi>, <bdi>צמיגות</bdi>",
		"assay & more":             "assay &amp; more",
		"שלום":                     "<bdi>שלום</bdi>",
		"x\x01צמיגות":              "x\uFFFD<bdi>צמיגות</bdi>",
	} {
		if got := n.isolate(text); got != want {
			t.Errorf("%q is set as %q, want %q", text, got, want)
		}
	}
}

// TestPrintable: what cannot be seen, or turns other words about, is made plain.
func TestPrintable(t *testing.T) {
	for text, want := range map[string]string{
		"plain ≥ 5 °C\n\t":    "plain ≥ 5 °C\n\t",
		"a\u202Eb\u2069":      "a⟨U+202E⟩b⟨U+2069⟩",
		"a\x00\x1b\x7f\u0085": "a\uFFFD\uFFFD\uFFFD\uFFFD",
		"\xffx":               "\uFFFDx",
		"\u200e\u200f":        "\u200e\u200f",
		"\ufffe\U0001FFFF":    "\uFFFD\uFFFD",
	} {
		if got := string(printable([]byte(text))); got != want {
			t.Errorf("%q becomes %q, want %q", text, got, want)
		}
	}
}
