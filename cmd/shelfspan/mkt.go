package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/analysis/arrhenius"
	"shelfspan/analysis/climate"
	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/lane"
	"shelfspan/study/logger"
)

func mktCommand() *cli.Command {
	study := studyFlag()
	study.Usage = "also say what the history does to the product, by the study `FILE` and its --results; with --ledger the study's id"
	return &cli.Command{
		Name:  "mkt",
		Usage: "mean kinetic temperature of a temperature log, and what an excursion cost",
		UsageText: `shelfspan mkt LOG.csv [--limit CELSIUS] [--low CELSIUS] [options]

Reads what a temperature logger wrote, of any length, and gives its mean
kinetic temperature, the time outside the limits and each excursion, which
--format csv lists. With a study and its results it says what share of each
predicted life the history uses, at most, and what is left. --lane does so
for legs that are planned, or for the months of a climate, alone or after
the log.

   shelfspan mkt log.csv
   shelfspan mkt log.csv --limit 25 --low 2 --format csv > excursions.csv
   shelfspan mkt log.csv --limit 77F --unit F --dates month-first
   shelfspan mkt log.csv --limit 25 -s study.toml -r results.csv --attribute assay
   shelfspan mkt --lane lane.csv -s study.toml -r results.csv
   shelfspan mkt log.csv --ledger shelfspan.db --study SB-25

A lane is a CSV: leg,celsius,duration or month,celsius; instead of celsius,
low and high where the temperature swings between them every day. Durations
are 36H, 10D, 2W, 3M, 1Y.`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "limit", Usage: "count the time above `CELSIUS` (77F is understood)"},
			&cli.StringFlag{Name: "low", Usage: "count the time below `CELSIUS`"},
			&cli.StringFlag{Name: "lane", TakesFile: true, Usage: "a lane, CSV `FILE`: legs of temperature and duration, or a climate by month"},
			study, resultsFlag(),
			&cli.StringFlag{Name: "ledger", Aliases: []string{"l"}, Usage: "take the study and its results from the lab's `LEDGER`; --study is its id"},
			asOfFlag(), formatFlag(),
			&cli.StringSliceFlag{Name: "attribute", Aliases: []string{"a"}, Usage: "only the attribute `ID` (repeatable)"},
			&cli.StringSliceFlag{Name: "pack", Usage: "only the pack `ID` (repeatable)"},
			&cli.StringFlag{Name: "energy", Usage: "`KJ` per mol for the mean kinetic temperature (default: 83.144)"},
			&cli.StringFlag{Name: "gap", Usage: "leave out intervals longer than `DURATION`, as 90min, 2h or 1d (default: five times the usual step)"},
			&cli.StringFlag{Name: "unit", Usage: "`UNIT` of the log: C or F (default: as its header says)"},
			&cli.StringFlag{Name: "column", Usage: "`NAME` of the log's column of temperatures, where there are several"},
			&cli.StringFlag{Name: "dates", Usage: "`ORDER` of dates such as 04/03/2025: day-first or month-first (default: as the log tells)"},
			&cli.StringFlag{Name: "confidence", Usage: "`LEVEL` of the bounds, such as 0.95 (default: the study's)"},
			&cli.StringFlag{Name: "pool-alpha", Usage: "significance `LEVEL` of the poolability tests (default: the study's)"},
			&cli.StringFlag{Name: "model", Usage: "fit every attribute by `MODEL`: auto, zero-order, first-order, second-order or square-root-time"},
			&cli.StringSliceFlag{Name: "leave-out", Usage: "fit the temperatures without the condition `ID` (repeatable; needs --reason)"},
			&cli.StringFlag{Name: "reason", Usage: "why a condition is left out, in `TEXT` that stands beside the answer"},
			&cli.BoolFlag{Name: "by-batch", Usage: "give each batch a rate of its own; the activation energy stays common"},
		},
		Action: mkt,
	}
}

func mkt(c *cli.Context) error {
	settings, options, err := mktSettings(c)
	if err != nil {
		return err
	}
	log, err := mktInputs(c)
	if err != nil {
		return err
	}
	h, inputs, err := readHistory(c, log, settings, options)
	if err != nil {
		return err
	}
	switch c.String("format") {
	case formatJSON:
		head := json.NewAnswer(version, c.Command.Name, inputs, h.Warnings())
		if h.Evaluation != nil {
			head = head.From(h.Evaluation.Dataset)
		}
		return json.Write(c.App.Writer, json.NewHistory(head, h))
	case formatCSV:
		if h.Evaluation != nil {
			newPrinter(c.App.ErrWriter).Ledger(h.Evaluation.Dataset)
		}
		warn(c, h.Warnings())
		return csv.Excursions(c.App.Writer, h)
	}
	p := newPrinter(c.App.Writer)
	p.History(h)
	if h.Evaluation != nil {
		p.Ledger(h.Evaluation.Dataset)
	}
	warn(c, h.Warnings())
	return p.Err()
}

