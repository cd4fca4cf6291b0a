package main

import (
	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/reports/text"
	"shelfspan/study"
)

func shelfLifeCommand() *cli.Command {
	return &cli.Command{
		Name:  "shelf-life",
		Usage: "the shelf life the data support, with bounds, poolability and the limits of extrapolation",
		UsageText: `shelfspan shelf-life --study STUDY.toml --results RESULTS.csv [options]

States the shelf life that the data at the storage condition support, which
attribute and pack limit it and by which rule, and whether it meets the
claim. Every attribute, pack and orientation is evaluated side by side.

   shelfspan shelf-life -s study.toml -r results.csv
   shelfspan shelf-life -s study.toml -r lab.csv -r weighings.csv --format json
   shelfspan shelf-life -s study.toml -r results.csv --require-claim && echo supported
   shelfspan shelf-life --ledger shelfspan.db --study SB-25`,
		Flags: evaluationFlags(boundFlags(&cli.BoolFlag{Name: "require-claim", Usage: "exit with status 4 where the data do not support the claim"})...),
		Action: func(c *cli.Context) error {
			e, inputs, err := evaluate(c, func(s *study.Study, o *analysis.Options) error {
				o.Supported = true
				if c.Bool("require-claim") && s.Claim.IsZero() {
					return &usageError{text: "--require-claim needs a claim, and the study states none", hint: `write claim = "24M" into [study]`}
				}
				return nil
			})
			if err != nil {
				return err
			}
			err = answer(c, e, (*text.Printer).ShelfLife, csv.ShelfLife, func() any {
				return json.NewShelfLife(json.NewAnswer(version, c.Command.Name, inputs, e.Warnings).From(e.Dataset), e)
			})
			if err == nil && c.Bool("require-claim") && (e.Supported == nil || !e.Supported.MeetsClaim) {
				return errUnsupported
			}
			return err
		},
	}
}
