package main

import (
	"cmp"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/user"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/ledger"
)

// now is the clock that changes are recorded by. Tests set it; a user cannot.
var now = time.Now

const (
	// ledgerFile is the ledger where none is named.
	ledgerFile = "shelfspan.db"
	// ledgerVariable names the ledger in the environment.
	ledgerVariable = "SHELFSPAN_LEDGER"
)

// ledgerFlag is --ledger, -l of the commands that live in the ledger.
func ledgerFlag() *cli.StringFlag {
	return &cli.StringFlag{
		Name: "ledger", Aliases: []string{"l"}, Value: ledgerFile, EnvVars: []string{ledgerVariable},
		Usage: "the lab's ledger: a `FILE`, or postgres://user@host/database",
	}
}

// byFlag is --by: who makes the change.
func byFlag() *cli.StringFlag {
	return &cli.StringFlag{Name: "by", Usage: "`NAME` of who does this (default: the login name)"}
}

// reasonFlag is --reason.
func reasonFlag(usage string) *cli.StringFlag {
	return &cli.StringFlag{Name: "reason", Usage: usage}
}

// studiesFlag is --study of the commands that look at one study or at all.
func studiesFlag() *cli.StringSliceFlag {
	return &cli.StringSliceFlag{Name: "study", Aliases: []string{"s"}, Usage: "only the study `ID` (repeatable)"}
}

// openLedger opens the ledger of --ledger, which must be there.
func openLedger(c *cli.Context) (*ledger.Ledger, error) {
	return ledger.Open(c.Context, c.String("ledger"))
}

// ledgerOption is what the next command needs to find the same ledger: the option
// where it was given, with a blank before it, and nothing where the default or the
// variable says it.
func ledgerOption(c *cli.Context) string {
	name := c.String("ledger")
	if name == cmp.Or(os.Getenv(ledgerVariable), ledgerFile) {
		return ""
	}
	if at, err := url.Parse(name); err == nil && at.User != nil {
		if _, secret := at.User.Password(); secret {
			return "" // it is not repeated
		}
	}
	return " --ledger " + shellWord(name)
}

// author gives who is at the keyboard, and the time.
func author(c *cli.Context) ledger.Author {
	by, login := strings.TrimSpace(c.String("by")), loginName()
	if by == "" && !c.IsSet("by") {
		by = login
	}
	return ledger.Author{By: by, Now: now(), Account: login}
}

// loginName gives the name this machine knows the user by; empty where it knows
// none.
func loginName() string {
	if u, err := user.Current(); err == nil && u.Username != "" {
		return u.Username
	}
	for _, name := range []string{"USER", "LOGNAME", "USERNAME"} {
		if v := os.Getenv(name); v != "" {
			return v
		}
	}
	return ""
}

// today is the day on this machine's clock.
func today() study.Date {
	t := now()
	return study.NewDate(t.Year(), t.Month(), t.Day())
}

// dayOption reads an option that takes a day.
func dayOption(c *cli.Context, option string) (study.Date, error) {
	v := c.String(option)
	if v == "" {
		return study.NoDate, nil
	}
	d, err := study.ParseDate(v)
	if err != nil {
		return d, &usageError{text: "--" + option + ": " + err.Error(), hint: "write a day as 2026-11-25"}
	}
	return d, nil
}

// changing is a command that changes the ledger: a refusal says that it did not.
func changing(action cli.ActionFunc) cli.ActionFunc {
	return func(c *cli.Context) error {
		err := action(c)
		var refusal *ledger.Refusal
		if errors.As(err, &refusal) {
			return &ledger.Refusal{Text: refusal.Text + "; nothing was changed", Hint: refusal.Hint}
		}
		return err
	}
}

// oneArgument gives the one argument a command takes.
func oneArgument(c *cli.Context, what, example string) (string, error) {
	switch c.Args().Len() {
	case 0:
		return "", &usageError{text: fmt.Sprintf("%s needs %s", c.Command.Name, what), hint: "as shelfspan " + c.Command.Name + " " + example}
	case 1:
		return c.Args().First(), nil
	}
	return "", &usageError{
		text: fmt.Sprintf("%s takes one argument, and %q is a second", c.Command.Name, c.Args().Get(1)),
		hint: "a text with spaces stands in quotes",
	}
}

// oneStudy gives the study of --study, or the only one of the ledger at a state.
func oneStudy(c *cli.Context, l *ledger.Ledger, at ledger.AsOf) (string, error) {
	if id := c.String("study"); id != "" {
		return id, nil
	}
	ids, err := l.Studies(c.Context, at)
	if err != nil {
		return "", err
	}
	if len(ids) == 1 {
		return ids[0], nil
	}
	hint := "shelfspan register STUDY.toml takes one in"
	if len(ids) > 0 {
		hint = "the ledger has " + strings.Join(ids[:min(len(ids), 12)], ", ")
		if len(ids) > 12 {
			hint += fmt.Sprintf(" and %d more", len(ids)-12)
		}
	}
	return "", &usageError{text: c.Command.Name + " needs --study ID", hint: hint}
}

// warnClock says that this machine's clock is behind the ledger's.
func warnClock(c *cli.Context, behind bool) {
	if behind {
		newPrinter(c.App.ErrWriter).Paragraph("warning: this machine's clock is behind the last event of the ledger; the order of the events holds, but is the clock right?")
	}
}

// warnOvertaken says that a state asked for by its day leaves out an event that is
// dated so.
func warnOvertaken(c *cli.Context, x *ledger.Record, at ledger.AsOf) {
	if len(x.Overtaken) == 2 {
		newPrinter(c.App.ErrWriter).Paragraph("warning: " + words.Overtaken(at.Day, &x.Overtaken[0], &x.Overtaken[1]))
	}
}

// asOfFlag is --as-of: a state of the ledger before the last.
func asOfFlag() *cli.StringFlag {
	return &cli.StringFlag{Name: "as-of", Usage: "with what stood in the ledger on a `DAY`, or up to an event's number"}
}

// asOf reads --as-of.
func asOf(c *cli.Context) (ledger.AsOf, error) { return stateOption(c, "as-of") }

// stateOption reads an option that takes a day or the number of an event.
func stateOption(c *cli.Context, option string) (ledger.AsOf, error) {
	v := c.String(option)
	if v == "" {
		return ledger.AsOf{}, nil
	}
	at, err := ledger.ParseAsOf(v)
	if err != nil {
		return at, &usageError{text: "--" + option + ": " + err.Error(), hint: "write a day, as 2026-11-25, or the number of an event, as shelfspan audit lists them"}
	}
	return at, nil
}
