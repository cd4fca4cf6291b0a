package main

import (
	"github.com/urfave/cli/v2"

	"shelfspan/reports/json"
	"shelfspan/study/ledger"
)

// amendCommand is shelfspan amend.
func amendCommand() *cli.Command {
	return &cli.Command{
		Name:      "amend",
		Usage:     "correct a result, or take it out of the analysis, with a reason",
		ArgsUsage: "RESULT-ID",
		UsageText: `shelfspan amend R4-806-viscosity-8 --value 29924 --reason "digits swapped, see notebook 12 p. 31"
shelfspan amend R4-806-viscosity-8 --exclude --reason "spindle slipped, investigation 7"
shelfspan amend R4-806-viscosity-8 --restore --reason "investigation 7 found no cause"`,
		Description: `What stood before stays readable, and every report lists the change with its
reason. shelfspan results lists results with their ids.`,
		Flags: []cli.Flag{
			ledgerFlag(), byFlag(),
			&cli.StringFlag{Name: "value", Usage: "the right `VALUE`, as a results table has it"},
			&cli.BoolFlag{Name: "exclude", Usage: "take the result out of the analysis"},
			&cli.BoolFlag{Name: "restore", Usage: "put an excluded result back"},
			reasonFlag("why, `TEXT`"),
			plainFormatFlag(),
		},
		Action: changing(amend),
	}
}

func amend(c *cli.Context) error {
	id, err := oneArgument(c, "the id of a result", "R4-806-viscosity-8; shelfspan results --study ID lists them")
	if err != nil {
		return err
	}
	asked := 0
	for _, option := range []string{"value", "exclude", "restore"} {
		if c.IsSet(option) {
			asked++
		}
	}
	if asked != 1 || c.IsSet("value") && c.String("value") == "" {
		return &usageError{text: "amend takes one of --value VALUE, --exclude and --restore", hint: "a result that was never measured is excluded, not emptied"}
	}
	l, err := openLedger(c)
	if err != nil {
		return err
	}
	defer l.Close()
	out, err := l.Amend(c.Context, author(c), ledger.AmendRequest{
		ID: id, Value: c.String("value"), Exclude: c.Bool("exclude"), Restore: c.Bool("restore"), Reason: c.String("reason"),
	})
	if err != nil {
		return err
	}
	warnClock(c, out.Behind)
	if c.String("format") == formatJSON {
		return json.Write(c.App.Writer, json.NewAmended(json.NewAnswer(version, c.Command.Name, nil, nil), out.Dataset.Study.ID, &out.Change))
	}
	p := newPrinter(c.App.Writer)
	p.Amended(out.Dataset, &out.Change)
	return p.Err()
}
