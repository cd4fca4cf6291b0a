package main

import (
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"time"
)

// replaceFile writes a file whole or not at all.
func replaceFile(path string, data []byte) error {
	return replaceFiles([]string{path}, map[string][]byte{path: data})
}

// replaceFiles writes files whole or not at all: all of them beside their
// places first, then renamed into them, so that a full disk leaves the files of
// before. An interrupt meanwhile ends the program when that is done.
func replaceFiles(paths []string, data map[string][]byte) error {
	return uninterrupted(func() (err error) {
		var beside []string
		defer func() {
			for _, name := range beside {
				err = errors.Join(err, os.Remove(name))
			}
		}()
		for _, path := range paths {
			name, err := writeBeside(path, data[path])
			if err != nil {
				return fmt.Errorf("%s cannot be written: %w", path, plainCause(err))
			}
			beside = append(beside, name)
		}
		for _, path := range paths {
			if err := os.Rename(beside[0], path); err != nil {
				return fmt.Errorf("%s cannot be written: %w", path, plainCause(err))
			}
			beside = beside[1:]
		}
		return nil
	})
}

// writeBeside writes a temporary file in the folder of a path and gives its
// name; it leaves none where it fails.
func writeBeside(path string, data []byte) (string, error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return "", err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return "", errors.Join(err, os.Remove(f.Name()))
	}
	return f.Name(), nil
}

// uninterrupted holds back an interrupt (Ctrl-C) that comes during a write, so
// that no half of it is left, and lets it end the program afterwards.
func uninterrupted(write func() error) error {
	held := make(chan os.Signal, 1)
	signal.Notify(held, os.Interrupt)
	err := write()
	signal.Stop(held)
	select {
	case <-held:
		// The signal itself, so that the shell knows: a loop in it ends too.
		if self, err := os.FindProcess(os.Getpid()); err == nil && self.Signal(os.Interrupt) == nil {
			time.Sleep(time.Second) // it arrives before
		}
		os.Exit(statusFailed)
	default:
	}
	return err
}
