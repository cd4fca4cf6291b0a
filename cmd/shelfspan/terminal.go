package main

import (
	"io"
	"os"
	"strconv"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"shelfspan/reports/text"
	"shelfspan/study/finding"
)

// plainWidth is the line width where the output is no terminal.
const plainWidth = 80

// newPrinter lays text out for where w goes; headings are bold only on a
// terminal and without NO_COLOR.
func newPrinter(w io.Writer) *text.Printer {
	return text.NewPrinter(w, lineWidth(w), terminal(w) != nil && os.Getenv("NO_COLOR") == "")
}

// lineWidth gives the width of the terminal that w is, else COLUMNS, else 80.
func lineWidth(w io.Writer) int {
	if f := terminal(w); f != nil {
		if n, _, err := term.GetSize(int(f.Fd())); err == nil && n > 0 {
			return n
		}
	}
	if n, err := strconv.Atoi(os.Getenv("COLUMNS")); err == nil && n > 0 {
		return n
	}
	return plainWidth
}

// terminal gives the terminal that w is, or nil.
func terminal(w io.Writer) *os.File {
	if f, ok := w.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		return f
	}
	return nil
}

// warn writes the warnings of an answer to standard error.
func warn(c *cli.Context, ws []finding.Warning) {
	newPrinter(c.App.ErrWriter).Warnings(ws)
}
