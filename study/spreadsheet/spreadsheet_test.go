package spreadsheet

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestHarmless(t *testing.T) {
	for text, want := range map[string]string{
		"":          "",
		"none":      "none",
		"a=b":       "a=b",
		"=1+1":      "'=1+1",
		"+49":       "'+49",
		"-2+3":      "'-2+3",
		"@SUM(A1)":  "'@SUM(A1)",
		"\t=1":      "'\t=1",
		"'tis":      "'tis", // an apostrophe of its own stays as it is
		"'=1":       "''=1", // and one that would be taken off gets another
		"O'Neil -1": "O'Neil -1",
	} {
		if got := Harmless(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
		if back := Plain(Harmless(text)); back != text {
			t.Errorf("%q comes back as %q", text, back)
		}
	}
}

// Whatever the text, it comes back as it was, and begins no formula.
func TestHarmlessRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`['=+\-@\ta1.eE]{0,6}|'{0,2}(may|dec)-?[0-9]{0,2}`).Draw(t, "text")
		if back := Plain(Text(text)); back != text {
			t.Fatalf("%q comes back from Text as %q", text, back)
		}
		out := Harmless(text)
		if out != "" && strings.IndexByte(starts, out[0]) >= 0 {
			t.Fatalf("%q would be a formula", out)
		}
		if back := Plain(out); back != text {
			t.Fatalf("%q comes back as %q", text, back)
		}
	})
}

// What LibreOffice 7.4 was seen to rewrite as a table was opened in English or
// German and saved again; the words of months are from memory.
func TestText(t *testing.T) {
	for id, want := range map[string]string{
		"":          "",
		"B1":        "B1",
		"25C60":     "25C60",
		"SB-25":     "SB-25",
		"marine-1":  "marine-1",
		"decent":    "decent",
		"may":       "may",
		"tube":      "tube",
		"007":       "'007",
		"1E5":       "'1E5",
		"5e-3":      "'5e-3",
		"1.50":      "'1.50",
		".5":        "'.5",
		"25.60":     "'25.60",
		"3-4":       "'3-4",
		"1-2":       "'1-2",
		"02.03.04":  "'02.03.04",
		"2026-11":   "'2026-11",
		"MAR1":      "'MAR1",
		"3-Apr":     "'3-Apr",
		"Sept-2026": "'Sept-2026",
		"true":      "'true",
		"-B":        "'-B",
		"'007":      "''007",
	} {
		if got := Text(id); got != want {
			t.Errorf("%q: %q, want %q", id, got, want)
		}
		for _, out := range []string{Text(id), Harmless(id)} {
			if back := Plain(out); back != id {
				t.Errorf("%q comes back from %q as %q", id, out, back)
			}
		}
	}
}
