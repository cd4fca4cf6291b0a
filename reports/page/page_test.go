package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/testdata"
)

// parsed reads a page as a browser does.
func parsed(t testing.TB, page []byte) *html.Node {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	return root
}

// elements are all of some names, in the order of the page; none named: all.
func elements(root *html.Node, names ...string) []*html.Node {
	var out []*html.Node
	for n := range root.Descendants() {
		if n.Type == html.ElementNode && (len(names) == 0 || slices.Contains(names, n.Data)) {
			out = append(out, n)
		}
	}
	return out
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// textOf is the text of an element, its spaces as one each.
func textOf(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

func oneOf(t testing.TB, root *html.Node, name string) *html.Node {
	t.Helper()
	all := elements(root, name)
	if len(all) != 1 {
		t.Fatalf("%d elements %s", len(all), name)
	}
	return all[0]
}

// TestSameBytes writes the same answer twice.
func TestSameBytes(t *testing.T) {
	if !bytes.Equal(written(t, demo(t)), written(t, demo(t))) {
		t.Error("the same input gave different bytes")
	}
}

// TestConclusionFirst: before any other section stand the sentences of the
// conclusion, the claim and its setting, the cautions and the disclaimer.
func TestConclusionFirst(t *testing.T) {
	in := demo(t)
	root := parsed(t, written(t, in))
	sections := elements(root, "section")
	first := textOf(sections[0])
	wanted := append(words.Conclusion(in.Evaluation), "30 months", "Pressurised packs can burst when warm", words.Disclaimer, words.Q1EConditions)
	for _, want := range wanted {
		if want = strings.Join(strings.Fields(want), " "); !strings.Contains(first, want) {
			t.Errorf("the conclusion lacks %q", want)
		}
	}
	if len(elements(sections[0], "svg")) == 0 {
		t.Error("the trend that governs is not drawn beside the conclusion")
	}
}

// TestWholeAnswer: every section is there in its order and in the list of
// contents, with what was worked out. The numbers are those of the demo's
// published answer (README).
func TestWholeAnswer(t *testing.T) {
	in := demo(t)
	in.Options = []string{"--at 30"}
	root := parsed(t, written(t, in))
	var order []string
	for _, h := range elements(oneOf(t, root, "main"), "h2") {
		order = append(order, textOf(h))
	}
	want := []string{"Conclusion", "What limits each pack", "Trends", "Arrhenius: all temperatures at once",
		"Packs, orientations and ingredients compared", "Results", "Protocol", "Pulls",
		"Warnings", "Methods and sources", "Provenance"}
	if !slices.Equal(order, want) {
		t.Errorf("the sections are %q", order)
	}
	contents := textOf(oneOf(t, root, "nav"))
	for _, h := range want {
		if !strings.Contains(contents, h) {
			t.Errorf("%s is not in the contents", h)
		}
	}
	all := textOf(oneOf(t, root, "main"))
	for _, want := range []string{
		"can inverted: 19 months, by viscosity", "ICH Q1E 2.4.2.1", "Poolability of batches, viscosity at 25C60", "131.4", "common slope",
		"Activation energy 88.8 kJ/mol (95 % interval 82.1 to 96.1)", "Predicted life", "assay (%), criterion: ≥ 90 %", "Every value: assay at 25C60",
		"outside the acceptance criterion", "Moré 1978",
		"viscosity, can inverted against can upright: harm. It costs 5.6 of the 30 months, and at least 2.8.", "+5.6!", "Single units, weight-loss", "0.1139",
		words.MatrixRead, "What the residuals say, viscosity at 25C60", "Bounds side by side, viscosity at 25C60", words.CalendarCaption, "USP General Notices 7.20", "results-lab.csv", strings.Repeat("1b", 32), "--at 30", "shelfspan 0.1.0",
		in.Fingerprint(), words.SameAgain,
	} {
		if !strings.Contains(all, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, w := range in.Warnings() {
		if !strings.Contains(all, strings.Join(strings.Fields(w.Text), " ")) {
			t.Errorf("the page lacks the warning %q", w.Text)
		}
	}
	if strings.Contains(all, "NaN") || strings.Contains(all, "Inf") {
		t.Error("the page shows a NaN or an infinity")
	}
}

// TestEverySampleSpeaks: each sample of a trend is a mark that says its batch,
// day, value and unit of measurement, and stands in a table too.
func TestEverySampleSpeaks(t *testing.T) {
	in := evaluated(t, balmHead+"[[batch]]\nid = \"B1\"\n[[attribute]]\nid = \"assay\"\nunit = \"%\"\nlower = 90.0\nmodel = \"zero-order\"\ndecimals = 1\n",
		testdata.Table("r.csv", "batch,condition,time,pulled,attribute,unit,value\n"+
			"B1,25C60,0,2025-01-13,assay,u1,100.1\nB1,25C60,3M,2025-04-14,assay,u2,99.2\nB1,25C60,6M,2025-07-30,assay,u3,89.2\nB1,25C60,9M,2025-10-13,assay,u4,98.0\n"))
	root := parsed(t, written(t, in))
	var said []string
	for _, n := range elements(root, "title") {
		if n.Parent.Data == "path" {
			said = append(said, textOf(n))
		}
	}
	for _, want := range []string{
		"batch B1, unit u1, time zero, pulled 2025-01-13: 100.1 %",
		"batch B1, unit u2, 3M, pulled 2025-04-14: 99.2 %",
		"batch B1, unit u3, 6M, pulled 2025-07-30: 89.2 %; outside the criterion, pulled outside its window",
	} {
		if !slices.Contains(said, want) {
			t.Errorf("no mark says %q; they say %q", want, said)
		}
	}
	var listed string
	for _, n := range elements(root, "details") {
		if attribute(n, "class") == "values" {
			listed += textOf(n)
		}
	}
	for _, want := range []string{"u1: 100.1", "2025-07-30", "u3: 89.2", "outside the criterion, pulled outside its window"} {
		if !strings.Contains(listed, want) {
			t.Errorf("the single values lack %q", want)
		}
	}
}

// TestStructure holds what a screen reader, a keyboard and a cautious browser
// need, on a page that has everything and on pages that have little.
func TestStructure(t *testing.T) {
	for name, in := range map[string]Input{"demo": demo(t), "wide": wide(t), "lifetimes": lifetimes(t), "nothing": nothing(t), "one": one(t)} {
		t.Run(name, func(t *testing.T) { checkStructure(t, written(t, in)) })
	}
}

func checkStructure(t *testing.T, page []byte) {
	t.Helper()
	root := parsed(t, page)
	if attribute(oneOf(t, root, "html"), "lang") != "en-GB" {
		t.Error("the page does not say its language")
	}
	if textOf(oneOf(t, oneOf(t, root, "head"), "title")) == "" {
		t.Error("the page has no title")
	}
	ids := map[string]bool{}
	level := 0
	for _, n := range elements(root) {
		for _, a := range n.Attr {
			switch {
			case a.Key == "id" && ids[a.Val]:
				t.Errorf("two elements have the id %q", a.Val)
			case a.Key == "id":
				ids[a.Val] = true
			case a.Key == "style" || strings.HasPrefix(a.Key, "on"):
				t.Errorf("%s has %s=%q, which the page's policy forbids", n.Data, a.Key, a.Val)
			case a.Key == "src" || a.Key == "href" && !strings.HasPrefix(a.Val, "#") && a.Val != "data:,":
				t.Errorf("%s has %s=%q: the page fetches nothing", n.Data, a.Key, a.Val)
			}
		}
		switch n.Data {
		case "h1", "h2", "h3", "h4":
			if l := int(n.Data[1] - '0'); l > level+1 {
				t.Errorf("%s %q follows a heading of level %d", n.Data, textOf(n), level)
			} else {
				level = l
			}
			if textOf(n) == "" {
				t.Errorf("an empty %s", n.Data)
			}
		case "table":
			if c := elements(n, "caption"); len(c) != 1 || textOf(c[0]) == "" {
				t.Error("a table without a caption")
			}
			heads := len(elements(elements(n, "thead")[0], "th"))
			for _, row := range elements(elements(n, "tbody")[0], "tr") {
				if got := len(elements(row, "th", "td")); got != heads {
					t.Errorf("%s: a row of %d fields under %d heads", textOf(elements(n, "caption")[0]), got, heads)
				}
			}
		case "th":
			if s := attribute(n, "scope"); s != "col" && s != "row" {
				t.Errorf("th %q has the scope %q", textOf(n), s)
			}
		case "svg":
			if attribute(n, "aria-hidden") == "true" {
				continue
			}
			first, second := n.FirstChild, n.FirstChild.NextSibling
			if attribute(n, "role") != "img" || first.Data != "title" || textOf(first) == "" || second.Data != "desc" || textOf(second) == "" {
				t.Error("a chart without role, title or description")
			}
		case "figure":
			if len(elements(n, "svg")) == 0 {
				t.Error("a figure without a chart")
			}
		case "iframe", "object", "embed", "form", "img", "base":
			t.Errorf("the page has an element %s", n.Data)
		}
	}
	oneOf(t, root, "h1")
	for _, n := range elements(root) {
		for _, name := range []string{"href", "aria-labelledby"} {
			for _, id := range strings.Fields(attribute(n, name)) {
				if id = strings.TrimPrefix(id, "#"); id != "data:," && !ids[id] {
					t.Errorf("%s %s=%q leads nowhere", n.Data, name, id)
				}
			}
		}
	}
	if skip := elements(oneOf(t, root, "body"), "a")[0]; attribute(skip, "href") != "#conclusion" {
		t.Error("the first link does not skip to the conclusion")
	}
	if !AsWritten(page) {
		t.Error("the page does not know itself")
	}
}

// TestPolicy: the page's own style and script, as they stand in it, are those
// that its policy lets run, and nothing else is.
func TestPolicy(t *testing.T) {
	root := parsed(t, written(t, nothing(t)))
	policy := ""
	for _, n := range elements(root, "meta") {
		if attribute(n, "http-equiv") == "Content-Security-Policy" {
			policy = attribute(n, "content")
		}
	}
	hash := func(name string) string {
		sum := sha256.Sum256([]byte(oneOf(t, root, name).FirstChild.Data))
		return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	}
	want := "default-src 'none'; style-src " + hash("style") + "; script-src " + hash("script") + "; img-src data:; base-uri 'none'; form-action 'none'"
	if policy != want {
		t.Errorf("the policy is %q, want %q", policy, want)
	}
	if regexp.MustCompile(`\beval\b|new Function|fetch\(|XMLHttpRequest|innerHTML|localStorage|https?:`).MatchString(script) {
		t.Error("the script does what a page that only shows does not need")
	}
}

// nothing is a study without a result.
func nothing(t testing.TB) Input {
	return evaluated(t, balmHead+"[[batch]]\nid = \"B1\"\n[[attribute]]\nid = \"assay\"\nunit = \"%\"\nlower = 90.0\n")
}

// one is a study with a single one, after time zero.
func one(t testing.TB) Input {
	return evaluated(t, balmHead+"[[batch]]\nid = \"B1\"\n[[attribute]]\nid = \"assay\"\nunit = \"%\"\nlower = 90.0\ndecimals = 1\n",
		testdata.Table("r.csv", "batch,condition,time,attribute,value\nB1,25C60,3M,assay,98.7\n"))
}

// TestNothingMeasured: the page of a plan alone says that nothing is known.
func TestNothingMeasured(t *testing.T) {
	root := parsed(t, written(t, nothing(t)))
	all := textOf(root)
	for _, want := range []string{"No shelf life can be stated", "No results have been taken in.", "Protocol", "The claim of 18 months is not shown"} {
		if !strings.Contains(all, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, h := range elements(root, "h2") {
		if h := textOf(h); h == "Trends" || strings.HasPrefix(h, "Arrhenius") || h == "Excluded and amended results" {
			t.Errorf("%s stands over nothing", h)
		}
	}
	in := nothing(t)
	in.Schedule, in.Evaluation.Dataset.Study.StoreAt, in.Evaluation.Supported = nil, -1, nil
	checkStructure(t, written(t, in))
}

// TestOneResult: a single sample gives a chart and a table and no line.
func TestOneResult(t *testing.T) {
	all := textOf(parsed(t, written(t, one(t))))
	for _, want := range []string{"98.7", "No regression could be made", "batch B1, 3M: 98.7 %"} {
		if !strings.Contains(all, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(all, "Lines of assay") {
		t.Error("a line through one point")
	}
}

// TestChanges: what was changed after intake stands with its reason, and only
// where there is any.
func TestChanges(t *testing.T) {
	in := demo(t)
	d := in.Evaluation.Dataset
	d.Changes = []study.Change{{ID: "R4-806-viscosity-8", Kind: study.Amended, Result: d.Results[0], Before: "29942", After: "29924",
		Reason: "digits swapped in the notebook", By: "T1", At: "2026-07-14T10:11:12Z", Event: 9}}
	all := textOf(parsed(t, written(t, in)))
	for _, want := range []string{"Excluded and amended results", "R4-806-viscosity-8", "29942", "29924", "digits swapped in the notebook", "event 9, 2026-07-14 10:11, by T1", words.ChangesNote} {
		if !strings.Contains(all, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// TestAsWritten: a page is known as ours until anything in it is changed.
func TestAsWritten(t *testing.T) {
	page := written(t, one(t))
	changed := bytes.Replace(page, []byte("98.7"), []byte("99.7"), 1)
	for name, c := range map[string]struct {
		file []byte
		want bool
	}{
		"as written":    {page, true},
		"a value":       {changed, false},
		"something new": {append(bytes.Clone(page), "<p>signed</p>\n"...), false},
		"cut off":       {page[:len(page)-2], false},
		"other pages":   {[]byte("<!DOCTYPE html><title>x</title>"), false},
		"empty":         {nil, false},
	} {
		if got := AsWritten(c.file); got != c.want {
			t.Errorf("%s: AsWritten is %v", name, got)
		}
	}
}

// TestSizes keeps pages small enough to open and to send: the demo's, and one of
// 20,000 results.
func TestSizes(t *testing.T) {
	for name, c := range map[string]struct {
		in   Input
		most int
	}{
		"demo":           {demo(t), 1_800_000},
		"20,000 results": {whole(testdata.Thousands(t)), 8_000_000},
	} {
		if n := len(written(t, c.in)); n > c.most || n < c.most/5 {
			t.Errorf("%s: %d bytes, at most %d", name, n, c.most)
		} else {
			t.Logf("%s: %d bytes", name, n)
		}
	}
}

// TestManyResultsAreFolded: where there are many, an attribute's results open on
// demand; where there are few, all stand open. Single values always are folded.
func TestManyResultsAreFolded(t *testing.T) {
	open := func(in Input) (open, values int) {
		for _, n := range elements(parsed(t, written(t, in)), "details") {
			isOpen := slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == "open" })
			if attribute(n, "class") == "values" {
				values++
				if isOpen {
					t.Error("single values stand open")
				}
			} else if isOpen {
				open++
			}
		}
		return open, values
	}
	if n, values := open(one(t)); n != 1 || values != 1 {
		t.Errorf("of one result %d folds are open and %d hold values", n, values)
	}
	if n, values := open(whole(testdata.Thousands(t))); n != 0 || values != 20*4 {
		t.Errorf("of 20,000 results %d folds are open and %d hold values", n, values)
	}
}

func BenchmarkDemo(b *testing.B)  { benchmark(b, demo(b)) }
func Benchmark20000(b *testing.B) { benchmark(b, whole(testdata.Thousands(b))) }

func benchmark(b *testing.B, in Input) {
	b.SetBytes(int64(len(written(b, in))))
	for b.Loop() {
		if err := Write(io.Discard, in); err != nil {
			b.Fatal(err)
		}
	}
}
