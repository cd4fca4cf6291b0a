package main

import (
	"github.com/urfave/cli/v2"

	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/study"
	"shelfspan/study/ledger"
	"shelfspan/study/schedule"
)

// statusCommand is shelfspan status.
func statusCommand() *cli.Command {
	return &cli.Command{
		Name:  "status",
		Usage: "what is planned, pulled, measured, missing and late, and the units that are left",
		UsageText: `shelfspan status
shelfspan status --study SB-25
shelfspan status --study SB-25 --as-of 2026-06-30`,
		Flags: []cli.Flag{
			ledgerFlag(), studiesFlag(),
			&cli.StringFlag{Name: "on", Usage: "as of a `DAY` other than today, as 2026-11-25"},
			asOfFlag(), formatFlag(),
		},
		Action: status,
	}
}

func status(c *cli.Context) error {
	if err := noArguments(c); err != nil {
		return err
	}
	at, err := asOf(c)
	if err != nil {
		return err
	}
	on, err := dayOption(c, "on")
	switch {
	case err != nil:
		return err
	case on == study.NoDate && at.HasDay:
		on = at.Day
	case on == study.NoDate && at.Event == 0:
		on = today()
	}
	l, err := openLedger(c)
	if err != nil {
		return err
	}
	defer l.Close()
	if on == study.NoDate {
		// What is late is so by the day of that event, not by today.
		if on, err = l.DayOf(c.Context, at.Event); err != nil {
			return err
		}
	}
	ids := c.StringSlice("study")
	if len(ids) == 0 {
		if ids, err = l.Studies(c.Context, at); err != nil {
			return err
		}
	}
	var studies []*schedule.Standing
	var inputs []study.Input
	for i, id := range ids {
		x, d, err := readStudy(c, l, id, at)
		if err != nil {
			return err
		}
		if i == 0 {
			warnOvertaken(c, x, at)
		}
		inputs = append(append(inputs, x.Protocol), d.Inputs...)
		studies = append(studies, schedule.Stand(x.Schedule, d, on))
	}
	switch c.String("format") {
	case formatJSON:
		return json.Write(c.App.Writer, json.NewStatus(json.NewAnswer(version, c.Command.Name, inputs, nil), on, studies))
	case formatCSV:
		for _, x := range studies {
			newPrinter(c.App.ErrWriter).Ledger(x.Dataset)
		}
		return csv.Status(c.App.Writer, studies)
	}
	p := newPrinter(c.App.Writer)
	if len(studies) == 0 {
		p.NoStudy(l.Name())
	} else {
		p.Status(on, studies)
	}
	return p.Err()
}

// readStudy reads a study and its results out of the ledger.
func readStudy(c *cli.Context, l *ledger.Ledger, id string, at ledger.AsOf) (*ledger.Record, *study.Dataset, error) {
	x, err := l.Study(c.Context, id, at)
	if err != nil {
		return nil, nil, err
	}
	d, err := x.Dataset()
	return x, d, err
}
