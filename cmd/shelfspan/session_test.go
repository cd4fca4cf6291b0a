package main

import (
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"shelfspan": mainAtTestTime, "write-interrupted": writeInterrupted})
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
// program as a person types them, with the real main.
func TestSessions(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata",
		RequireExplicitExec: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("GORACE", "atexit_sleep_ms=0") // the race detector keeps every program a second at its end
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"exits": exits,
		},
	})
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
