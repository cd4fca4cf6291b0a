// Package finding holds the two things that travel beside every answer:
// warnings, which qualify a result, and faults, which say why an input was
// not taken. Both are plain values; nothing here prints. It imports nothing
// of the project, so that every other package may use it.
package finding

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Warning qualifies an answer without preventing it.
type Warning struct {
	Code  string `json:"code"`  // stable, for scripts: "few-points"
	Where string `json:"where"` // what it is about: "viscosity 25C60 tube"; may be empty
	Text  string `json:"text"`  // one or two plain sentences
}

// String gives the warning as one line of text.
func (w Warning) String() string {
	if w.Where == "" {
		return w.Text
	}
	return w.Where + ": " + w.Text
}

// Dedupe returns the warnings in their first order with exact repeats left out.
func Dedupe(ws []Warning) []Warning {
	seen := make(map[Warning]bool, len(ws))
	out := make([]Warning, 0, len(ws))
	for _, w := range ws {
		if !seen[w] {
			seen[w] = true
			out = append(out, w)
		}
	}
	return out
}

// Gather joins the warnings that say the same of several places into one, at
// the place of the first, for people to read.
func Gather(ws []Warning) []Warning {
	type key struct{ code, text string }
	first := make(map[key]int, len(ws))
	var out []Warning
	for _, w := range ws {
		k := key{w.Code, w.Text}
		i, seen := first[k]
		switch {
		case !seen:
			first[k] = len(out)
			out = append(out, w)
		case w.Where != "":
			out[i].Where += ", " + w.Where
		}
	}
	return out
}

// Fault is one thing wrong with an input file.
type Fault struct {
	File   string
	Line   int    // 1-based; 0 where no line applies (a missing file)
	Column string // CSV column or TOML key the fault stands in; may be empty
	Text   string // what is wrong and what would be right
}

// String gives FILE:LINE: column: text, leaving out what does not apply.
func (f Fault) String() string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Line > 0 {
		fmt.Fprintf(&b, ":%d", f.Line)
	}
	b.WriteString(": ")
	if f.Column != "" {
		b.WriteString(f.Column)
		b.WriteString(": ")
	}
	b.WriteString(f.Text)
	return b.String()
}

// Faults is every fault found in an input, and as an error refuses it.
type Faults struct {
	List []Fault
	More int    // faults found beyond those listed
	Hint string // what to do next; may be empty
}

// Error gives one fault a line, and the count of those not listed.
func (f *Faults) Error() string {
	var b strings.Builder
	for i, x := range f.List {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(x.String())
	}
	if f.More > 0 {
		fmt.Fprintf(&b, "\nand %d more", f.More)
	}
	return b.String()
}

// Sort puts the faults in the order of file and line.
func (f *Faults) Sort() {
	slices.SortStableFunc(f.List, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line))
	})
}