// mktInputs gives the log that is named, "" where there is none, and refuses
// calls whose inputs do not go together.
func mktInputs(c *cli.Context) (log string, err error) {
	switch n := c.Args().Len(); {
	case n > 1:
		return "", &usageError{text: fmt.Sprintf("mkt takes one log, and not %q too", c.Args().Get(1)), hint: "give each log a call of its own"}
	case n == 0 && c.String("lane") == "":
		return "", &usageError{text: "mkt needs a temperature log or a lane", hint: "shelfspan mkt LOG.csv, or shelfspan mkt --lane FILE"}
	}
	log = c.Args().First()
	switch {
	case !againstStudy(c):
		for _, name := range []string{"results", "as-of", "attribute", "pack", "confidence", "pool-alpha", "model", "leave-out", "reason", "by-batch"} {
			if c.IsSet(name) {
				return "", &usageError{text: "--" + name + " is for a study, and none is named", hint: "name it with --study FILE"}
			}
		}
	case ledgerOf(c) == "":
		if err := checkResults(c, c.StringSlice("results")); err != nil {
			return "", err
		}
	}
	standard := 0
	for _, path := range append([]string{log, c.String("lane"), c.String("study")}, c.StringSlice("results")...) {
		if path == "-" {
			standard++
		}
	}
	if standard > 1 {
		return "", &usageError{text: "standard input can be read only once", hint: "give - for one input, and files for the others"}
	}
	return log, nil
}

// againstStudy reports whether the history is held against a study: one is named, or a
// ledger that has it.
func againstStudy(c *cli.Context) bool { return c.String("study") != "" || c.IsSet("ledger") }

// mktSettings reads the options that bear on the temperatures.
func mktSettings(c *cli.Context) (s climate.Settings, o logger.Options, err error) {
	s = climate.Settings{EnergyKJ: climate.Conventional, Lower: math.Inf(-1), Upper: math.Inf(1), Spells: againstStudy(c)}
	if v := c.String("limit"); v != "" {
		if s.Upper, err = celsiusOption("limit", v); err != nil {
			return s, o, err
		}
	}
	if v := c.String("low"); v != "" {
		if s.Lower, err = celsiusOption("low", v); err != nil {
			return s, o, err
		}
	}
	if s.Lower >= s.Upper {
		return s, o, &usageError{text: fmt.Sprintf("--low %s is not below --limit %s", c.String("low"), c.String("limit"))}
	}
	if v := c.String("energy"); v != "" {
		x, err := strconv.ParseFloat(v, 64)
		if err != nil || !(x >= 1 && x <= 1000) {
			return s, o, &usageError{text: fmt.Sprintf("--energy %s is no activation energy", v), hint: "give it in kJ/mol, as --energy 83.144"}
		}
		s.EnergyKJ = x
	}
	if v := c.String("gap"); v != "" {
		length, ok := gapOption(v)
		if !ok {
			return s, o, &usageError{text: fmt.Sprintf("--gap %s is no length of time", v), hint: "give it as 90min, 2h or 1d"}
		}
		s.Gap = length.Milliseconds()
	}
	o.Column = c.String("column")
	switch v := c.String("unit"); strings.ToUpper(strings.TrimPrefix(v, "°")) {
	case "":
	case "C", "CELSIUS":
		o.Unit = logger.Celsius
	case "F", "FAHRENHEIT":
		o.Unit = logger.Fahrenheit
	default:
		return s, o, &usageError{text: fmt.Sprintf("no unit %q", v), hint: "--unit takes C or F"}
	}
	switch v := c.String("dates"); v {
	case "":
	case dayFirst:
		o.Order = logger.DayFirst
	case monthFirst:
		o.Order = logger.MonthFirst
	default:
		return s, o, notKnown("order of dates", v, []string{dayFirst, monthFirst})
	}
	return s, o, nil
}

// The values of --dates.
const (
	dayFirst   = "day-first"
	monthFirst = "month-first"
)

