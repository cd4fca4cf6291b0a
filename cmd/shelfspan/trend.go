package main

import (
	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/reports/text"
	"shelfspan/study"
)

func trendCommand() *cli.Command {
	return &cli.Command{
		Name:  "trend",
		Usage: "regression of each attribute over time, by condition",
		UsageText: `shelfspan trend --study STUDY.toml --results RESULTS.csv [options]

Fits each attribute over time at every condition, pack and orientation: the
batches pooled where the poolability tests of ICH Q1E allow it, with the time
at which mean and confidence limit meet the acceptance criterion.

   shelfspan trend -s study.toml -r results.csv
   shelfspan trend -s study.toml -r results.csv --attribute viscosity --condition 40C75
   shelfspan trend -s study.toml -r results.csv --format csv > trends.csv
   shelfspan trend --ledger shelfspan.db --study SB-25`,
		Flags: evaluationFlags(boundFlags(&cli.StringSliceFlag{Name: "condition", Usage: "only the condition `ID` (repeatable)"})...),
		Action: func(c *cli.Context) error {
			e, inputs, err := evaluate(c, func(s *study.Study, o *analysis.Options) (err error) {
				o.Trends = true
				o.Conditions, err = pick(c, "condition", len(s.Conditions), func(i int) string { return s.Conditions[i].ID })
				return err
			})
			if err != nil {
				return err
			}
			return answer(c, e, (*text.Printer).Trend, csv.Trend, func() any {
				return json.NewTrend(json.NewAnswer(version, c.Command.Name, inputs, e.Warnings).From(e.Dataset), e)
			})
		},
	}
}
