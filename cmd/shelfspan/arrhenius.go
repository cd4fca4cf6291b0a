package main

import (
	"fmt"
	"strconv"

	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/study"
)

func arrheniusCommand() *cli.Command {
	return &cli.Command{
		Name:  "arrhenius",
		Usage: "what the temperatures say together: activation energy, predicted life at storage temperature",
		UsageText: `shelfspan arrhenius --study STUDY.toml --results RESULTS.csv [options]

Fits all temperatures at once with one activation energy, checks that against
a rate for each condition, and predicts the life at the storage temperature and
at any other.

   shelfspan arrhenius -s study.toml -r results.csv
   shelfspan arrhenius -s study.toml -r results.csv --at 30 --at 5 --attribute assay`,
		Flags: evaluationFlags(
			&cli.StringSliceFlag{Name: "at", Usage: "also predict the life at `CELSIUS` (repeatable)"},
		),
		Action: func(c *cli.Context) error {
			e, inputs, err := evaluate(c, func(_ *study.Study, o *analysis.Options) error {
				o.Arrhenius = true
				for _, v := range c.StringSlice("at") {
					x, err := strconv.ParseFloat(v, 64)
					if err != nil || !(x > -100 && x < 200) {
						return &usageError{text: fmt.Sprintf("--at %s is no storage temperature", v), hint: "give it in °C, as --at 30"}
					}
					o.At = append(o.At, x)
				}
				return nil
			})
			if err != nil {
				return err
			}
			switch c.String("format") {
			case formatJSON:
				return json.Write(c.App.Writer, json.NewArrhenius(json.NewAnswer(version, "arrhenius", inputs, e.Warnings), e))
			case formatCSV:
				warn(c, e.Warnings)
				return csv.Arrhenius(c.App.Writer, e)
			}
			p := newPrinter(c.App.Writer)
			p.Arrhenius(e)
			warn(c, e.Warnings)
			return p.Err()
		},
	}
}
