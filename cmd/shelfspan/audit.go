package main

import (
	"errors"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/study"
	"shelfspan/study/ledger"
)

// errUnsound ends a verification that found something.
var errUnsound = errors.New("the ledger is not as it was written")

// auditCommand is shelfspan audit.
func auditCommand() *cli.Command {
	return &cli.Command{
		Name:  "audit",
		Usage: "who did what, when and why; with --verify, whether all of it still is as it was written",
		UsageText: `shelfspan audit --since 2026-11-01
shelfspan audit --study SB-25 --kind amend --kind exclude --format csv > changes.csv
shelfspan audit --verify
shelfspan audit --verify --hash 3f9a61c07be2`,
		Description: `Every change is an event of a chain of SHA-256 hashes. --verify recomputes the
chain and the hash of every stored file, names the first event that does not
fit and ends with status 1. That the last events were cut off a chain cannot
show: --hash takes the hash that a report printed, and asks whether it still
stands in it. It is help for 21 CFR Part 11, EU Annex 11 and ALCOA+, and no
validated system by itself.`,
		Flags: []cli.Flag{
			ledgerFlag(), studiesFlag(),
			&cli.StringFlag{Name: "since", Usage: "only events recorded on or after a `DAY`"},
			&cli.StringFlag{Name: "until", Usage: "only events recorded on or before a `DAY`"},
			&cli.StringSliceFlag{Name: "kind", Usage: "only events of a `KIND`: " + strings.Join(kindNames(), ", ") + " (repeatable)"},
			&cli.StringFlag{Name: "by", Usage: "only events of `NAME`"},
			&cli.BoolFlag{Name: "verify", Usage: "check the whole ledger"},
			&cli.StringFlag{Name: "hash", Usage: "with --verify: a `HASH` noted earlier, its first 12 digits or more"},
			formatFlag(),
		},
		Action: audit,
	}
}

func kindNames() []string {
	var out []string
	for _, k := range study.EventKinds() {
		out = append(out, string(k))
	}
	return out
}

func audit(c *cli.Context) error {
	if err := noArguments(c); err != nil {
		return err
	}
	if c.IsSet("hash") && !c.Bool("verify") {
		return &usageError{text: "--hash goes with --verify"}
	}
	var f ledger.Filter
	var err error
	if f.Since, err = dayOption(c, "since"); err != nil {
		return err
	}
	if f.Until, err = dayOption(c, "until"); err != nil {
		return err
	}
	f.Studies, f.By = c.StringSlice("study"), c.String("by")
	for _, k := range c.StringSlice("kind") {
		if !slices.Contains(kindNames(), k) {
			return notKnown("kind of event", k, kindNames())
		}
		f.Kinds = append(f.Kinds, study.EventKind(k))
	}
	l, err := openLedger(c)
	if err != nil {
		return err
	}
	defer l.Close()
	if c.Bool("verify") {
		return verify(c, l)
	}
	events, err := l.Events(c.Context, f)
	if err != nil {
		return err
	}
	switch c.String("format") {
	case formatJSON:
		return json.Write(c.App.Writer, json.NewAudit(json.NewAnswer(version, c.Command.Name, nil, nil), l.Name(), events))
	case formatCSV:
		return csv.Events(c.App.Writer, events)
	}
	p := newPrinter(c.App.Writer)
	p.Audit(events)
	return p.Err()
}

func verify(c *cli.Context, l *ledger.Ledger) error {
	for _, option := range []string{"study", "since", "until", "kind", "by"} {
		if c.IsSet(option) {
			return &usageError{text: "--verify checks the whole ledger and takes no --" + option}
		}
	}
	bar := newProgress(c)
	defer bar.end()
	v, err := l.Verify(c.Context, c.String("hash"), bar.count("checking events"))
	bar.end()
	if err != nil {
		return err
	}
	if c.String("format") == formatJSON {
		err = json.Write(c.App.Writer, json.NewVerified(json.NewAnswer(version, c.Command.Name, nil, nil), v))
	} else {
		p := newPrinter(c.App.Writer)
		p.Verified(v)
		err = p.Err()
	}
	if err == nil && len(v.Faults) > 0 {
		return &hintedError{err: errUnsound, hint: "keep a copy of it as it is, and compare it with the last backup"}
	}
	return err
}
