package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/reports/summary"
	"shelfspan/study"
	"shelfspan/study/schedule"
	"shelfspan/testdata"
)

// A file whose digest fits may still say anything: what it was made by and with
// is compared, and its texts are shown harmlessly.
func TestVerifyBelievesNoRecord(t *testing.T) {
	dir := t.TempDir()
	table := "batch,condition,time,attribute,value\nB1,25C60,0,pH,5.5\nB1,25C60,3M,pH,5.4\nB1,25C60,6M,pH,5.4\n"
	for name, content := range map[string]string{"study.toml": smallStudy, "r.csv": table} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	call := []string{"shelfspan", "report", "-s", filepath.Join(dir, "study.toml"), "-r", filepath.Join(dir, "r.csv")}
	input := func() summary.Input {
		d := testdata.Study(t, smallStudy, testdata.Table("r.csv", table))
		return summary.Input{
			Evaluation: analysis.Evaluate(d, analysis.Options{Trends: true, Supported: true, Arrhenius: true, Interactions: analysis.InteractionOptions{Wanted: true}}),
			Schedule:   schedule.Plan(d.Study), Version: version,
			StudyFile: study.Input{Path: "study.toml", SHA256: sumOf(smallStudy)},
		}
	}
	for name, c := range map[string]struct {
		change func(*summary.Input)
		want   string
	}{
		"as it is":         {func(*summary.Input) {}, ""},
		"another version":  {func(in *summary.Input) { in.Version = "0.0.9\x1b[2J" }, "it was made by shelfspan 0.0.9\ufffd[2J, and this is " + version},
		"a strange option": {func(in *summary.Input) { in.Options = []string{"--out /etc"} }, `its option "--out /etc" is none that report takes`},
		"no such option":   {func(in *summary.Input) { in.Options = []string{"--shoe 43"} }, `its option "--shoe 43" is none that report takes`},
		"a result made better": {func(in *summary.Input) { in.Evaluation.Analyses[0].Samples[0].Value = 6 },
			"made again from the same inputs, it has other bytes"},
		"another study file": {func(in *summary.Input) { in.StudyFile.SHA256 = "aa" }, "study.toml has other bytes than study.toml had: SHA-256"},
		"a table of no name": {func(in *summary.Input) {
			in.Evaluation.Dataset.Inputs = []study.Input{{SHA256: "bb"}, {SHA256: "cc"}}
		}, "an input without a name is none of the tables named (SHA-256 bb in the file)"},
	} {
		in := input()
		c.change(&in)
		var file, out, errs bytes.Buffer
		if err := summary.Write(&file, in); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, "report.pdf")
		if err := os.WriteFile(path, file.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		status := run(context.Background(), append(call, "--verify", path), strings.NewReader(""), &out, &errs)
		if c.want == "" {
			if status != 0 || !strings.Contains(out.String(), "- made again: the same, byte for byte") {
				t.Errorf("%s: status %d, %s%s", name, status, out.String(), errs.String())
			}
			continue
		}
		if status != statusFailed || !strings.Contains(errs.String(), c.want) {
			t.Errorf("%s: status %d, %s, want %s", name, status, errs.String(), c.want)
		}
		if strings.Contains(errs.String()+out.String(), "\x1b") {
			t.Errorf("%s: an escape reaches the terminal", name)
		}
	}
}

func sumOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}
