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

	"shelfspan/reports/calendar"
	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/reports/labels"
	"shelfspan/reports/pdf"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// planCommand is shelfspan plan.
func planCommand() *cli.Command {
	return &cli.Command{
		Name:  "plan",
		Usage: "check a study file; show its pull schedule, sample needs and chamber load; write a calendar and tables",
		UsageText: `shelfspan plan --study study.toml
shelfspan plan study.toml --out plan
shelfspan plan --study study.toml --format csv > pulls.csv`,
		Description: `Prints the pulls by date, the units each takes and from which chamber,
the units to fill and how full the chambers get. --out DIR also writes
pulls.csv (a row for each pull), samples.csv (a row for each arm of each
pull), calendar.ics, which a calendar program can import again after every
change of the plan, pull-sheet.pdf (what to take, with squares to tick) and
labels.pdf (a label with a code for each unit).`,
		Flags: append([]cli.Flag{
			studyFlag(),
			formatFlag(),
			outFlag("also write tables, a calendar, pull sheets and labels into `DIR`"),
		}, labelFlags()...),
		Action: plan,
	}
}

func plan(c *cli.Context) error {
	// The one file it reads may be named without the option, too.
	if c.Args().Len() == 1 && !c.IsSet("study") {
		if err := c.Set("study", c.Args().First()); err != nil {
			return err
		}
	} else if err := noArguments(c); err != nil {
		return err
	}
	s, input, err := loadStudy(c)
	if err != nil {
		return err
	}
	p := schedule.Plan(s)
	layout, err := labelLayout(c)
	if err != nil {
		return err
	}
	var written []string
	if dir := c.String("out"); dir != "" {
		if written, err = writePlan(dir, p, layout); err != nil {
			return err
		}
	}
	switch c.String("format") {
	case formatJSON:
		head := json.NewAnswer(version, "plan", []study.Input{input}, json.PlanWarnings(p))
		err = json.Write(c.App.Writer, json.NewPlan(head, p))
	case formatCSV:
		warn(c, json.PlanWarnings(p))
		err = csv.Pulls(c.App.Writer, p)
	default:
		printer := newPrinter(c.App.Writer)
		printer.Plan(p, written)
		warn(c, p.Warnings)
		return printer.Err()
	}
	for _, path := range written {
		fmt.Fprintln(c.App.ErrWriter, "wrote", path)
	}
	return err
}

// writePlan writes the files of a plan into a directory, which it makes where
// there is none, and gives their paths. Files of an earlier plan of the same
// study are replaced; anything else that stands in the way is refused before
// the first file is touched.
func writePlan(dir string, p *schedule.Schedule, layout labels.Layout) (written []string, err error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, &hintedError{err: fmt.Errorf("%s cannot be made a directory: %w", dir, plainCause(err)), hint: "--out takes a directory to write into"}
	}
	var pulls, samples bytes.Buffer
	if err := csv.Pulls(&pulls, p); err != nil {
		return nil, err
	}
	if err := csv.Samples(&samples, p); err != nil {
		return nil, err
	}
	calendarPath := filepath.Join(dir, "calendar.ics")
	former, err := readFormer(calendarPath)
	if err != nil {
		return nil, err
	}
	events, err := calendar.Render(p, former)
	if errors.Is(err, calendar.ErrForeign) {
		return nil, inTheWay(calendarPath)
	}
	if err != nil {
		return nil, err
	}
	sheet, stickers, err := sheetAndLabels(p, nil, layout)
	if err != nil {
		return nil, err
	}
	files := []struct {
		name string
		head string // what the first line of an earlier table begins with; empty for what is no table
		data []byte
	}{
		{"pulls.csv", csv.PullsHead, pulls.Bytes()},
		{"samples.csv", csv.SamplesHead, samples.Bytes()},
		{"calendar.ics", "", events},
	}
	if sheet != nil { // a plan that pulls nothing has neither
		files = append(files, files[0], files[0])
		files[3].name, files[3].head, files[3].data = "pull-sheet.pdf", "", sheet
		files[4].name, files[4].head, files[4].data = "labels.pdf", "", stickers
	}
	for _, f := range files {
		path := filepath.Join(dir, f.name)
		former, err := readFormer(path)
		if err != nil {
			return nil, err
		}
		isPDF := strings.HasSuffix(f.name, ".pdf")
		if former != nil && (f.head != "" && !tableOf(p.Study.ID, f.head, former) || isPDF && !pdf.AsWritten(former)) {
			return nil, inTheWay(path)
		}
	}
	data := make(map[string][]byte)
	for _, f := range files {
		path := filepath.Join(dir, f.name)
		written = append(written, path)
		data[path] = f.data
	}
	if err := replaceFiles(written, data); err != nil {
		return nil, err
	}
	return written, nil
}

// tableOf reports whether a file is an earlier table of the same study.
func tableOf(id, head string, data []byte) bool {
	first, rest, _ := strings.Cut(string(data), "\n")
	return strings.HasPrefix(first, head) && (rest == "" || strings.HasPrefix(rest, id+","))
}

// readFormer reads a file that is about to be replaced; nil where there is none.
func readFormer(path string) ([]byte, error) {
	data, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, nil
	case err != nil:
		return nil, &hintedError{
			err:  fmt.Errorf("%s is in the way and cannot be read: %w", path, plainCause(err)),
			hint: "name another directory with --out, or move it away",
		}
	}
	return data, nil
}

func inTheWay(path string) error {
	return &hintedError{
		err:  fmt.Errorf("%s is not from an earlier plan of this study and is not overwritten", path),
		hint: "name another directory with --out, or move the file away",
	}
}

// plainCause leaves out the operation and the temporary name of a file error.
func plainCause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
