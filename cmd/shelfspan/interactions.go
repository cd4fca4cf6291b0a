package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/reports/text"
	"shelfspan/study"
)

func interactionsCommand() *cli.Command {
	return &cli.Command{
		Name:  "interactions",
		Usage: "which pack, orientation or ingredient harms the product, and how many months it costs",
		UsageText: `shelfspan interactions --study STUDY.toml --results RESULTS.csv [options]

Compares the rates of packs, orientations and ingredients with the control
or reference: how much faster, how surely, and how many months of the shelf
life that costs at the storage condition. --scale asks whether pilot and
production batches age like bench batches; --pairs which two ingredients do
more together than each alone.

   shelfspan interactions -s study.toml -r results.csv
   shelfspan interactions -s study.toml -r results.csv --against pack=tube --adjust tukey
   shelfspan interactions -s study.toml -r results.csv --against thickener=clay
   shelfspan interactions -s study.toml -r results.csv --scale --margin-months 2
   shelfspan interactions --ledger shelfspan.db --study SB-25 --format csv`,
		Flags: evaluationFlags(
			&cli.StringSliceFlag{Name: "condition", Usage: "only the condition `ID` (repeatable)"},
			&cli.StringSliceFlag{Name: "against", Usage: "compare with `FACTOR=LEVEL`: pack=tube, thickener=clay, scale=bench (repeatable)"},
			&cli.StringFlag{Name: "adjust", Usage: "allow for the number of comparisons by `METHOD`: dunnett, tukey, holm or none (default: dunnett)"},
			&cli.StringFlag{Name: "margin-months", Usage: "`MONTHS` of shelf life that may be lost and not matter (default: a tenth of the claim)"},
			&cli.BoolFlag{Name: "scale", Usage: "also compare bench, pilot and production batches for equivalence"},
			&cli.BoolFlag{Name: "pairs", Usage: "also compare pairs of ingredients with what each does alone"}),
		Action: func(c *cli.Context) error {
			e, inputs, err := evaluate(c, func(s *study.Study, o *analysis.Options) (err error) {
				if o.Conditions, err = pick(c, "condition", len(s.Conditions), func(i int) string { return s.Conditions[i].ID }); err != nil {
					return err
				}
				o.Interactions, err = interactionOptions(c, s)
				return err
			})
			if err != nil {
				return err
			}
			return answer(c, e, (*text.Printer).Interactions, csv.Interactions, func() any {
				return json.NewInteractions(json.NewAnswer(version, c.Command.Name, inputs, e.Warnings).From(e.Dataset), e)
			})
		},
	}
}

// adjustNames are the values of --adjust.
var adjustNames = []string{string(analysis.Dunnett), string(analysis.Tukey), string(analysis.Holm), string(analysis.None)}

func interactionOptions(c *cli.Context, s *study.Study) (analysis.InteractionOptions, error) {
	o := analysis.InteractionOptions{Wanted: true, Scale: c.Bool("scale"), Pairs: c.Bool("pairs"), Against: map[string]string{}}
	if v := c.String("adjust"); v != "" {
		if !slices.Contains(adjustNames, v) {
			return o, notKnown("way to adjust", v, adjustNames)
		}
		o.Adjust = analysis.Adjust(v)
	}
	if v := c.String("margin-months"); v != "" {
		x, err := strconv.ParseFloat(v, 64)
		if err != nil || !(x > 0 && x <= 1200) {
			return o, &usageError{text: fmt.Sprintf("--margin-months %s is no number of months", v), hint: "write it as --margin-months 2"}
		}
		o.MarginMonths = x
	}
	for _, v := range c.StringSlice("against") {
		factor, level, ok := strings.Cut(v, "=")
		if !ok {
			return o, &usageError{text: fmt.Sprintf("--against %s names no level", v), hint: "write it as --against pack=tube"}
		}
		known := levels(s, factor)
		if known == nil {
			return o, notKnown("factor", factor, comparedFactors(s))
		}
		if !slices.Contains(known, level) {
			return o, notKnown(factor, level, known)
		}
		o.Against[factor] = level
	}
	return o, nil
}

// comparedFactors lists what --against may name.
func comparedFactors(s *study.Study) []string {
	out := []string{analysis.FactorPack, analysis.FactorScale}
	for i := range s.Batches {
		for _, f := range s.Batches[i].Factors {
			if !slices.Contains(out, f.Name) {
				out = append(out, f.Name)
			}
		}
	}
	return out
}

// levels lists the levels of a factor; nil where the study has none.
func levels(s *study.Study, factor string) []string {
	var out []string
	add := func(level string) {
		if level != "" && !slices.Contains(out, level) {
			out = append(out, level)
		}
	}
	if factor == analysis.FactorPack {
		for i := range s.Packs {
			add(s.Packs[i].ID)
		}
	}
	for i := range s.Batches {
		if factor == analysis.FactorScale {
			add(s.Batches[i].Scale)
		}
		for _, f := range s.Batches[i].Factors {
			if f.Name == factor {
				add(f.Level)
			}
		}
	}
	return out
}
