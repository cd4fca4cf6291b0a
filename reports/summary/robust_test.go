package summary

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"shelfspan/analysis"
	"shelfspan/reports/pdf/pdftest"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/schedule"
	"shelfspan/testdata"
)

// demo is the demonstration study, evaluated as report does.
func demo(t testing.TB) Input {
	t.Helper()
	return whole(testdata.Demo(t))
}

// called is the hand-made answer with the given name in every place that has one.
func called(name string) Input {
	in := evaluated()
	e := in.Evaluation
	d := e.Dataset
	s := d.Study
	// Two conditions have every kind of page, and hostile names make them long.
	e.Analyses = slices.DeleteFunc(e.Analyses, func(a *analysis.Analysis) bool { return a.Condition != s.StoreAt && a.Condition != 3 })
	s.ID, s.Title, s.Product = "S"+name, "T"+name, "P"+name
	for i := range s.Conditions {
		s.Conditions[i].ID = fmt.Sprint("C", i, name)
	}
	for i := range s.Batches {
		b := &s.Batches[i]
		b.ID, b.Scale, b.Lot, b.Size = fmt.Sprint("B", i, name), "s"+name, "l"+name, "z"+name
		b.Factors = []study.Factor{{Name: "f" + name, Level: "v" + name}}
	}
	for i := range s.Packs {
		s.Packs[i].ID, s.Packs[i].Description = fmt.Sprint("K", i, name), "d"+name
	}
	for i := range s.Attributes {
		a := &s.Attributes[i]
		a.ID, a.ExpectedAtAccelerated = fmt.Sprint("A", i, name), "e"+name
		if a.Kind == study.Measure {
			a.Unit = "u" + name
		}
		for g := range a.Grades {
			a.Grades[g] = fmt.Sprint("g", g, name)
		}
	}
	in.Schedule = schedule.Plan(s)
	for _, a := range e.Analyses {
		for i := range a.Samples {
			a.Samples[i].Unit = "n" + name
		}
		a.Warnings = []finding.Warning{{Code: "made-up", Where: "w" + name, Text: "W" + name}}
	}
	in.StudyFile.Path, in.Options = "p"+name, []string{"--o " + name}
	d.Inputs[0].Path = "i" + name
	d.Changes = []study.Change{{ID: "R" + name, Kind: study.Excluded, Event: 4, Before: "b" + name, Reason: "r" + name, By: "y" + name, At: "2025-03-01T10:00:00Z"}}
	d.Pulls = []study.PullRecord{{Pull: "q" + name, By: "y" + name, Reason: "r" + name, Note: "o" + name}}
	return in
}

// TestNamesOfAnyScript: whatever names hold, the document is clean, shows nothing
// without a glyph, and says so where something was replaced.
func TestNamesOfAnyScript(t *testing.T) {
	for what, c := range map[string]struct {
		name     string
		replaced bool
	}{
		"latin":       {"éäößøžćł ×²µΔ", false},
		"greek":       {"άλφα", false},
		"cyrillic":    {"бальзам", false},
		"arabic":      {"مرهم للجلد", true},
		"cjk":         {"護膚霜 スキンバーム 피부", true},
		"emoji":       {"🧴👩‍🔬", true},
		"combining":   {"a\u0300\u0316\u0489", true},
		"right left":  {"\u202eabc\u202c \u200f\u2067x\u2069", true},
		"control":     {"\x00\x07\x1b[31m\x7f\u0085", true},
		"not UTF-8":   {"\xff\xfe\xc3", true},
		"syntax":      {`) Tj ET Q <</JS (x)>> \ %%EOF`, false},
		"line breaks": {"a\nb\r\nc\td\u2028e", false},
		"long":        {strings.Repeat("a very long name ", 6), false},
		"long word":   {strings.Repeat("W", 100), false},
	} {
		t.Run(what, func(t *testing.T) {
			t.Parallel()
			file := write(t, called(c.name))
			pages := pdftest.Pages(t, file)
			for i, p := range pages {
				if j := strings.IndexFunc(p, func(r rune) bool {
					return unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == unicode.ReplacementChar
				}); j >= 0 {
					t.Fatalf("page %d shows %q", i+1, p[j:min(len(p), j+8)])
				}
				if !strings.Contains(p, fmt.Sprintf("%d of %d", i+1, len(pages))) {
					t.Errorf("page %d of %d lacks its number", i+1, len(pages))
				}
			}
			if told := strings.Contains(pages[len(pages)-1], "are not in this document's fonts and are shown as □"); told != c.replaced {
				t.Errorf("that characters were replaced is told: %v", told)
			}
			pdftest.Clean(t, file)
		})
	}
}

