package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// played is the program of a name in TestMain, not started yet. It is killed
// where it has not ended long after it should have.
func played(t *testing.T, name string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	t.Cleanup(cancel)
	c := exec.CommandContext(ctx, self)
	c.Args = append([]string{name}, args...)
	c.Env = append(os.Environ(), "GORACE=atexit_sleep_ms=0")
	return c
}

// endedBy gives the signal that ended a program, -1 where none did.
func endedBy(err error) syscall.Signal {
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		if status, ok := exit.Sys().(syscall.WaitStatus); ok && status.Signaled() {
			return status.Signal()
		}
	}
	return -1
}

// An interrupt ends the program whatever it is doing, such as waiting for its
// input.
func TestInterruptEndsTheProgram(t *testing.T) {
	c := played(t, "shelfspan", "plan", "-s", "-")
	in, err := c.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	// More than a pipe holds: once it is gone, the program is reading.
	if _, err := fmt.Fprint(in, strings.Repeat("# a line\n", 1<<17)); err != nil {
		t.Fatal(err)
	}
	if err := c.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if got := endedBy(c.Wait()); got != syscall.SIGINT {
		t.Errorf("ended by %v, want the interrupt", got)
	}
}

// writeInterrupted is a program that gets an interrupt while it writes a file.
func writeInterrupted() {
	err := uninterrupted(func() error {
		came := make(chan os.Signal, 1)
		signal.Notify(came, os.Interrupt)
		self, err := os.FindProcess(os.Getpid())
		if err != nil {
			return err
		}
		if err := self.Signal(os.Interrupt); err != nil {
			return err
		}
		<-came
		signal.Stop(came)
		return os.WriteFile(os.Args[1], []byte("whole"), 0o666)
	})
	fmt.Println("went on", err)
}

// A write that an interrupt falls into is ended first, and the program after it.
func TestInterruptWaitsForAWrite(t *testing.T) {
	path := filepath.Join(t.TempDir(), "file")
	out, err := played(t, "write-interrupted", path).CombinedOutput()
	if got := endedBy(err); got != syscall.SIGINT || len(out) > 0 {
		t.Errorf("ended by %v, and said %q", got, out)
	}
	if data, err := os.ReadFile(path); err != nil || string(data) != "whole" {
		t.Errorf("wrote %q, %v", data, err)
	}
}

// Where one of several files cannot be written, all stay as they were.
func TestReplaceFilesAllOrNone(t *testing.T) {
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a"), filepath.Join(dir, "none", "b")
	if err := os.WriteFile(a, []byte("old"), 0o666); err != nil {
		t.Fatal(err)
	}
	err := replaceFiles([]string{a, b}, map[string][]byte{a: []byte("new"), b: []byte("new")})
	if want := b + " cannot be written: no such file or directory"; err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	if data, _ := os.ReadFile(a); string(data) != "old" {
		t.Errorf("the first file holds %q", data)
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("left behind: %v", left)
	}
	if err := replaceFiles([]string{a}, map[string][]byte{a: []byte("new")}); err != nil {
		t.Fatal(err)
	}
	if data, _ := os.ReadFile(a); string(data) != "new" {
		t.Errorf("the file holds %q", data)
	}
}
