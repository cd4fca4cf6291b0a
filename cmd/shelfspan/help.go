package main

import (
	"bytes"
	"io"
	"regexp"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/text"
)

var (
	// again is how the library says that an option may be repeated; its usage
	// says so in words.
	again = regexp.MustCompile(` \[ [^\]]* \]`)
	// helpLead is what a line of help begins with: an option, a command or the
	// program's name, and what follows is said about it.
	helpLead = regexp.MustCompile(`^ *(?:-\S.*?  +|[a-z-]+  +|shelfspan[a-z -]*? - )?`)
	// example is a line to be copied, which stays whole.
	example = regexp.MustCompile(`^ +(?:shelfspan|source) `)
)

// The library's help has lines of any length; ours keeps to the terminal.
func init() {
	option := cli.FlagStringer
	cli.FlagStringer = func(f cli.Flag) string { return again.ReplaceAllString(option(f), "") }
	cli.HelpPrinter = func(w io.Writer, template string, data any) {
		var out bytes.Buffer
		cli.HelpPrinterCustom(&out, template, data, nil)
		printHelp(w, out.String(), lineWidth(w))
	}
}

// printHelp writes help with its long lines wrapped.
func printHelp(w io.Writer, help string, width int) {
	const least = 24 // columns for what is said about an option
	p := text.NewPrinter(w, width, false)
	for line := range strings.Lines(help) {
		line = strings.TrimRight(line, "\n")
		lead := helpLead.FindString(line)
		switch {
		case example.MatchString(line) && !strings.Contains(lead, " - "):
			io.WriteString(w, line+"\n")
		case len(lead)+least > width && len(line) > width:
			p.Hanging(lead, "")
			p.Hanging("      ", line[len(lead):])
		default:
			p.Hanging(lead, line[len(lead):])
		}
	}
}
