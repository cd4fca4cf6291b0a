package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/reports/json"
	"shelfspan/reports/text"
	"shelfspan/study"
	"shelfspan/study/spelling"
)

// evaluationFlags are the options that trend, shelf-life and arrhenius share.
func evaluationFlags(more ...cli.Flag) []cli.Flag {
	return append([]cli.Flag{
		&cli.StringFlag{Name: "study", Aliases: []string{"s"}, Usage: "the study `FILE` (- for standard input); with --ledger the study's id"},
		resultsFlag(),
		&cli.StringFlag{Name: "ledger", Aliases: []string{"l"}, Usage: "take the study and its results from the lab's `LEDGER`; --study is its id"},
		asOfFlag(), formatFlag(),
		&cli.StringSliceFlag{Name: "attribute", Aliases: []string{"a"}, Usage: "only the attribute `ID` (repeatable)"},
		&cli.StringSliceFlag{Name: "pack", Usage: "only the pack `ID` (repeatable)"},
		&cli.StringFlag{Name: "confidence", Usage: "`LEVEL` of the bounds, such as 0.95 (default: the study's)"},
		&cli.StringFlag{Name: "pool-alpha", Usage: "significance `LEVEL` of the poolability tests (default: the study's)"},
		&cli.StringFlag{Name: "model", Usage: "fit every attribute by `MODEL`: auto, zero-order, first-order, second-order, square-root-time, approach-to-plateau or power-of-time"},
	}, more...)
}

// modelNames are the values of --model.
var modelNames = func() (names []string) {
	for _, m := range study.Models {
		names = append(names, string(m))
	}
	return names
}()

// evaluationOptions reads the options of evaluationFlags.
func evaluationOptions(c *cli.Context, s *study.Study) (analysis.Options, error) {
	var o analysis.Options
	var err error
	if o.Attributes, err = pick(c, "attribute", len(s.Attributes), func(i int) string { return s.Attributes[i].ID }); err != nil {
		return o, err
	}
	if o.Packs, err = pick(c, "pack", len(s.Packs), func(i int) string { return s.Packs[i].ID }); err != nil {
		return o, err
	}
	if o.Confidence, err = level(c, "confidence", 0.5); err != nil {
		return o, err
	}
	if o.PoolAlpha, err = level(c, "pool-alpha", 0); err != nil {
		return o, err
	}
	if m := c.String("model"); m != "" {
		if !slices.Contains(modelNames, m) {
			return o, notKnown("model", m, modelNames)
		}
		o.Model = study.Model(m)
	}
	return o, boundOptions(c, &o)
}

// pick turns the ids of a repeatable option into indices; nil where none is
// given.
func pick(c *cli.Context, option string, n int, id func(int) string) ([]int, error) {
	var out []int
	for _, v := range c.StringSlice(option) {
		known := make([]string, n)
		found := -1
		for i := range n {
			known[i] = id(i)
			if known[i] == v {
				found = i
			}
		}
		if found < 0 {
			what := option
			if option == "leave-out" {
				what = "condition"
			}
			return nil, notKnown(what, v, known)
		}
		out = append(out, found)
	}
	return out, nil
}

// notKnown refuses a name that is not in the study or not an option's value.
func notKnown(what, name string, known []string) error {
	e := &usageError{text: fmt.Sprintf("no %s %q", what, name)}
	if near := spelling.Nearest(name, known); near != "" {
		e.hint = "did you mean " + near + "?"
	} else {
		e.hint = "known: " + strings.Join(known, ", ")
	}
	return e
}

// level reads an option between low and 1; 0 where it is not given.
func level(c *cli.Context, option string, low float64) (float64, error) {
	v := c.String(option)
	if v == "" {
		return 0, nil
	}
	x, err := strconv.ParseFloat(v, 64)
	if err != nil || !(x > low && x < 1) {
		return 0, &usageError{text: fmt.Sprintf("--%s %s is not above %g and below 1", option, v, low), hint: "write it as a share, such as 0.95 and not 95"}
	}
	return x, nil
}

// evaluate loads the inputs of a command and evaluates them.
func evaluate(c *cli.Context, set func(*study.Study, *analysis.Options) error) (*analysis.Evaluation, []study.Input, error) {
	if err := noArguments(c); err != nil {
		return nil, nil, err
	}
	d, in, err := loadDataset(c)
	if err != nil {
		return nil, nil, err
	}
	o, err := evaluationOptions(c, d.Study)
	if err != nil {
		return nil, nil, err
	}
	if err := set(d.Study, &o); err != nil {
		return nil, nil, err
	}
	return analysis.Evaluate(d, o), append([]study.Input{in}, d.Inputs...), nil
}

// answer writes an evaluation in the format asked for, the warnings last; JSON
// carries them itself.
func answer(c *cli.Context, e *analysis.Evaluation, asText func(*text.Printer, *analysis.Evaluation),
	asCSV func(io.Writer, *analysis.Evaluation) error, asJSON func() any) error {
	switch c.String("format") {
	case formatJSON:
		return json.Write(c.App.Writer, asJSON())
	case formatCSV:
		newPrinter(c.App.ErrWriter).Ledger(e.Dataset)
		warn(c, e.Warnings)
		return asCSV(c.App.Writer, e)
	}
	p := newPrinter(c.App.Writer)
	asText(p, e)
	p.Ledger(e.Dataset)
	warn(c, e.Warnings)
	return p.Err()
}
