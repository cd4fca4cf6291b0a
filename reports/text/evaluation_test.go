package text_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/jedib0t/go-pretty/v6/text"
	"pgregory.net/rapid"

	"shelfspan/analysis"
	reports "shelfspan/reports/text"
	"shelfspan/study/finding"
	"shelfspan/study/intake"
	"shelfspan/study/protocol"
)

// named evaluates an invented study with names as hostile as a study file lets
// them be.
func named(t rapid.TB, title, attribute, unit, grade, pack, condition, batch string) *analysis.Evaluation {
	t.Helper()
	s, err := protocol.Read("study.toml", []byte(fmt.Sprintf(`[study]
id       = %[1]q
title    = %[2]q
start    = 2025-01-13
claim    = "24M"
store_at = %[7]q

[[condition]]
id          = %[7]q
role        = "long-term"
temperature = 25.0
humidity    = 60.0
pulls       = ["0", "3M", "6M", "9M"]

[[condition]]
id          = "hot"
role        = "accelerated"
temperature = 40.0
humidity    = 75.0
pulls       = ["0", "3M", "6M"]

[[batch]]
id = %[8]q

[[pack]]
id           = %[6]q
glass        = true
pressurised  = true
orientations = ["upright", "horizontal"]

[[attribute]]
id       = %[3]q
unit     = %[4]q
kind     = "measure"
model    = "auto"
lower    = 1234.56789

[[attribute]]
id     = "look"
kind   = "grade"
grades = ["none", %[5]q]
upper  = 0
`, batch, title, attribute, unit, grade, pack, condition, batch)))
	if err != nil {
		t.Fatal(err)
	}
	csv := "batch,pack,orientation,condition,time,attribute,value\n"
	for i, months := range []int{0, 3, 6, 9} {
		for _, stands := range []string{"upright", "horizontal"} {
			if months > 0 || stands == "upright" {
				csv += fmt.Sprintf("%s,%s,%s,%s,%dM,%s,%d.%d\n", batch, pack, stands, condition, months, attribute, 99999-months*777, i*i%7)
				csv += fmt.Sprintf("%s,%s,%s,%s,%dM,look,%d\n", batch, pack, stands, condition, months, i/3)
			}
			if months == 3 || months == 6 {
				csv += fmt.Sprintf("%s,%s,%s,hot,%dM,%s,%d\n", batch, pack, stands, months, attribute, 99999-months*3333)
			}
		}
	}
	d, err := intake.Read(s, intake.Source{Name: "r.csv", Reader: strings.NewReader(csv)})
	if err != nil {
		t.Fatal(err)
	}
	return analysis.Evaluate(d, analysis.Options{Trends: true, Supported: true, Arrhenius: true})
}

// TestEvaluationsKeepTheWidth: no line of an answer is wider than the terminal,
// whatever its names, and the names still can be read.
func TestEvaluationsKeepTheWidth(t *testing.T) {
	id := rapid.StringMatching(`[A-Za-z0-9][A-Za-z0-9._-]{0,63}`).Filter(func(s string) bool { return s != "hot" && s != "look" })
	words := rapid.StringOfN(rapid.OneOf(rapid.SampledFrom([]rune("ab °²µé ·…–→漢字テ한👍🧴e\u0301")), rapid.RuneFrom([]rune("x"))), 1, 90, -1).
		Filter(func(s string) bool { return strings.TrimSpace(s) == s && s != "" })
	grade := rapid.StringMatching(`[a-z漢][a-z漢 -]{0,70}[a-z]`).Filter(func(s string) bool { return s != "none" })
	rapid.Check(t, func(r *rapid.T) {
		attribute := id.Draw(r, "attribute")
		e := named(r, words.Draw(r, "title"), attribute, rapid.StringMatching(`[!-~]{1,40}`).Draw(r, "unit"), grade.Draw(r, "grade"), id.Draw(r, "pack"), id.Draw(r, "condition"), id.Draw(r, "batch"))
		width := rapid.IntRange(40, 140).Draw(r, "width")
		for name, write := range map[string]func(*reports.Printer){
			"shelf-life": func(p *reports.Printer) { p.ShelfLife(e) },
			"trend":      func(p *reports.Printer) { p.Trend(e) },
			"arrhenius":  func(p *reports.Printer) { p.Arrhenius(e) },
			"warnings":   func(p *reports.Printer) { p.Warnings(e.Warnings) },
		} {
			var out bytes.Buffer
			p := reports.NewPrinter(&out, width, false)
			write(p)
			if p.Err() != nil || out.Len() == 0 {
				r.Fatalf("%s: %v, %d bytes", name, p.Err(), out.Len())
			}
			for _, line := range strings.Split(out.String(), "\n") {
				if n := text.RuneWidthWithoutEscSequences(line); n > width {
					r.Fatalf("%s: %d columns where there are %d: %q", name, n, width, line)
				}
			}
			if name != "warnings" && len(attribute) < width-40 && !strings.Contains(out.String(), attribute) {
				r.Fatalf("%s: %s cannot be read in %d columns:\n%s", name, attribute, width, out.String())
			}
		}
	})
}

// FuzzParagraph: no text makes a line wider than the terminal, and none of its
// letters is lost.
func FuzzParagraph(f *testing.F) {
	f.Add("- ", "a word and anextraordinarilylongwordthatnolineofthiswidthcanholdatall", 40)
	f.Add("", "漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字", 41)
	f.Add("* ", "e\u0301e\u0301e\u0301 👍🏽👍🏽 \x1b[31mred\x1b[0m\r\n\ttab", 40)
	f.Fuzz(func(t *testing.T, lead, s string, width int) {
		if len(lead) > 4 || strings.ContainsAny(lead, "\n\t\x1b") || width > 1000 {
			return
		}
		var out bytes.Buffer
		p := reports.NewPrinter(&out, width, false)
		p.Hanging(lead, s)
		p.Warnings([]finding.Warning{{Code: "x", Where: s, Text: lead}})
		for _, line := range strings.Split(out.String(), "\n") {
			if n := text.RuneWidthWithoutEscSequences(line); n > max(width, 40) {
				t.Fatalf("%d columns where there are %d: %q", n, width, line)
			}
		}
	})
}
