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
		text := rapid.StringMatching(`['=+\-@\ta1]{0,6}`).Draw(t, "text")
		out := Harmless(text)
		if out != "" && strings.IndexByte(starts, out[0]) >= 0 {
			t.Fatalf("%q would be a formula", out)
		}
		if back := Plain(out); back != text {
			t.Fatalf("%q comes back as %q", text, back)
		}
	})
}
