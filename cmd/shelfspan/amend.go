package main

import (
	"github.com/urfave/cli/v2"

	"shelfspan/reports/json"
	"shelfspan/study"
	"shelfspan/study/ledger"
)

// amendCommand is shelfspan amend.
func amendCommand() *cli.Command {
	return &cli.Command{
		Name:      "amend",
		Usage:     "correct a result, or take it out of the analysis, with a reason",
		ArgsUsage: "RESULT-ID | --pull PULL-ID",
		UsageText: `shelfspan amend R4-806-viscosity-8 --value 29924 --reason "digits swapped, see notebook 12 p. 31"
shelfspan amend R4-806-viscosity-8 --exclude --reason "spindle slipped, investigation 7"
shelfspan amend R4-806-viscosity-8 --restore --reason "investigation 7 found no cause"
shelfspan amend R4-806-viscosity-8 --pulled 2026-08-03 --reason "day of the labels typed"
shelfspan amend --pull SB-25-25C60-18M --pulled 2026-08-03 --reason "month mistyped"
shelfspan amend R5-42-weight-loss-9 --tare 21.4 --reason "tare of the unit beside it"`,
		Description: `What stood before stays readable, and every report lists the change with its
reason. shelfspan results lists results with their ids.

A day or a tare is amended in the row that the result came with, and so for
all results of that row; a tare in all weighings of the unit, since it has
one; the day pulled in all readings of a pull that have neither unit nor
replicate. --pull amends a day in all rows of a pull, or of some arms of it.
The answer lists each result that is touched. What pull recorded is corrected
by pull --withdraw and another record.`,
		Flags: []cli.Flag{
			ledgerFlag(), byFlag(),
			&cli.StringFlag{Name: "value", Usage: "the right `VALUE`, as a results table has it"},
			&cli.StringFlag{Name: "pulled", Usage: "the right `DAY` of the pull, as 2026-08-03"},
			&cli.StringFlag{Name: "tested", Usage: "the right `DAY` of the test"},
			&cli.StringFlag{Name: "tare", Usage: "the right tare of the unit, in `G`"},
			&cli.StringFlag{Name: "pull", Usage: "with --pulled or --tested: all rows of the pull `ID`"},
			&cli.StringSliceFlag{Name: "arm", Usage: "with --pull: only this `ARM`, as the pull sheet names it: \"B1 tube upright\" (repeatable)"},
			&cli.BoolFlag{Name: "exclude", Usage: "take the result out of the analysis"},
			&cli.BoolFlag{Name: "restore", Usage: "put an excluded result back"},
			reasonFlag("why, `TEXT`"),
			plainFormatFlag(),
		},
		Action: changing(amend),
	}
}

func amend(c *cli.Context) error {
	q, err := amendRequest(c)
	if err != nil {
		return err
	}
	l, err := openLedger(c)
	if err != nil {
		return err
	}
	defer l.Close()
	out, err := l.Amend(c.Context, author(c), q)
	if err != nil {
		return err
	}
	warnClock(c, out.Behind)
	warn(c, out.Warnings)
	if c.String("format") == formatJSON {
		return json.Write(c.App.Writer, json.NewAmended(json.NewAnswer(version, c.Command.Name, nil, out.Warnings), out.Dataset.Study.ID, out.Changes))
	}
	p := newPrinter(c.App.Writer)
	p.Amended(out.Dataset, out.Changes)
	return p.Err()
}

// amendRequest reads what is to be amended.
func amendRequest(c *cli.Context) (q ledger.AmendRequest, err error) {
	q = ledger.AmendRequest{Pull: c.String("pull"), Arms: c.StringSlice("arm"), Exclude: c.Bool("exclude"), Restore: c.Bool("restore"), Reason: c.String("reason")}
	asked := 0
	for _, option := range []string{"exclude", "restore"} {
		if c.IsSet(option) {
			asked++
		}
	}
	for _, part := range []study.Part{study.PartValue, study.PartPulled, study.PartTested, study.PartTare} {
		if c.IsSet(string(part)) {
			asked++
			q.Part, q.Value = part, c.String(string(part))
		}
	}
	if asked != 1 || q.Part != "" && q.Value == "" {
		return q, &usageError{text: "amend takes one of --value VALUE, --pulled DAY, --tested DAY, --tare G, --exclude and --restore",
			hint: "a result that was never measured is excluded, not emptied"}
	}
	day := q.Part == study.PartPulled || q.Part == study.PartTested
	switch {
	case !c.IsSet("pull") && len(q.Arms) > 0:
		return q, &usageError{text: "--arm goes with --pull"}
	case !c.IsSet("pull"):
		q.ID, err = oneArgument(c, "the id of a result", "R4-806-viscosity-8; shelfspan results --study ID lists them")
	case !day:
		return q, &usageError{text: "--pull goes with --pulled or --tested", hint: "all else is amended result by result"}
	case q.Pull == "":
		return q, &usageError{text: "--pull takes the id of a pull", hint: "shelfspan status --study ID lists them"}
	case c.NArg() > 0:
		return q, &usageError{text: "amend takes the id of a result or --pull, not both"}
	}
	return q, err
}
