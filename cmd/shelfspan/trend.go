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
   shelfspan trend -s study.toml -r results.csv --attribute viscosity --chart
   shelfspan trend -s study.toml -r results.csv --format csv > trends.csv
   shelfspan trend --ledger shelfspan.db --study SB-25`,
		Flags: evaluationFlags(boundFlags(&cli.StringSliceFlag{Name: "condition", Usage: "only the condition `ID` (repeatable)"},
			&cli.BoolFlag{Name: "chart", Usage: "also draw each analysis, in lines of text"},
			&cli.BoolFlag{Name: "plain", Usage: "with --chart: draw in ASCII"})...),
		Action: func(c *cli.Context) error {
			draw, err := charts(c)
			if err != nil {
				return err
			}
			e, inputs, err := evaluate(c, func(s *study.Study, o *analysis.Options) (err error) {
				o.Trends = true
				o.Conditions, err = pick(c, "condition", len(s.Conditions), func(i int) string { return s.Conditions[i].ID })
				return err
			})
			if err != nil {
				return err
			}
			return answer(c, e, func(p *text.Printer, e *analysis.Evaluation) {
				p.Trend(e)
				draw(p, e)
			}, csv.Trend, func() any {
				return json.NewTrend(json.NewAnswer(version, c.Command.Name, inputs, e.Warnings).From(e.Dataset), e)
			})
		},
	}
}

// charts reads --chart and --plain.
func charts(c *cli.Context) (func(*text.Printer, *analysis.Evaluation), error) {
	switch {
	case c.Bool("plain") && !c.Bool("chart"):
		return nil, &usageError{text: "--plain is for charts", hint: "ask for them with --chart"}
	case c.Bool("chart") && c.String("format") != formatText:
		return nil, &usageError{text: "--chart goes with --format text", hint: "report --out DIR has charts, and the numbers as tables"}
	case c.Bool("plain"):
		return func(p *text.Printer, e *analysis.Evaluation) { p.Charts(e, text.Plain) }, nil
	case c.Bool("chart"):
		return func(p *text.Printer, e *analysis.Evaluation) { p.Charts(e, text.Unicode) }, nil
	}
	return func(*text.Printer, *analysis.Evaluation) {}, nil
}
