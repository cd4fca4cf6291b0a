package main

import (
	"fmt"
	"maps"
	"slices"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/calendar"
	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/study"
	"shelfspan/study/ledger"
	"shelfspan/study/schedule"
)

const formatICS = "ics"

// dueCommand is shelfspan due.
func dueCommand() *cli.Command {
	return &cli.Command{
		Name:  "due",
		Usage: "what is to be pulled: overdue, today and soon, over all studies",
		UsageText: `shelfspan due
shelfspan due --within 14D --chamber room
shelfspan due --study SB-25 --format ics > pulls.ics`,
		Description: `Lists the pulls of all registered studies that are planned and not wholly
recorded as made, by chamber, with their units and windows.`,
		Flags: []cli.Flag{
			ledgerFlag(), studiesFlag(),
			&cli.StringFlag{Name: "within", Value: "7D", Usage: "look ahead for a `TIME`: 10D, 2W, 3M"},
			&cli.StringFlag{Name: "on", Usage: "as of a `DAY` other than today, as 2026-11-25"},
			&cli.StringSliceFlag{Name: "chamber", Usage: "only the chamber `ID` (repeatable)"},
			formatFlag(formatICS),
		},
		Action: due,
	}
}

func due(c *cli.Context) error {
	if err := noArguments(c); err != nil {
		return err
	}
	within, err := study.ParseDuration(c.String("within"))
	if err == nil && within.Unit == study.Cycles {
		return &usageError{text: "--within takes no cycles", hint: "write 10D, 2W or 3M"}
	}
	if err != nil {
		return &usageError{text: "--within: " + err.Error()}
	}
	on, err := dayOption(c, "on")
	if err != nil {
		return err
	}
	if on == study.NoDate {
		on = today()
	}
	l, err := openLedger(c)
	if err != nil {
		return err
	}
	defer l.Close()
	list, err := l.Due(c.Context, within.AddTo(on, 0), c.StringSlice("study")...)
	if err != nil {
		return err
	}
	chambers := c.StringSlice("chamber")
	if len(chambers) > 0 {
		planned, err := l.Planned(c.Context, c.StringSlice("study")...)
		if err != nil {
			return err
		}
		known := chambersOf(planned)
		for _, id := range chambers {
			if !slices.Contains(known, id) {
				return unknownChamber(id, known)
			}
		}
		list = slices.DeleteFunc(list, func(d schedule.Due) bool { return !slices.Contains(chambers, d.Chamber) })
	}
	switch c.String("format") {
	case formatJSON:
		return json.Write(c.App.Writer, json.NewDue(json.NewAnswer(version, c.Command.Name, nil, nil), on, within.AddTo(on, 0), list))
	case formatCSV:
		return csv.Due(c.App.Writer, on, list)
	case formatICS:
		data, err := calendar.Due(list, now())
		if err != nil {
			return err
		}
		_, err = c.App.Writer.Write(data)
		return err
	}
	p := newPrinter(c.App.Writer)
	if len(list) == 0 {
		ids, err := l.Studies(c.Context, ledger.AsOf{})
		if err != nil {
			return err
		}
		if len(ids) == 0 {
			p.NoStudy(l.Name())
			return p.Err()
		}
	}
	p.Due(on, within, c.StringSlice("study"), chambers, list)
	return p.Err()
}

// chambersOf gives the chambers that pulls are made from, sorted.
func chambersOf(pulls []schedule.Due) []string {
	named := make(map[string]bool)
	for i := range pulls {
		if id := pulls[i].Chamber; id != "" {
			named[id] = true
		}
	}
	return slices.Sorted(maps.Keys(named))
}

// unknownChamber refuses a chamber that nothing is pulled from, which would else
// read as if there were nothing to pull.
func unknownChamber(id string, known []string) error {
	e := notKnown("chamber", id, known)
	if len(known) == 0 {
		e = &usageError{text: fmt.Sprintf("no chamber %q", id), hint: "no pull is planned from a chamber that has a name; leave --chamber out"}
	}
	return e
}
