package main

import (
	"errors"
	"os"

	"github.com/urfave/cli/v2"

	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/intake"
	"shelfspan/study/ledger"
)

// resultsFlag is --results, -r: the results tables, any number of them.
func resultsFlag() *cli.StringSliceFlag {
	return &cli.StringSliceFlag{
		Name: "results", Aliases: []string{"r"}, TakesFile: true,
		Usage: "a results table, CSV `FILE` (- for standard input); may be given several times",
	}
}

// loadDataset reads the study and its results: from the ledger of --ledger, or
// the study file of --study and the tables of --results. The faults of all tables
// are told in one go, those that cannot be opened first.
func loadDataset(c *cli.Context) (*study.Dataset, study.Input, error) {
	if where := ledgerOf(c); where != "" {
		return loadFromLedger(c, where)
	}
	if c.IsSet("as-of") {
		return nil, study.Input{}, &usageError{text: "--as-of asks for a state of a ledger", hint: "name it with --ledger"}
	}
	paths := c.StringSlice("results")
	if err := checkResults(c, paths); err != nil {
		return nil, study.Input{}, err
	}
	s, input, err := loadStudy(c)
	if err != nil {
		return nil, study.Input{}, err
	}
	var unopened finding.Faults
	var sources []intake.Source
	bar := newProgress(c)
	defer bar.end()
	for _, path := range paths {
		in, name, err := openInput(c, path)
		if err != nil {
			var faults *finding.Faults
			if !errors.As(err, &faults) {
				return nil, study.Input{}, err
			}
			unopened.List = append(unopened.List, faults.List...)
			unopened.Hint = faults.Hint
			continue
		}
		defer in.Close()
		sources = append(sources, intake.Source{Name: name, Reader: bar.watch(in)})
	}
	d, err := intake.Read(s, sources...)
	if len(unopened.List) > 0 {
		var faults *finding.Faults
		if errors.As(err, &faults) {
			unopened.List = append(unopened.List, faults.List...)
			unopened.More = faults.More
		}
		return nil, study.Input{}, &unopened
	}
	if err != nil {
		return nil, study.Input{}, err
	}
	for i := range d.Inputs {
		d.Inputs[i].Path = paths[i]
	}
	return d, input, nil
}

// ledgerOf gives the ledger an analysis is to read: that of --ledger or, where no
// tables are named either, of the environment.
func ledgerOf(c *cli.Context) string {
	if c.IsSet("ledger") || c.IsSet("results") {
		return c.String("ledger")
	}
	return os.Getenv(ledgerVariable)
}

// loadFromLedger reads a study and its results, as they stand or stood, out of a
// ledger.
func loadFromLedger(c *cli.Context, where string) (*study.Dataset, study.Input, error) {
	if c.IsSet("results") {
		return nil, study.Input{}, &usageError{text: "--results names tables, and --ledger has the results itself", hint: "take tables in with shelfspan intake, or leave --ledger out"}
	}
	at, err := asOf(c)
	if err != nil {
		return nil, study.Input{}, err
	}
	l, err := ledger.Open(c.Context, where)
	if err != nil {
		return nil, study.Input{}, err
	}
	defer l.Close()
	id, err := oneStudy(c, l, at)
	if err != nil {
		return nil, study.Input{}, err
	}
	x, d, err := readStudy(c, l, id, at)
	if err != nil {
		return nil, study.Input{}, err
	}
	warnOvertaken(c, x, at)
	return d, x.Protocol, nil
}

// checkResults refuses a call that names no results, or reads standard input
// twice. A call without a study is loadStudy's to refuse.
func checkResults(c *cli.Context, paths []string) error {
	if c.String("study") == "" {
		return nil
	}
	if len(paths) == 0 {
		return &usageError{
			text: c.Command.Name + " needs results",
			hint: "name a table of them with --results FILE, or the lab's ledger with --ledger",
		}
	}
	standard := 0
	for _, path := range append([]string{c.String("study")}, paths...) {
		if path == "-" {
			standard++
		}
	}
	if standard > 1 {
		return &usageError{
			text: "standard input can be read only once",
			hint: "give - for one of --study and --results, and files for the others",
		}
	}
	return nil
}
