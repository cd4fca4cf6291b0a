package main

import (
	"fmt"
	"io"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/json"
	"shelfspan/study"
	"shelfspan/study/ledger"
	"shelfspan/study/protocol"
)

// registerCommand is shelfspan register.
func registerCommand() *cli.Command {
	return &cli.Command{
		Name:      "register",
		Usage:     "take a study file into the lab's ledger, or the next version of its protocol",
		ArgsUsage: "STUDY.toml",
		UsageText: `shelfspan register study.toml
shelfspan register study.toml --reason "24M pull added at 30C65, request of 12 May"
shelfspan register study.toml --ledger postgres://lab@server/stability --by "A. Technician"`,
		Description: `The ledger is made where there is none. A study file that has changed
becomes the next version of the protocol and needs a reason; the earlier
versions stay readable, and pulls already made stay as they are. A change
that would make results unreadable which were taken in is refused.
--prepare only makes the tables: for the owner of a PostgreSQL database,
whose users then need no more than to read and insert.`,
		Flags: []cli.Flag{
			ledgerFlag(), byFlag(),
			reasonFlag("why the protocol changes, `TEXT`; needed from the second version on"),
			&cli.BoolFlag{Name: "prepare", Usage: "make the tables of the ledger and take in no study"},
			plainFormatFlag(),
		},
		Action: changing(register),
	}
}

func register(c *cli.Context) error {
	if c.Bool("prepare") {
		if err := noArguments(c); err != nil {
			return err
		}
		l, err := ledger.Create(c.Context, c.String("ledger"))
		if err != nil {
			return err
		}
		defer l.Close()
		_, err = fmt.Fprintf(c.App.Writer, "the ledger %s is ready\n", l.Name())
		return err
	}
	path, err := oneArgument(c, "a study file", "STUDY.toml")
	if err != nil {
		return err
	}
	in, name, err := openInput(c, path)
	if err != nil {
		return err
	}
	defer in.Close()
	data, err := io.ReadAll(io.LimitReader(in, protocol.MaxBytes+1)) // the one byte more is refused by Register
	if err != nil {
		return inputFault(name, err)
	}
	// What is wrong with the file is told before a ledger is made for it.
	if _, err := protocol.Read(name, data); err != nil {
		return err
	}
	l, err := ledger.Create(c.Context, c.String("ledger"))
	if err != nil {
		return err
	}
	defer l.Close()
	out, err := l.Register(c.Context, author(c), filepath.Base(name), data, c.String("reason"))
	if err != nil {
		return err
	}
	warnClock(c, out.Behind)
	if c.String("format") == formatJSON {
		head := json.NewAnswer(version, c.Command.Name, []study.Input{{Path: path, SHA256: out.Event.File}}, json.PlanWarnings(out.Schedule))
		return json.Write(c.App.Writer, json.NewRegistered(head, out.Study.ID, &out.Registration))
	}
	p := newPrinter(c.App.Writer)
	p.Registered(out.Schedule, &out.Registration)
	warn(c, out.Schedule.Warnings)
	return p.Err()
}
