package main

import (
	"strconv"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/json"
	"shelfspan/study/ledger"
)

// pullCommand is shelfspan pull.
func pullCommand() *cli.Command {
	return &cli.Command{
		Name:      "pull",
		Usage:     "record that samples were taken from storage, in full or in part",
		ArgsUsage: "PULL-ID",
		UsageText: `shelfspan pull SB-25-25C60-3M
shelfspan pull SB-25-25C60-3M --date 2025-05-05 --note "chamber opened 9:10 to 9:25"
shelfspan pull SB-25-25C60-3M --arm "B1 tube" --units 1 --reason "one tube leaked"
shelfspan pull SB-25-25C60-3M --date 2025-05-19 --reason "holiday closure"
shelfspan pull SB-25-25C60-3M --withdraw --reason "recorded for the wrong chamber"`,
		Description: `Without more, all that is still to be taken of the pull was taken today. A
day outside the window, more units than planned, and a pull that ends with
less need a reason, and are kept and reported as deviations.`,
		Flags: []cli.Flag{
			ledgerFlag(), byFlag(),
			&cli.StringFlag{Name: "date", Usage: "the `DAY` it was really made (default: today)"},
			&cli.StringSliceFlag{Name: "arm", Usage: "only this `ARM`, as the pull sheet names it: \"B1 tube upright\" (repeatable)"},
			&cli.StringFlag{Name: "units", Usage: "`N` units opened (default: those planned)"},
			&cli.BoolFlag{Name: "final", Usage: "nothing more will be taken of this pull; needs a reason"},
			reasonFlag("why it departs from the plan, `TEXT`"),
			&cli.StringFlag{Name: "note", Usage: "what is worth remembering, `TEXT`"},
			&cli.BoolFlag{Name: "withdraw", Usage: "the records of this pull were in error; they stay readable"},
			plainFormatFlag(),
		},
		Action: changing(pull),
	}
}

func pull(c *cli.Context) error {
	id, err := oneArgument(c, "the id of a pull", "SB-25-25C60-3M; shelfspan due lists them")
	if err != nil {
		return err
	}
	q := ledger.PullRequest{Pull: id, Arms: c.StringSlice("arm"), Final: c.Bool("final"), Reason: c.String("reason"), Note: c.String("note")}
	if q.Day, err = dayOption(c, "date"); err != nil {
		return err
	}
	if v := c.String("units"); v != "" {
		n, err := strconv.Atoi(v)
		if err != nil || n < 0 {
			return &usageError{text: "--units " + v + " is no number of units"}
		}
		q.Units = &n
	}
	if c.Bool("withdraw") {
		for _, other := range []string{"date", "arm", "units", "final", "note"} {
			if c.IsSet(other) {
				return &usageError{text: "--withdraw goes with --reason alone, not with --" + other}
			}
		}
	}
	l, err := openLedger(c)
	if err != nil {
		return err
	}
	defer l.Close()
	var out *ledger.PullOutcome
	if c.Bool("withdraw") {
		out, err = l.WithdrawPull(c.Context, author(c), id, q.Reason)
	} else {
		out, err = l.Pull(c.Context, author(c), q)
	}
	if err != nil {
		return err
	}
	warnClock(c, out.Behind)
	if c.String("format") == formatJSON {
		return json.Write(c.App.Writer, json.NewPulled(json.NewAnswer(version, c.Command.Name, nil, nil), out.Study.ID, &out.Record, out.Units, out.Returned))
	}
	p := newPrinter(c.App.Writer)
	p.Pulled(out.Study, &out.Record, out.Units, out.Returned, ledgerOption(c))
	return p.Err()
}
