// Package spreadsheet keeps text as it is where a table is opened in a
// spreadsheet. A cell that begins with = + - @, a tab or a carriage return is
// taken for a formula there, and could do what its writer wanted; one that looks
// like a number or a day is rewritten: 007 as 7, 1E5 as 100000, 3-4 as a day.
package spreadsheet

import (
	"regexp"
	"strings"
)

// starts are the characters that a formula can begin with.
const starts = "=+-@\t\r"

// rewritten is what spreadsheets take for a number, a day or a truth value, and
// write back in another way, among the ids that a study can have; tried with
// LibreOffice 7.4 in English and German, the months from memory.
var rewritten = func() *regexp.Regexp {
	const month = `(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)`
	return regexp.MustCompile(`(?i)^(?:[0-9.][0-9.\-]*(?:e[-+]?[0-9]+)?` +
		`|[0-9]{1,4}[-.]?` + month + `(?:[-.]?[0-9]{1,4})?` +
		`|` + month + `(?:[-.]?[0-9]{1,4}){1,2}` +
		`|true|false)$`)
}()

// Harmless puts an apostrophe before a text that would be taken for a formula.
// It is for words, not for numbers: -0.4 is a number in a spreadsheet too.
func Harmless(text string) string {
	if text != "" && strings.IndexByte(starts, text[0]) >= 0 || isEscaped(text) {
		return "'" + text
	}
	return text
}

// Text puts an apostrophe also before what would be taken for a number or a day.
// It is for ids in a table that is filled in and comes back.
func Text(id string) string {
	if rewritten.MatchString(id) {
		return "'" + id
	}
	return Harmless(id)
}

// Plain takes the apostrophe off again.
func Plain[T ~string | ~[]byte](text T) T {
	if isEscaped(text) {
		return text[1:]
	}
	return text
}

// isEscaped reports whether a text begins as Harmless or Text would have made
// it: with apostrophes and then the start of a formula, or what is rewritten.
func isEscaped[T ~string | ~[]byte](text T) bool {
	n := 0
	for n < len(text) && text[n] == '\'' {
		n++
	}
	if n == 0 || n == len(text) {
		return false
	}
	return strings.IndexByte(starts, text[n]) >= 0 || rewritten.MatchString(string(text[n:]))
}
