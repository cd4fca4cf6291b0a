package main

import (
	"slices"

	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
)

// The values of --batches.
const (
	fixedBatches  = "fixed"
	randomBatches = "random"
)

// batchesNames are the values of --batches.
var batchesNames = []string{fixedBatches, randomBatches}

// boundFlags are the options of trend, shelf-life and report that say which
// bound is asked for.
func boundFlags(more ...cli.Flag) []cli.Flag {
	return append([]cli.Flag{
		&cli.StringFlag{Name: "batches", Usage: "take the batches for `WHAT`: fixed, themselves alone, or random, a sample of those to come, whose bound then governs where it is the shorter (default: fixed)"},
		&cli.StringFlag{Name: "coverage", Usage: "`LEVEL`, the share of units or of batches to come that a bound speaks of (default: 0.95)"},
	}, more...)
}

// boundOptions reads the options of boundFlags.
func boundOptions(c *cli.Context, o *analysis.Options) (err error) {
	if v := c.String("batches"); v != "" {
		if !slices.Contains(batchesNames, v) {
			return notKnown("--batches", v, batchesNames)
		}
		o.RandomBatches = v == randomBatches
	}
	o.Coverage, err = level(c, "coverage", 0.5)
	return err
}