// celsiusOption reads a temperature, in °C unless F stands behind it.
func celsiusOption(option, v string) (float64, error) {
	number, fahrenheit := strings.CutSuffix(strings.ToUpper(v), "F")
	number = strings.TrimSuffix(number, "C")
	number = strings.TrimSpace(strings.TrimSuffix(number, "°"))
	x, err := strconv.ParseFloat(number, 64)
	if fahrenheit {
		x = (x - 32) * 5 / 9
	}
	if err != nil || !(x > -200 && x < 200) {
		return 0, &usageError{text: fmt.Sprintf("--%s %s is no temperature", option, v), hint: "give it in °C, as --" + option + " 25, or in °F, as --" + option + " 77F"}
	}
	return x, nil
}

// gapOption reads a length of time: 90min, 2h, 1d, and what Go writes.
func gapOption(v string) (time.Duration, bool) {
	if days, ok := strings.CutSuffix(strings.ToLower(v), "d"); ok {
		x, err := strconv.ParseFloat(days, 64)
		return time.Duration(x * 24 * float64(time.Hour)), err == nil && x > 0 && x < 36500
	}
	length, err := time.ParseDuration(strings.Replace(strings.ToLower(v), "min", "m", 1))
	return length, err == nil && length >= time.Millisecond
}

// readHistory reads the log and the lane, and judges them by the study where one
// is named. The faults of all are told in one go.
func readHistory(c *cli.Context, log string, s climate.Settings, o logger.Options) (*analysis.History, []study.Input, error) {
	h := &analysis.History{}
	var inputs, data []study.Input
	var faults finding.Faults
	take := func(err error) error {
		var f *finding.Faults
		if !errors.As(err, &f) {
			return err
		}
		faults.List, faults.More = append(faults.List, f.List...), faults.More+f.More
		if faults.Hint == "" {
			faults.Hint = f.Hint
		}
		return nil
	}
	// The study comes first: it is the shortest to read, and a slip in an option
	// that names a part of it need not wait for a long log.
	var d *study.Dataset
	var options analysis.Options
	if againstStudy(c) {
		set, in, err := loadDataset(c)
		switch {
		case err != nil:
			if err := take(err); err != nil {
				return nil, nil, err
			}
		default:
			d = set
			data = append([]study.Input{in}, d.Inputs...)
			if options, err = lifeOptions(c, d.Study); err != nil {
				return nil, nil, err
			}
		}
	}
	if log != "" {
		if err := readLog(c, log, h, s, o); err != nil {
			if err := take(err); err != nil {
				return nil, nil, err
			}
		} else {
			inputs = append(inputs, h.Log.Input)
		}
	}
	if path := c.String("lane"); path != "" {
		in, name, err := openInput(c, path)
		if err == nil {
			defer in.Close()
			h.Lane, err = lane.Read(name, in)
		}
		if err != nil {
			if err := take(err); err != nil {
				return nil, nil, err
			}
		} else {
			h.Lane.Input.Path = path
			inputs = append(inputs, h.Lane.Input)
			h.LaneRecord = climate.Lane(h.Lane, s)
		}
	}
	if len(faults.List) > 0 {
		return nil, nil, &faults
	}
	if d != nil {
		options.Histories = lengthy(h.Parts())
		h.Evaluation = analysis.Evaluate(d, options)
	}
	return h, append(inputs, data...), nil
}

// lengthy leaves out what has no length, as a log of nothing but gaps.
func lengthy(parts []arrhenius.History) []arrhenius.History {
	var out []arrhenius.History
	for _, p := range parts {
		if len(p.Spells) > 0 {
			out = append(out, p)
		}
	}
	return out
}

func readLog(c *cli.Context, path string, h *analysis.History, s climate.Settings, o logger.Options) error {
	in, name, err := openInput(c, path)
	if err != nil {
		return err
	}
	defer in.Close()
	bar := newProgress(c)
	defer bar.end()
	recorder := climate.NewRecorder(s)
	if h.Log, err = logger.Read(name, bar.watch(in), o, recorder.Add); err != nil {
		return err
	}
	h.Log.Input.Path = path
	h.Record = recorder.Finish()
	return nil
}

// lifeOptions reads the options that bear on the fits.
func lifeOptions(c *cli.Context, s *study.Study) (analysis.Options, error) {
	o, err := evaluationOptions(c, s)
	if err != nil {
		return o, err
	}
	o.ByBatch, o.Supported = c.Bool("by-batch"), true
	return o, setTemperatures(c, s, &o)
}
