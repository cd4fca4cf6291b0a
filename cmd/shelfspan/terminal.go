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

// newPrinter lays text out for where w goes: the terminal's width, else
// COLUMNS, else 80; bold headings only on a terminal and without NO_COLOR.
func newPrinter(w io.Writer) *text.Printer {
	width := plainWidth
	if n, err := strconv.Atoi(os.Getenv("COLUMNS")); err == nil && n > 0 {
		width = n
	}
	f, ok := w.(*os.File)
	terminal := ok && term.IsTerminal(int(f.Fd()))
	if terminal {
		if n, _, err := term.GetSize(int(f.Fd())); err == nil && n > 0 {
			width = n
		}
	}
	return text.NewPrinter(w, width, terminal && os.Getenv("NO_COLOR") == "")
}

// warn writes the warnings of an answer to standard error.
func warn(c *cli.Context, ws []finding.Warning) {
	newPrinter(c.App.ErrWriter).Warnings(ws)
}
