package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/words"
	"shelfspan/study/spelling"
)

// partFlags pick the parts of the documents of report, and their language.
func partFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringSliceFlag{Name: "section", Usage: "only the part `S` of the documents, beside conclusion, changes and provenance (repeatable, or several with commas): " + strings.Join(sectionNames, ", ")},
		&cli.StringFlag{Name: "lang", Usage: "the documents in `LANGUAGE`: " + strings.Join(words.Languages, ", ") + " (the only one yet)"},
	}
}

// sectionNames are the values of --section.
var sectionNames = func() (names []string) {
	for _, s := range words.Sections {
		names = append(names, string(s))
	}
	return names
}()

// namedParts are the values of --section, one a part.
func namedParts(c *cli.Context) (names []string) {
	for _, v := range c.StringSlice("section") {
		for name := range strings.SplitSeq(v, ",") {
			names = append(names, strings.TrimSpace(name))
		}
	}
	return names
}

// checkParts refuses a part or a language that there is not.
func checkParts(c *cli.Context) error {
	for _, name := range namedParts(c) {
		if !slices.Contains(sectionNames, name) {
			e := &usageError{text: fmt.Sprintf("no section %q", name), hint: "the sections are " + strings.Join(sectionNames, ", ")}
			if near := spelling.Nearest(name, sectionNames); near != "" {
				e.hint = "did you mean " + near + "? " + strings.ToUpper(e.hint[:1]) + e.hint[1:]
			}
			return e
		}
	}
	if l := c.String("lang"); c.IsSet("lang") && !slices.Contains(words.Languages, l) {
		return &usageError{text: fmt.Sprintf("no documents in %q", l), hint: "there is only " + strings.Join(words.Languages, ", ") + " yet"}
	}
	return nil
}

// partsOf are the parts asked for, in their order and each once; nil for all.
func partsOf(c *cli.Context) (parts []words.Section) {
	names := namedParts(c)
	for _, s := range words.Sections {
		if slices.Contains(names, string(s)) {
			parts = append(parts, s)
		}
	}
	return parts
}

func joinParts(parts []words.Section) string {
	names := make([]string, len(parts))
	for i, s := range parts {
		names[i] = string(s)
	}
	return strings.Join(names, ",")
}
