package main

import (
	"github.com/urfave/cli/v2"
	"shelfspan/study/schedule"
)

func labelFlags() []cli.Flag { return nil }

type layout struct{}

func labelLayout(c *cli.Context) (layout, error) { return layout{}, nil }

func sheetAndLabels(p *schedule.Schedule, pulls []int, l layout) (sheet, labels []byte, err error) {
	return nil, nil, nil
}
