package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/reports/pdf"
	"shelfspan/reports/summary"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// reportFile is the summary's name where only a directory is given.
const reportFile = "report.pdf"

// reportCommand is shelfspan report.
func reportCommand() *cli.Command {
	flags := evaluationFlags(append(boundFlags(temperatureFlags()...), &cli.StringFlag{Name: "verify", TakesFile: true, Usage: "write nothing; say whether `FILE.pdf` comes from these inputs and this version"},
		outFlag("write the summary to `FILE.pdf`, or as "+reportFile+" into a directory, its data beside it (default: "+reportFile+" here)"))...)
	return &cli.Command{
		Name:  "report",
		Usage: "the stability summary",
		UsageText: `shelfspan report --study STUDY.toml --results RESULTS.csv [-o FILE.pdf]

Writes the stability summary as a PDF: the conclusion and its rule, the
protocol and how far the pulls have come, every result, a chart with its fit
and tests for each analysis, what the temperatures say together, warnings,
methods with their sources, and the hashes of the inputs. The same inputs and
options give the same file, byte for byte. Into a directory it also writes the
data: results.csv, fits.csv, schedule.csv and evaluation.json.

   shelfspan report -s study.toml -r results.csv
   shelfspan report -s study.toml -r lab.csv -r weighings.csv -o summaries/
   shelfspan report --ledger shelfspan.db --study SB-25 --as-of 2026-06-30
   shelfspan report --verify report.pdf -s study.toml -r results.csv`,
		Flags:  slices.DeleteFunc(flags, func(f cli.Flag) bool { return f.Names()[0] == "format" }),
		Action: writeReport,
	}
}

// reportOptions sets what a summary asks of an evaluation.
func reportOptions(c *cli.Context) func(*study.Study, *analysis.Options) error {
	return func(s *study.Study, o *analysis.Options) error {
		o.Trends, o.Supported, o.Interactions.Wanted = true, true, true
		return setTemperatures(c, s, o)
	}
}

func writeReport(c *cli.Context) error {
	if c.IsSet("verify") {
		return verifyReport(c)
	}
	e, inputs, err := evaluate(c, reportOptions(c))
	if err != nil {
		return err
	}
	in := summaryOf(c, e, inputs[0])
	var out bytes.Buffer
	if err := summary.Write(&out, in); err != nil {
		return err
	}
	path, whole, err := reportPath(c.String("out"))
	if err != nil {
		return err
	}
	paths, data := []string{path}, map[string][]byte{path: out.Bytes()}
	if whole {
		for _, f := range reportData(in) {
			beside := filepath.Join(filepath.Dir(path), f.name)
			if data[beside], err = f.replacing(beside, inputs); err != nil {
				return err
			}
			paths = append(paths, beside)
		}
	}
	if err := replaceFiles(paths, data); err != nil {
		return err
	}
	p := newPrinter(c.App.Writer)
	for _, t := range words.Conclusion(e) {
		p.Paragraph(t)
	}
	for _, path := range paths {
		p.Paragraph("wrote " + path)
	}
	return p.Err()
}

// summaryOf is what a summary is written from.
func summaryOf(c *cli.Context, e *analysis.Evaluation, studyFile study.Input) summary.Input {
	return summary.Input{Evaluation: e, Schedule: schedule.Plan(e.Dataset.Study), StudyFile: studyFile, Version: version, Options: givenOptions(c)}
}

// elsewhere are the options of report that givenOptions leaves out.
var elsewhere = []string{"study", "results", "ledger", "as-of", "out", "verify"}

// givenOptions lists the options that bear on the answer, in the order of the
// command's help. The inputs, and the state of a ledger, stand elsewhere, with
// their hashes.
func givenOptions(c *cli.Context) []string {
	var out []string
	for _, f := range c.Command.Flags {
		name := f.Names()[0]
		if slices.Contains(elsewhere, name) || !c.IsSet(name) {
			continue
		}
		values := c.StringSlice(name)
		if values == nil {
			values = []string{c.String(name)}
		}
		for _, v := range values {
			out = append(out, "--"+name+" "+v)
		}
	}
	return out
}

// reportPath turns the value of --out into the file to write, and makes its
// directory where there is none; whole says that a directory was named, so that
// the data go there too. A file that is not an earlier summary as it
// was written, such as one that has been signed since, is not overwritten.
func reportPath(out string) (path string, whole bool, err error) {
	path = out
	if path == "" {
		path = reportFile
	}
	info, err := os.Stat(path)
	isDir := err == nil && info.IsDir()
	if isDir || !strings.EqualFold(filepath.Ext(path), ".pdf") {
		if err == nil && !isDir {
			return "", false, &hintedError{err: fmt.Errorf("%s is a file and no PDF", path), hint: "--out takes a FILE.pdf or a directory to write into"}
		}
		path, whole = filepath.Join(path, reportFile), true
	}
	if dir := filepath.Dir(path); dir != "." {
		if err := os.MkdirAll(dir, 0o777); err != nil {
			return "", false, &hintedError{err: fmt.Errorf("%s cannot be made a directory: %w", dir, plainCause(err)), hint: "--out takes a FILE.pdf or a directory to write into"}
		}
	}
	former, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return "", false, &hintedError{err: fmt.Errorf("%s is in the way and cannot be read: %w", path, plainCause(err)), hint: "name another file with --out, or move it away"}
	case !pdf.AsWritten(former):
		return "", false, &hintedError{err: fmt.Errorf("%s is no summary as this program wrote it and is not overwritten", path), hint: "name another file with --out, or move it away"}
	}
	return path, whole, nil
}
