package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/reports/text"
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
   shelfspan arrhenius -s study.toml -r results.csv --at 30 --at 5 --attribute assay
   shelfspan arrhenius -s study.toml -r results.csv --by-batch
   shelfspan arrhenius -s study.toml -r results.csv --leave-out 45C --reason "the wax melts at 43 °C"
   shelfspan arrhenius --ledger shelfspan.db --study SB-25`,
		Flags: evaluationFlags(append(temperatureFlags(),
			&cli.BoolFlag{Name: "by-batch", Usage: "give each batch a rate of its own; the activation energy stays common"})...),
		Action: func(c *cli.Context) error {
			e, inputs, err := evaluate(c, func(s *study.Study, o *analysis.Options) error {
				o.ByBatch = c.Bool("by-batch")
				return setTemperatures(c, s, o)
			})
			if err != nil {
				return err
			}
			return answer(c, e, (*text.Printer).Arrhenius, csv.Arrhenius, func() any {
				return json.NewArrhenius(json.NewAnswer(version, c.Command.Name, inputs, e.Warnings).From(e.Dataset), e)
			})
		},
	}
}

// temperatureFlags are the options of a fit over temperatures.
func temperatureFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringSliceFlag{Name: "at", Usage: "also predict the life at `CELSIUS` (repeatable)"},
		&cli.StringSliceFlag{Name: "leave-out", Usage: "fit the temperatures without the condition `ID` (repeatable; needs --reason)"},
		&cli.StringFlag{Name: "reason", Usage: "why a condition is left out, in `TEXT` that stands beside the answer"},
	}
}

// setTemperatures asks for a fit over temperatures and reads its options.
func setTemperatures(c *cli.Context, s *study.Study, o *analysis.Options) error {
	o.Arrhenius = true
	for _, v := range c.StringSlice("at") {
		x, err := strconv.ParseFloat(v, 64)
		if err != nil || !(x > -100 && x < 200) {
			return &usageError{text: fmt.Sprintf("--at %s is no storage temperature", v), hint: "give it in °C, as --at 30"}
		}
		o.At = append(o.At, x)
	}
	var err error
	if o.LeaveOut, err = pick(c, "leave-out", len(s.Conditions), func(i int) string { return s.Conditions[i].ID }); err != nil {
		return err
	}
	o.Reason = strings.TrimSuffix(strings.TrimSpace(c.String("reason")), ".")
	switch {
	case len(o.LeaveOut) > 0 && o.Reason == "":
		return &usageError{text: "--leave-out needs a reason", hint: `add --reason "why", which will stand beside the answer`}
	case len(o.LeaveOut) == 0 && o.Reason != "":
		return &usageError{text: "--reason is for a condition left out", hint: "name the condition with --leave-out ID"}
	}
	return nil
}