// TestCleanDocuments: studies of every size.
func TestCleanDocuments(t *testing.T) {
	one := bare(balm())
	one.Evaluation.Analyses = []*analysis.Analysis{trend(one.Evaluation.Dataset.Study, 1, 1, 0, "separate", []lineFit{{101, -0.3, 0.8, 6, 8, 220}})}
	one.Evaluation.Analyses[0].Samples = one.Evaluation.Analyses[0].Samples[:1]
	for what, in := range map[string]Input{"the demo": demo(t), "nothing measured": bare(balm()), "one result": one, "20 by 12 by 10": huge()} {
		t.Run(what, func(t *testing.T) {
			t.Parallel()
			pdftest.Clean(t, write(t, in))
		})
	}
}

// TestContentsAndBookmarksAgree: both list the same sections, each with the page
// its heading stands on, whatever parts there are.
func TestContentsAndBookmarksAgree(t *testing.T) {
	changed := called(" x")
	trends := demo(t)
	trends.Parts = []words.Section{words.SectionTrends, words.SectionWarnings}
	noPlan := bare(balm())
	noPlan.Schedule = nil
	for what, in := range map[string]Input{"the demo": demo(t), "hand-made": evaluated(), "with changes": changed, "parts": trends, "nothing measured": bare(balm()), "no plan": noPlan, "huge": huge()} {
		t.Run(what, func(t *testing.T) {
			t.Parallel()
			file := write(t, in)
			pages := pdftest.Pages(t, file)
			var listing string
			for _, p := range pages {
				if i := strings.LastIndex(p, words.SectionConclusion.Title()+" 1 "); i >= 0 && strings.Contains(p, words.TitleContents) {
					listing = p[i:] // it is filled in last of all
					break
				}
			}
			n := 0
			for _, b := range pdftest.Bookmarks(file) {
				if b.Page < 1 || b.Page > len(pages) || !strings.Contains(pages[b.Page-1], firstWords(b.Title)) {
					t.Errorf("%q does not stand on page %d", b.Title, b.Page)
				}
				if !b.Top {
					continue
				}
				n++
				line := b.Title + " " + strconv.Itoa(b.Page) + " "
				if !strings.HasPrefix(listing, line) {
					t.Fatalf("entry %d of the contents is not %q: %.120q", n, line, listing)
				}
				listing = listing[len(line):]
			}
			if n < 5 {
				t.Errorf("only %d sections", n)
			}
			for _, s := range words.Sections {
				if strings.HasPrefix(listing, s.Title()+" ") {
					t.Errorf("the contents go on with %q", s.Title())
				}
			}
		})
	}
}

// firstWords are what of a heading stands in its first line at least.
func firstWords(title string) string { return title[:min(len(title), 12)] }

// whole is all of a study, evaluated as report does.
func whole(d *study.Dataset) Input {
	o := analysis.Options{Trends: true, Supported: true, Arrhenius: true}
	o.Interactions.Wanted = true
	return Input{
		Evaluation: analysis.Evaluate(d, o), Schedule: schedule.Plan(d.Study),
		StudyFile: study.Input{Path: "study.toml", SHA256: strings.Repeat("ab", 32)}, Version: "0.1.0",
	}
}

func benchmark(b *testing.B, in Input) {
	b.ReportAllocs()
	for b.Loop() {
		if err := Write(io.Discard, in); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDemo(b *testing.B)  { benchmark(b, demo(b)) }
func Benchmark20000(b *testing.B) { benchmark(b, whole(testdata.Thousands(b))) }
