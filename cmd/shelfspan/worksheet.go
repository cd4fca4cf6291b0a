package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/study/intake"
	"shelfspan/study/schedule"
)

// worksheetCommand is shelfspan worksheet.
func worksheetCommand() *cli.Command {
	return &cli.Command{
		Name:      "worksheet",
		Usage:     "a table for one pull to fill in and hand back to intake, with its pull sheet and labels",
		ArgsUsage: "PULL-ID",
		UsageText: `shelfspan worksheet SB-25-25C60-3M
shelfspan worksheet SB-25-25C60-3M -o monday.csv
shelfspan worksheet SB-25-25C60-3M --separator semicolon -o tuesday.csv
shelfspan worksheet SB-25-25C60-3M -o - > monday.csv`,
		Description: `Writes PULL-ID.csv with a row for each unit, attribute and reading, the value
left empty, and beside it PULL-ID-pull-sheet.pdf and PULL-ID-labels.pdf. Open
the table in a spreadsheet, fill in what was measured, save it as CSV and
hand it to shelfspan intake as it is; rows without a value count as not
tested. A worksheet that someone has begun to fill in is never overwritten.`,
		Flags: append([]cli.Flag{
			ledgerFlag(),
			&cli.StringFlag{Name: "separator", Value: "comma", Usage: "what stands between the columns, `NAME`: comma, semicolon or tab; spreadsheets set to decimal commas want a semicolon"},
			outFlag("write the table to `FILE.csv` (- for standard output, without the PDFs), or all into a directory"),
		}, labelFlags()...),
		Action: worksheet,
	}
}

// separatorNames are the values of --separator.
var separatorNames = []string{"comma", "semicolon", "tab"}

var separators = map[string]rune{"comma": ',', "semicolon": ';', "tab": '\t'}

func worksheet(c *cli.Context) error {
	id, err := oneArgument(c, "the id of a pull", "SB-25-25C60-3M; shelfspan due lists them")
	if err != nil {
		return err
	}
	separator, ok := separators[c.String("separator")]
	if !ok {
		return notKnown("separator", c.String("separator"), separatorNames)
	}
	layout, err := labelLayout(c)
	if err != nil {
		return err
	}
	l, err := openLedger(c)
	if err != nil {
		return err
	}
	defer l.Close()
	p, pull, err := l.FindPull(c.Context, id)
	if err != nil {
		return err
	}
	var table bytes.Buffer
	if err := intake.WriteWorksheet(&table, p.Study, separator, worksheetRows(p, pull)); err != nil {
		return err
	}
	out := c.String("out")
	if out == "-" {
		_, err := c.App.Writer.Write(table.Bytes())
		return err
	}
	sheet, stickers, err := sheetAndLabels(p, []int{pull}, layout)
	if err != nil {
		return err
	}
	path := p.Pulls[pull].ID + ".csv"
	switch info, err := os.Stat(out); {
	case out == "":
	case err == nil && info.IsDir():
		path = filepath.Join(out, path)
	case !strings.EqualFold(filepath.Ext(out), ".csv"):
		return &usageError{text: "--out takes a FILE.csv or a directory that is there", hint: "as --out monday.csv"}
	default:
		path = out
	}
	former, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return &hintedError{err: fmt.Errorf("%s is in the way and cannot be read: %w", path, plainCause(err)), hint: "name another file with --out"}
	case !bytes.Equal(former, table.Bytes()):
		return &hintedError{err: fmt.Errorf("%s is there already and not as it was written; it may be filled in, and is left as it is", path), hint: "hand it to shelfspan intake, or name another file with --out"}
	}
	stem := path[:len(path)-len(filepath.Ext(path))]
	paths := []string{path, stem + "-pull-sheet.pdf", stem + "-labels.pdf"}
	if err := replaceFiles(paths, map[string][]byte{paths[0]: table.Bytes(), paths[1]: sheet, paths[2]: stickers}); err != nil {
		return err
	}
	for _, path := range paths {
		fmt.Fprintln(c.App.Writer, "wrote", path)
	}
	fmt.Fprintf(c.App.Writer, "next: fill it in, then: shelfspan intake %s --study %s%s\n", shellWord(path), p.Study.ID, ledgerOption(c))
	return nil
}

// worksheetRows gives a row for each unit, attribute and reading of a pull.
func worksheetRows(p *schedule.Schedule, pull int) []intake.WorksheetRow {
	x := &p.Pulls[pull]
	var rows []intake.WorksheetRow
	for j := range x.Lines {
		for _, u := range p.UnitsOf(pull, j) {
			row := intake.WorksheetRow{
				Batch: u.Batch, Pack: u.Pack, Orientation: max(0, u.Orientation), Condition: u.Condition, Time: x.Time, Unit: u.ID,
			}
			for _, a := range u.Attributes {
				row.Attribute = a
				for n := range max(1, p.Study.Attributes[a].Replicates) {
					row.Replicate = n + 1
					rows = append(rows, row)
				}
			}
		}
	}
	return rows
}
