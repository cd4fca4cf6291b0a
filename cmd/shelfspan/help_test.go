package main

import (
	"bytes"
	"context"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"shelfspan/study/unitid"
)

// Help keeps to the width of the terminal but for the examples, which are
// copied whole, and tells every option of a command.
func TestHelpKeepsTheWidth(t *testing.T) {
	for _, width := range []int{44, 60, 80} {
		t.Setenv("COLUMNS", strconv.Itoa(width))
		for _, c := range commands() {
			var out, errs bytes.Buffer
			if status := run(context.Background(), []string{"shelfspan", c.Name, "--help"}, strings.NewReader(""), &out, &errs); status != 0 || errs.Len() > 0 {
				t.Fatalf("%s: status %d, %s", c.Name, status, &errs)
			}
			for line := range strings.Lines(out.String()) {
				line = strings.TrimRight(line, "\n")
				if utf8.RuneCountInString(line) > width && !example.MatchString(line) {
					t.Errorf("%s in %d columns: %q", c.Name, width, line)
				}
			}
			for _, f := range c.Flags {
				if option := "--" + f.Names()[0]; !strings.Contains(out.String(), "\n   "+option) {
					t.Errorf("%s in %d columns does not tell %s", c.Name, width, option)
				}
			}
			if !strings.Contains(out.String(), "shelfspan "+c.Name+" ") {
				t.Errorf("%s has no example", c.Name)
			}
		}
	}
}

// What a command does is set in lines that fit 80 columns with their indent of three:
// one that is longer would be broken once more, and leave a word alone on a line.
func TestHelpIsBrokenOnce(t *testing.T) {
	for _, c := range commands() {
		for line := range strings.Lines(c.UsageText + "\n" + c.Description) {
			if line = strings.TrimRight(line, "\n"); utf8.RuneCountInString(line) > 77 && !example.MatchString("   "+line) {
				t.Errorf("%s: %q", c.Name, line)
			}
		}
	}
}

// The ids of results in help carry the check character that fits them.
func TestHelpNamesNoMistypedResult(t *testing.T) {
	n := 0
	for _, c := range commands() {
		for _, id := range regexp.MustCompile(`R[0-9]+-[0-9]+-[a-z-]+-[0-9A-Z]`).FindAllString(c.UsageText+c.Description, -1) {
			n++
			if body := id[:len(id)-2]; unitid.CheckCharacter(body) != id[len(id)-1] {
				t.Errorf("%s: %s ends in %c", c.Name, id, unitid.CheckCharacter(body))
			}
		}
	}
	if n == 0 {
		t.Error("no id of a result in any help")
	}
}

// By hand: options hang below their texts, and stand above them where there is
// no room for that.
func TestPrintHelp(t *testing.T) {
	const help = "OPTIONS:\n   --out DIR, -o DIR  also write tables and a calendar into DIR\n   --help, -h         show help\n"
	for width, want := range map[int]string{
		80: help,
		46: "OPTIONS:\n   --out DIR, -o DIR  also write tables and a\n                      calendar into DIR\n   --help, -h         show help\n",
		42: "OPTIONS:\n   --out DIR, -o DIR\n      also write tables and a calendar\n      into DIR\n   --help, -h         show help\n",
	} {
		var out bytes.Buffer
		printHelp(&out, help, width)
		if out.String() != want {
			t.Errorf("in %d columns:\n%s", width, &out)
		}
	}
}
