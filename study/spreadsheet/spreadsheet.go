// Package spreadsheet keeps text harmless where a table is opened in a
// spreadsheet: a cell that begins with = + - @, a tab or a carriage return is
// taken for a formula there, and could do what its writer wanted.
package spreadsheet

import "strings"

// starts are the characters that a formula can begin with.
const starts = "=+-@\t\r"

// Harmless puts an apostrophe before a text that would be taken for a formula.
// It is for words, not for numbers: -0.4 is a number in a spreadsheet too.
func Harmless(text string) string {
	if text != "" && strings.IndexByte(starts, text[0]) >= 0 || isEscaped(text) {
		return "'" + text
	}
	return text
}

// Plain takes the apostrophe off again.
func Plain[T ~string | ~[]byte](text T) T {
	if isEscaped(text) {
		return text[1:]
	}
	return text
}

// isEscaped reports whether a text begins as Harmless would have made it: with
// apostrophes and then the start of a formula.
func isEscaped[T ~string | ~[]byte](text T) bool {
	n := 0
	for n < len(text) && text[n] == '\'' {
		n++
	}
	return n > 0 && n < len(text) && strings.IndexByte(starts, text[n]) >= 0
}
