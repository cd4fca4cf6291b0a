package main

import (
	"errors"
	"io"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/json"
	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/ledger"
)

// intakeCommand is shelfspan intake.
func intakeCommand() *cli.Command {
	return &cli.Command{
		Name:      "intake",
		Usage:     "take results into the ledger: filled worksheets or any results table",
		ArgsUsage: "FILE.csv …",
		UsageText: `shelfspan intake SB-25-25C60-3M.csv --study SB-25
shelfspan intake lab.csv weighings.csv --study SB-25 --by "A. Technician"`,
		Description: `All of the files are taken in, or nothing. A file that was taken in before is
recognised by its bytes, and results that are there already with the same
value are passed over, so a table that grows can be handed in each month. A
result that is there with another value is refused: amend changes it.`,
		Flags: []cli.Flag{
			ledgerFlag(), byFlag(),
			&cli.StringFlag{Name: "study", Aliases: []string{"s"}, Usage: "the study `ID` the results belong to (default: the only one)"},
			plainFormatFlag(),
		},
		Action: changing(takeIn),
	}
}

func takeIn(c *cli.Context) error {
	if !c.Args().Present() {
		return &usageError{text: "intake needs a results table", hint: "as shelfspan intake FILE.csv --study ID; shelfspan worksheet PULL-ID writes one to fill in"}
	}
	var files []ledger.File
	var unopened finding.Faults
	bar := newProgress(c)
	defer bar.end()
	for _, path := range c.Args().Slice() {
		in, name, err := openInput(c, path)
		if err != nil {
			var faults *finding.Faults
			if !errors.As(err, &faults) {
				return err
			}
			unopened.List, unopened.Hint = append(unopened.List, faults.List...), faults.Hint
			continue
		}
		data, err := io.ReadAll(bar.watch(in))
		in.Close()
		if err != nil {
			return inputFault(name, err)
		}
		files = append(files, ledger.File{Name: filepath.Base(name), Data: data})
	}
	if len(unopened.List) > 0 {
		return &unopened
	}
	l, err := openLedger(c)
	if err != nil {
		return err
	}
	defer l.Close()
	id, err := oneStudy(c, l, ledger.AsOf{})
	if err != nil {
		return err
	}
	out, err := l.TakeIn(c.Context, author(c), id, files...)
	if err != nil {
		return err
	}
	warnClock(c, out.Behind)
	inputs := make([]study.Input, 0, len(out.Tables))
	for _, t := range out.Tables {
		inputs = append(inputs, study.Input{Path: t.File, SHA256: t.SHA256, Rows: t.Rows})
	}
	if c.String("format") == formatJSON {
		return json.Write(c.App.Writer, json.NewTakenIn(json.NewAnswer(version, c.Command.Name, inputs, out.Warnings), id, out.Tables))
	}
	p := newPrinter(c.App.Writer)
	p.TakenIn(out.Study, out.Tables)
	warn(c, out.Warnings)
	return p.Err()
}
