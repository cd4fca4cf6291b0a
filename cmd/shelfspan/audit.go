package main

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/reports/words"
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
shelfspan audit --subject R5-2-viscosity-E
shelfspan audit --file 5 --out lab-as-stored.csv
shelfspan audit --verify
shelfspan audit --verify --hash 3f9a61c07be2`,
		Description: `Lists the events, each with what stood before and after. --format csv and
json have every field of them. --file gives back the bytes of a file that an
event stored, after its SHA-256 was recomputed: a table as it was handed in,
or a version of a protocol, to be compared with another.

Every change is an event of a chain of SHA-256 hashes. --verify recomputes
the chain and the hash of every stored file, names the first event that does
not fit and ends with status 1. That the last events were cut off a chain
cannot show: --hash takes the hash that a report printed, and asks whether it
still stands in it. It is help for 21 CFR Part 11, EU Annex 11 and ALCOA+,
and no validated system by itself: the README says what it does and what not.`,
		Flags: []cli.Flag{
			ledgerFlag(), studiesFlag(),
			&cli.StringFlag{Name: "since", Usage: "only events recorded on or after a `DAY`, or from an event's number on"},
			&cli.StringFlag{Name: "until", Usage: "only events recorded on or before a `DAY`, or up to an event's number"},
			&cli.StringSliceFlag{Name: "kind", Usage: "only events of a `KIND`: " + strings.Join(kindNames(), ", ") + " (repeatable)"},
			&cli.StringFlag{Name: "by", Usage: "only events of `NAME`"},
			&cli.StringFlag{Name: "subject", Usage: "only events about an `ID`: of a result or a pull, or the name of a file"},
			&cli.StringFlag{Name: "file", Usage: "the bytes of the file that an `EVENT` stored, or of the one with a SHA-256, its first 12 digits or more"},
			outFlag("with --file: write them to a new `FILE` (default: to standard output)"),
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
	if c.IsSet("out") && !c.IsSet("file") {
		return &usageError{text: "--out goes with --file", hint: "a list of events is written as in shelfspan audit --format csv > events.csv"}
	}
	var f ledger.Filter
	var err error
	if f.Since, err = stateOption(c, "since"); err != nil {
		return err
	}
	if f.Until, err = stateOption(c, "until"); err != nil {
		return err
	}
	f.Studies, f.By, f.Subject = c.StringSlice("study"), c.String("by"), c.String("subject")
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
	switch {
	case c.Bool("verify"):
		return verify(c, l)
	case c.IsSet("file"):
		return storedFile(c, l)
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

// choosing are the options that choose events.
var choosing = []string{"study", "since", "until", "kind", "by", "subject"}

// storedFile writes the bytes of a stored file, over nothing that is there.
func storedFile(c *cli.Context, l *ledger.Ledger) error {
	for _, option := range append(choosing, "format") {
		if c.IsSet(option) {
			return &usageError{text: "--file gives one file as it is and takes no --" + option}
		}
	}
	f, err := l.StoredFile(c.Context, c.String("file"))
	if err != nil {
		return err
	}
	path := c.String("out")
	if path == "" || path == "-" {
		_, err := c.App.Writer.Write(f.Data)
		return err
	}
	switch former, err := readFormer(path); {
	case err != nil:
		return err
	case former != nil && !bytes.Equal(former, f.Data):
		return &hintedError{err: fmt.Errorf("%s is there already with other bytes and is not overwritten", path), hint: "name another file with --out"}
	case former == nil:
		if err := replaceFile(path, f.Data); err != nil {
			return err
		}
	}
	p := newPrinter(c.App.Writer)
	p.Paragraph(words.StoredFile(path, f.Name, f.SHA256, len(f.Data), &f.Event))
	return p.Err()
}

func verify(c *cli.Context, l *ledger.Ledger) error {
	for _, option := range append(choosing, "file") {
		if c.IsSet(option) {
			return &usageError{text: "--verify checks the whole ledger and takes no --" + option}
		}
	}
	if c.String("format") == formatCSV {
		return &usageError{text: "--verify answers in text or json", hint: "shelfspan audit --format csv writes the events themselves"}
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
