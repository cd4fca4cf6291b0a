package main

import (
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/ledger"
)

// resultsCommand is shelfspan results.
func resultsCommand() *cli.Command {
	return &cli.Command{
		Name:  "results",
		Usage: "the results in the ledger, each with the id that amend takes",
		UsageText: `shelfspan results --study SB-25 --pull SB-25-25C60-3M
shelfspan results --study SB-25 --attribute viscosity --batch B1
shelfspan results --study SB-25 --format csv > results.csv`,
		Flags: []cli.Flag{
			ledgerFlag(),
			&cli.StringFlag{Name: "study", Aliases: []string{"s"}, Usage: "the study `ID` (default: the only one)"},
			&cli.StringFlag{Name: "pull", Usage: "only results of the pull `ID`"},
			&cli.StringSliceFlag{Name: "attribute", Aliases: []string{"a"}, Usage: "only the attribute `ID` (repeatable)"},
			&cli.StringSliceFlag{Name: "batch", Usage: "only the batch `ID` (repeatable)"},
			&cli.StringFlag{Name: "unit", Usage: "only the unit `LABEL`"},
			&cli.BoolFlag{Name: "changed", Usage: "only results that were amended, excluded or put back"},
			asOfFlag(), formatFlag(),
		},
		Action: results,
	}
}

func results(c *cli.Context) error {
	if err := noArguments(c); err != nil {
		return err
	}
	at, err := asOf(c)
	if err != nil {
		return err
	}
	l, err := openLedger(c)
	if err != nil {
		return err
	}
	defer l.Close()
	id, err := oneStudy(c, l, at)
	if err != nil {
		return err
	}
	x, err := l.Study(c.Context, id, at)
	if err != nil {
		return err
	}
	d, err := x.Dataset()
	if err != nil {
		return err
	}
	warnOvertaken(c, x, at)
	keep, err := chosenResults(c, x)
	if err != nil {
		return err
	}
	rows := slices.DeleteFunc(x.Rows(d), func(r study.ResultRow) bool { return !keep(&r) })
	for i := range rows {
		rows[i].State = words.ChangesOf(rows[i].Changes)
	}
	switch c.String("format") {
	case formatJSON:
		return json.Write(c.App.Writer, json.NewResults(json.NewAnswer(version, c.Command.Name, d.Inputs, nil).From(d), id, rows))
	case formatCSV:
		return csv.Results(c.App.Writer, rows)
	}
	p := newPrinter(c.App.Writer)
	p.Results(rows)
	return p.Err()
}

// chosenResults reads the options that choose results.
func chosenResults(c *cli.Context, x *ledger.Record) (func(*study.ResultRow) bool, error) {
	s := x.Study
	if _, err := pick(c, "attribute", len(s.Attributes), func(i int) string { return s.Attributes[i].ID }); err != nil {
		return nil, err
	}
	if _, err := pick(c, "batch", len(s.Batches), func(i int) string { return s.Batches[i].ID }); err != nil {
		return nil, err
	}
	condition, time := "", ""
	pullID := c.String("pull")
	if pullID != "" {
		var known []string
		found := false
		for i := range x.Schedule.Pulls {
			p := &x.Schedule.Pulls[i]
			known = append(known, p.ID)
			if strings.EqualFold(p.ID, pullID) {
				found, time = true, p.Time.String()
				if p.Condition >= 0 {
					condition = s.Conditions[p.Condition].ID
				}
			}
		}
		if !found {
			return nil, notKnown("pull", pullID, known)
		}
	}
	attributes, batches, unit := c.StringSlice("attribute"), c.StringSlice("batch"), c.String("unit")
	return func(r *study.ResultRow) bool {
		switch {
		case pullID != "" && (r.Time != time || time != "0" && r.Condition != condition),
			len(attributes) > 0 && !slices.Contains(attributes, r.Attribute),
			len(batches) > 0 && !slices.Contains(batches, r.Batch),
			unit != "" && !strings.EqualFold(unit, r.Unit),
			c.Bool("changed") && len(r.Changes) == 0:
			return false
		}
		return true
	}, nil
}
