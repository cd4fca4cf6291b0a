package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/urfave/cli/v2"

	"shelfspan/study"
)

const smallStudy = `[study]
id = "MB-26"
start = 2025-01-13

[[condition]]
id = "25C60"
role = "long-term"
temperature = 25.0
humidity = 60.0
pulls = ["0", "3M", "6M"]

[[batch]]
id = "B1"

[[attribute]]
id = "pH"
kind = "measure"
lower = 5.0
`

const (
	goodTable  = "batch,condition,time,attribute,value\nB1,25C60,3M,pH,5.5\n"
	otherTable = "batch;condition;time;attribute;value\nB1;25C60;6M;pH;5,4\n"
	badTable   = "batch,condition,time,attribute,value\nB2,25C60,3M,pH,acid\n"
)

// probe runs a command that only loads a dataset, in a folder with the files of
// this test, and gives what a user would see.
func probe(t *testing.T, stdin string, args ...string) (d *study.Dataset, status int, stderr string) {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{
		"study.toml": smallStudy, "good.csv": goodTable, "other.csv": otherTable, "bad.csv": badTable, "empty.csv": "",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(dir, "folder"), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
	var out, errs bytes.Buffer
	app := newApp(strings.NewReader(stdin), &out, &errs)
	app.Commands = []*cli.Command{{
		Name: "probe", Flags: []cli.Flag{studyFlag(), resultsFlag()},
		Action: func(c *cli.Context) (err error) {
			d, _, err = loadDataset(c)
			return err
		},
	}}
	argv := append([]string{"shelfspan", "probe"}, args...)
	status = report(&errs, play(context.Background(), app, argv))
	return d, status, errs.String()
}

func TestLoadDataset(t *testing.T) {
	d, status, stderr := probe(t, otherTable, "-s", "study.toml", "-r", "good.csv", "-r", "-")
	if status != 0 {
		t.Fatal(stderr)
	}
	if len(d.Results) != 2 || d.Results[0].Value != 5.5 || d.Results[1].Value != 5.4 {
		t.Errorf("results %+v", d.Results)
	}
	// The sums are those of sha256sum.
	want := []study.Input{
		{Path: "good.csv", SHA256: "08c327f1d94bf549d40a8310fc468ef39db93782d01a1f21643b1e43c4740168", Rows: 1},
		{Path: "-", SHA256: "2e1f54737166e208474c22353170118b643b67649fb57768ae6d22ce4a59d3bc", Rows: 1},
	}
	if diff := cmp.Diff(want, d.Inputs); diff != "" {
		t.Error(diff)
	}
}

func TestLoadDatasetRefuses(t *testing.T) {
	for _, c := range []struct {
		name   string
		args   []string
		status int
		want   string
	}{
		{"no study", []string{"-r", "good.csv"}, 2,
			"shelfspan: probe needs a study file\nhint: name it with --study FILE; shelfspan init writes one to start from\n"},
		{"no results", []string{"-s", "study.toml"}, 2,
			"shelfspan: probe needs results\nhint: name a table of them with --results FILE, or the lab's ledger with --ledger\n"},
		{"standard input twice", []string{"-s", "study.toml", "-r", "-", "-r", "-"}, 2,
			"shelfspan: standard input can be read only once\nhint: give - for one of --study and --results, and files for the others\n"},
		{"standard input for both", []string{"-s", "-", "-r", "-"}, 2,
			"shelfspan: standard input can be read only once\nhint: give - for one of --study and --results, and files for the others\n"},
		{"missing file", []string{"-s", "study.toml", "-r", "goood.csv"}, 3,
			"goood.csv: there is no such file\nshelfspan: input rejected: 1 fault; nothing was taken in\nhint: did you mean good.csv?\n"},
		{"files with a comma between", []string{"-s", "study.toml", "-r", "good.csv,bad.csv"}, 3,
			"good.csv,bad.csv: there is no such file\nshelfspan: input rejected: 1 fault; nothing was taken in\nhint: several files are named one by one, as --results FILE --results FILE\n"},
		{"another study's table", []string{"-s", "study.toml", "-r", "bad.csv"}, 3,
			"bad.csv:2: batch: no batch \"B2\"; the study has B1\nbad.csv:2: value: \"acid\" is no number; leave the field empty where it was not tested\n" +
				"shelfspan: input rejected: 2 faults; nothing was taken in\nhint: no row of bad.csv names a batch of study MB-26; is it a table of another study?\n"},
		{"directory", []string{"-s", "study.toml", "-r", "folder"}, 3,
			"folder: is a directory, not a file\nshelfspan: input rejected: 1 fault; nothing was taken in\nhint: name the file in it, as folder/FILE\n"},
		{"empty file", []string{"-s", "study.toml", "-r", "empty.csv"}, 3,
			"empty.csv: is empty; it needs a header line (batch, condition, time or pulled, attribute, value, …) and results below it\n" +
				"shelfspan: input rejected: 1 fault; nothing was taken in\n"},
		{"the faults of all files", []string{"-s", "study.toml", "-r", "good.csv", "-r", "bad.csv", "-r", "absent/x.csv"}, 3,
			"absent/x.csv: there is no such file\n" +
				"bad.csv:2: batch: no batch \"B2\"; the study has B1\n" +
				"bad.csv:2: value: \"acid\" is no number; leave the field empty where it was not tested\n" +
				"shelfspan: input rejected: 3 faults; nothing was taken in\nhint: check the name and the folder\n"},
		{"the same file twice", []string{"-s", "study.toml", "-r", "good.csv", "-r", "good.csv"}, 3,
			"good.csv: the same bytes as good.csv; name each file once\nshelfspan: input rejected: 1 fault; nothing was taken in\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, status, stderr := probe(t, "", c.args...)
			if d != nil {
				t.Error("a dataset beside an error")
			}
			if status != c.status {
				t.Errorf("exit status %d, want %d", status, c.status)
			}
			if diff := cmp.Diff(c.want, stderr); diff != "" {
				t.Error(diff)
			}
		})
	}
}
