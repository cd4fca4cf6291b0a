package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/reports/dossier"
	"shelfspan/reports/page"
	"shelfspan/reports/pdf"
	"shelfspan/reports/summary"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// reportForms are the documents of report, in the order they are written, with
// their names where only a directory is given.
var reportForms = []reportForm{
	{"report.pdf", ".pdf", "summary", summary.Write, pdf.AsWritten},
	{"report.html", ".html", "page", page.Write, page.AsWritten},
}

// reportForm is one document of report.
type reportForm struct {
	name, extension string
	kind            string // in a sentence
	write           func(io.Writer, dossier.Input) error
	asWritten       func([]byte) bool // whether a file is such a document as it was written
}

// reportCommand is shelfspan report.
func reportCommand() *cli.Command {
	flags := evaluationFlags(append(append(boundFlags(temperatureFlags()...), partFlags()...), &cli.StringFlag{Name: "verify", TakesFile: true, Usage: "write nothing; say whether `FILE.pdf` comes from these inputs and this version"},
		outFlag("write the summary to `FILE.pdf` or FILE.html alone, or both into a directory, their data beside them (default: here)"))...)
	return &cli.Command{
		Name:  "report",
		Usage: "the stability summary",
		UsageText: `shelfspan report --study STUDY.toml --results RESULTS.csv [-o DIR]

Writes the stability summary, as a PDF to sign and file and as a web page to
read on a screen: the conclusion and its rule, the protocol and how far the
pulls have come, every result, a chart with its fit and tests for each
analysis, what the temperatures say together, warnings, methods with their
sources, and the hashes of the inputs. Both say the same; the page is one
file that fetches nothing. Beside them go the data: results.csv, fits.csv,
schedule.csv and evaluation.json. The same inputs and options give the same
files, byte for byte. -o FILE.pdf or FILE.html writes that one alone.
--section picks parts of the documents; the conclusion, the results that were
changed and the provenance are always in, and the first page says what was
left out.

   shelfspan report -s study.toml -r results.csv
   shelfspan report -s study.toml -r lab.csv -r weighings.csv -o summaries/
   shelfspan report -s study.toml -r results.csv -o balm.html
   shelfspan report -s study.toml -r results.csv --section results,trends
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
	if err := checkParts(c); err != nil {
		return err
	}
	e, inputs, err := evaluate(c, reportOptions(c))
	if err != nil {
		return err
	}
	in := inputOf(c, e, inputs[0])
	paths, forms, whole, err := reportPaths(c.String("out"))
	if err != nil {
		return err
	}
	data := make(map[string][]byte)
	for i, f := range forms {
		var out bytes.Buffer
		if err := f.write(&out, in); err != nil {
			return err
		}
		data[paths[i]] = out.Bytes()
	}
	if whole {
		for _, f := range reportData(in) {
			beside := filepath.Join(filepath.Dir(paths[0]), f.name)
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

// inputOf is what a document is written from.
func inputOf(c *cli.Context, e *analysis.Evaluation, studyFile study.Input) dossier.Input {
	return dossier.Input{Evaluation: e, Schedule: schedule.Plan(e.Dataset.Study), StudyFile: studyFile, Version: version, Options: givenOptions(c), Parts: partsOf(c)}
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
		switch {
		case name == "section":
			values = []string{joinParts(partsOf(c))} // however they were written
		case name == "lang" && c.String(name) == words.Languages[0]:
			continue // as without it
		case values == nil:
			values = []string{c.String(name)}
		}
		for _, v := range values {
			out = append(out, "--"+name+" "+v)
		}
	}
	return out
}

// reportPaths turns the value of --out into the documents to write, and makes their
// directory where there is none; whole says that a directory was named, so that
// the data go there too. A file that is not an earlier summary as it was
// written, such as one that has been signed since, is not overwritten.
func reportPaths(out string) (paths []string, forms []reportForm, whole bool, err error) {
	const hint = "--out takes a FILE.pdf, a FILE.html or a directory to write into"
	info, err := os.Stat(out)
	isDir := out == "" || err == nil && info.IsDir()
	one := slices.IndexFunc(reportForms, func(f reportForm) bool { return strings.EqualFold(filepath.Ext(out), f.extension) })
	switch {
	case !isDir && one >= 0:
		paths, forms = []string{out}, reportForms[one:one+1]
	case out == "":
		forms = reportForms
		for _, f := range forms {
			paths = append(paths, f.name)
		}
	case !isDir && err == nil:
		return nil, nil, false, &hintedError{err: fmt.Errorf("%s is a file, and neither a PDF nor a page", out), hint: hint}
	default:
		forms, whole = reportForms, true
		for _, f := range forms {
			paths = append(paths, filepath.Join(out, f.name))
		}
	}
	if dir := filepath.Dir(paths[0]); dir != "." {
		if err := os.MkdirAll(dir, 0o777); err != nil {
			return nil, nil, false, &hintedError{err: fmt.Errorf("%s cannot be made a directory: %w", dir, plainCause(err)), hint: hint}
		}
	}
	for i, path := range paths {
		former, err := os.ReadFile(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return nil, nil, false, &hintedError{err: fmt.Errorf("%s is in the way and cannot be read: %w", path, plainCause(err)), hint: "name another file with --out, or move it away"}
		case !forms[i].asWritten(former):
			return nil, nil, false, &hintedError{err: fmt.Errorf("%s is no %s as this program wrote it and is not overwritten", path, forms[i].kind), hint: "name another file with --out, or move it away"}
		}
	}
	return paths, forms, whole, nil
}
