package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rogpeppe/go-internal/testscript"

	"shelfspan/study/ledger/ledgertest"
)

func TestMain(m *testing.M) {
	testscript.Main(tidied{m}, map[string]func(){"shelfspan": mainAtTestTime, "write-interrupted": writeInterrupted})
}

// tidied are the tests, and the removal of the program that some of them built.
type tidied struct{ *testing.M }

func (m tidied) Run() int {
	status := m.M.Run()
	if builtIn != "" {
		os.RemoveAll(builtIn)
	}
	return status
}

// testTime is the variable a session sets the clock by.
const testTime = "TEST_TIME"

// mainAtTestTime is the program with the clock that a session sets.
func mainAtTestTime() {
	if v := os.Getenv(testTime); v != "" {
		at, err := time.Parse(time.RFC3339, v)
		if err != nil {
			panic(err)
		}
		now = func() time.Time { return at }
	}
	main()
}

// TestSessions plays every session of testdata/*.txtar: whole uses of the
// program as a person types them, with the real main. A ledger is what the
// program makes where none is named, a file.
func TestSessions(t *testing.T) {
	playSessions(t, sessions(t, ""), func(e *testscript.Env) error {
		e.Setenv(ledgerHere, ledgerFile)
		e.Setenv(ledgerShown, ledgerFile)
		return nil
	})
}

// TestSessionsOnServer plays those that register a study once more, each with a
// database of a server for its ledger, and expects the same of them.
func TestSessionsOnServer(t *testing.T) {
	server := ledgertest.Server(t)
	playSessions(t, sessions(t, "exec shelfspan register "), func(e *testscript.Env) error {
		where, drop, err := ledgertest.Make(server)
		if err != nil {
			return err
		}
		e.Defer(func() {
			if err := drop(); err != nil {
				t.Error(err)
			}
		})
		u, err := url.Parse(where)
		if err != nil {
			return err
		}
		e.Setenv(ledgerVariable, where)
		e.Setenv(ledgerHere, where)
		e.Setenv(ledgerShown, "postgres://"+u.Host+u.Path)
		e.Defer(func() {
			if _, err := os.Stat(filepath.Join(e.WorkDir, ledgerFile)); err == nil {
				t.Errorf("%s: a file was made for a ledger", filepath.Base(e.WorkDir))
			}
		})
		return nil
	})
}

// The variables by which a session names its ledger, and finds it named.
const (
	ledgerHere  = "LEDGER"       // as --ledger takes it
	ledgerShown = "LEDGER_SHOWN" // as an answer has it: without user and password
)

// sessions gives the sessions in which a text stands.
func sessions(t *testing.T, text string) []string {
	t.Helper()
	all, err := filepath.Glob(filepath.Join("testdata", "*.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	chosen := slices.DeleteFunc(all, func(path string) bool {
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return !strings.Contains(string(content), text)
	})
	if len(chosen) == 0 {
		t.Fatalf("no session has %q", text)
	}
	return chosen
}

// playSessions plays sessions, each prepared with its ledger.
func playSessions(t *testing.T, files []string, prepare func(*testscript.Env) error) {
	testscript.Run(t, testscript.Params{
		Files:               files,
		RequireExplicitExec: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("GORACE", "atexit_sleep_ms=0") // the race detector keeps every program a second at its end
			reference, err := filepath.Abs(filepath.Join("..", "..", "testdata", "reference"))
			e.Setenv("REFERENCE", reference)
			return errors.Join(err, prepare(e))
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"exits":   exits,
			"fill":    fill,
			"replace": replace,

			"same-but": sameBut,

			"amend-first": amendFirst,
		},
	})
}

// amendFirst plays "amend-first RESULTS OPTION…": the first result of a table that
// results wrote is amended.
func amendFirst(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: amend-first RESULTS OPTION…")
	}
	rows, err := csv.NewReader(strings.NewReader(ts.ReadFile(args[0]))).ReadAll()
	ts.Check(err)
	ts.Check(ts.Exec("shelfspan", append([]string{"amend", rows[1][0]}, args[1:]...)...))
}

// sameBut plays "same-but A B KEY…": two JSON answers that differ in nothing but the
// keys named.
func sameBut(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: same-but A B KEY…")
	}
	var answers [2]map[string]any
	for i := range answers {
		ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[i])), &answers[i]))
		for _, key := range args[2:] {
			delete(answers[i], key)
		}
	}
	if diff := cmp.Diff(answers[1], answers[0]); diff != "" {
		ts.Fatalf("%s", diff)
	}
}

// replace plays "replace WORDS FROM TO": the first line of WORDS stands in the
// copy TO as the second one.
func replace(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: replace WORDS FROM TO")
	}
	words := strings.Split(strings.TrimSpace(ts.ReadFile(args[0])), "\n")
	from := ts.ReadFile(args[1])
	if len(words) != 2 || !strings.Contains(from, words[0]) {
		ts.Fatalf("%s has no %q", args[1], words[0])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[2]), []byte(strings.ReplaceAll(from, words[0], words[1])), 0o644))
}

// fill plays "fill WORKSHEET FILLED ATTRIBUTE=VALUE…": what a technician does with
// a worksheet in a spreadsheet. A value is written as it is, or, as 26000+10, with
// so much more on each row of its attribute.
func fill(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: fill WORKSHEET FILLED ATTRIBUTE=VALUE…")
	}
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(ts.ReadFile(args[0]), "\ufeff"))).ReadAll()
	ts.Check(err)
	attribute, value := slices.Index(rows[0], "attribute"), slices.Index(rows[0], "value")
	seen := map[string]int{}
	for _, row := range rows[1:] {
		for _, arg := range args[2:] {
			name, what, _ := strings.Cut(arg, "=")
			if name != row[attribute] {
				continue
			}
			start, step, counts := strings.Cut(what, "+")
			if row[value] = what; counts {
				from, err := strconv.ParseFloat(start, 64)
				ts.Check(err)
				more, err := strconv.ParseFloat(step, 64)
				ts.Check(err)
				row[value] = strconv.FormatFloat(from+more*float64(seen[name]), 'f', -1, 64)
			}
			seen[name]++
		}
	}
	var out strings.Builder
	ts.Check(csv.NewWriter(&out).WriteAll(rows))
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(out.String()), 0o644))
}

// exits plays "exits STATUS PROGRAM ARG…": the program must end with just that
// exit status. Its output is read back with "stdout" and "stderr" patterns.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits STATUS PROGRAM ARG…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		status, ok := err.(interface{ ExitCode() int })
		if !ok {
			ts.Fatalf("%s did not run: %v", args[1], err)
		}
		got = status.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}
