package main

import (
	"fmt"
	"strconv"
	"strings"
	"sync"

	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/analysis/arrhenius"
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

Fits all temperatures at once with one activation energy, checks that
against a rate for each condition, and predicts the life at the storage
temperature and at any other.

   shelfspan arrhenius -s study.toml -r results.csv
   shelfspan arrhenius -s study.toml -r results.csv --at 30 --at 5 --attribute assay
   shelfspan arrhenius -s study.toml -r results.csv --by-batch
   shelfspan arrhenius -s study.toml -r results.csv --bootstrap 2000
   shelfspan arrhenius -s study.toml -r results.csv --leave-out 45C --reason "the wax melts at 43 °C"
   shelfspan arrhenius --ledger shelfspan.db --study SB-25`,
		Flags: evaluationFlags(append(temperatureFlags(),
			&cli.BoolFlag{Name: "by-batch", Usage: "give each batch a rate of its own; the activation energy stays common"},
			&cli.StringFlag{Name: "bootstrap", Usage: "check the bounds on `N` made-up studies with the fit as their truth, 2000 say"},
			&cli.StringFlag{Name: "seed", Usage: "`NUMBER` that the made-up studies are drawn by (default: 1)"})...),
		Action: func(c *cli.Context) error {
			bar := newProgress(c)
			defer bar.end()
			e, inputs, err := evaluate(c, func(s *study.Study, o *analysis.Options) (err error) {
				o.ByBatch = c.Bool("by-batch")
				if o.Resampling, err = resampling(c, bar.count("made-up studies")); err != nil {
					return err
				}
				return setTemperatures(c, s, o)
			})
			bar.end()
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

const (
	leastStudies = 100    // fewer say nothing of a twentieth of them
	mostStudies  = 100000 // more take minutes and add no digit that is read
)

// resampling reads the options of the bootstrap; show, which may be nil, is told
// how many studies have been made.
func resampling(c *cli.Context, show func(int64)) (arrhenius.Resampling, error) {
	r := arrhenius.Resampling{Seed: 1}
	if v := c.String("seed"); v != "" {
		if c.String("bootstrap") == "" {
			return r, &usageError{text: "--seed is for made-up studies", hint: "ask for them with --bootstrap 2000"}
		}
		seed, err := strconv.ParseUint(v, 10, 64)
		if err != nil {
			return r, &usageError{text: fmt.Sprintf("--seed %s is no whole number from 0 on", v), hint: "write it as --seed 1"}
		}
		r.Seed = seed
	}
	if v := c.String("bootstrap"); v != "" {
		n, err := strconv.Atoi(v)
		if err != nil || n < leastStudies || n > mostStudies {
			return r, &usageError{text: fmt.Sprintf("--bootstrap %s is no number of studies from %d to %d", v, leastStudies, mostStudies), hint: "2000 are enough: write --bootstrap 2000"}
		}
		r.Studies = n
	}
	if show != nil {
		var made int64
		var lock sync.Mutex
		r.Made = func() {
			lock.Lock()
			defer lock.Unlock()
			made++
			show(made)
		}
	}
	return r, nil
}
