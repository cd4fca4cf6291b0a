package main

import (
	"bytes"
	stdjson "encoding/json"
	"fmt"
	"io"
	"os"

	"shelfspan/reports/csv"
	"shelfspan/reports/dossier"
	"shelfspan/reports/json"
	"shelfspan/study"
)

// dataFile is one of the files that go beside a summary, for those who want to
// work the numbers out again.
type dataFile struct {
	name   string
	write  func(io.Writer) error
	former func([]byte) bool // whether a file of that name is an earlier one of the same study
}

// reportData lists the data of a summary.
func reportData(in dossier.Input) []dataFile {
	e, id := in.Evaluation, in.Evaluation.Dataset.Study.ID
	table := func(head string) func([]byte) bool {
		return func(data []byte) bool { return tableOf(id, head, data) }
	}
	return []dataFile{
		{"results.csv", func(w io.Writer) error { return csv.Dataset(w, e.Dataset) }, table(csv.DatasetHead)},
		{"fits.csv", func(w io.Writer) error { return csv.Fits(w, e) }, table(csv.FitsHead)},
		{"schedule.csv", func(w io.Writer) error { return csv.Pulls(w, in.Schedule) }, table(csv.PullsHead)},
		{"evaluation.json", func(w io.Writer) error {
			inputs := append([]study.Input{in.StudyFile}, e.Dataset.Inputs...)
			return json.Write(w, json.NewReport(json.NewAnswer(in.Version, "report", inputs, e.Warnings).From(e.Dataset), e, in.Options, in.Fingerprint()))
		}, func(data []byte) bool {
			var former struct{ Tool, Command, Study string }
			return stdjson.Unmarshal(data, &former) == nil && former.Tool == "shelfspan" && former.Command == "report" && former.Study == id
		}},
	}
}

// replacing gives what is to stand at a path. An input is never overwritten, nor
// is a file that is not an earlier one of the same name and study.
func (f dataFile) replacing(path string, inputs []study.Input) ([]byte, error) {
	former, err := readFormer(path)
	if err != nil {
		return nil, err
	}
	if former != nil {
		const hint = "name another directory with --out, or a FILE.pdf for the summary alone"
		for _, in := range inputs {
			if sameFile(in.Path, path) {
				return nil, &hintedError{err: fmt.Errorf("%s is an input of this report and is not overwritten", path), hint: hint}
			}
		}
		if !f.former(former) {
			return nil, &hintedError{err: fmt.Errorf("%s is not from an earlier report on this study and is not overwritten", path), hint: hint}
		}
	}
	var out bytes.Buffer
	if err := f.write(&out); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// sameFile reports whether two paths lead to one file.
func sameFile(a, b string) bool {
	x, err := os.Stat(a)
	if err != nil {
		return false
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y)
}
