package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/protocol"
	"shelfspan/study/spelling"
)

// standardInput is how "-" is named in a fault.
const standardInput = "standard input"

// The formats an answer can be written in.
const (
	formatText = "text"
	formatJSON = "json"
	formatCSV  = "csv"
)

// studyFlag is --study, -s: the study file.
func studyFlag() *cli.StringFlag {
	return &cli.StringFlag{Name: "study", Aliases: []string{"s"}, Usage: "the study `FILE` (- for standard input)"}
}

// formatFlag is --format: text, json or csv, and more where a command has more.
func formatFlag(more ...string) *cli.StringFlag {
	return formatOf(append([]string{formatText, formatJSON, formatCSV}, more...))
}

// plainFormatFlag is --format of the commands whose answer is no table.
func plainFormatFlag() *cli.StringFlag { return formatOf([]string{formatText, formatJSON}) }

func formatOf(known []string) *cli.StringFlag {
	all := strings.Join(known[:len(known)-1], ", ") + " or " + known[len(known)-1]
	return &cli.StringFlag{
		Name: "format", Value: formatText, Usage: "`FORMAT` of the answer: " + all,
		Action: func(_ *cli.Context, v string) error {
			if slices.Contains(known, v) {
				return nil
			}
			e := &usageError{text: fmt.Sprintf("no format %q", v), hint: "--format takes " + all}
			if near := spelling.Nearest(v, known); near != "" {
				e.hint = "did you mean --format " + near + "?"
			}
			return e
		},
	}
}

// outFlag is --out, -o; usage names what is written, with its value in
// backquotes.
func outFlag(usage string) *cli.StringFlag {
	return &cli.StringFlag{Name: "out", Aliases: []string{"o"}, Usage: usage}
}

// loadStudy reads the study file of --study.
func loadStudy(c *cli.Context) (*study.Study, study.Input, error) {
	path := c.String("study")
	if path == "" {
		return nil, study.Input{}, &usageError{
			text: c.Command.Name + " needs a study file",
			hint: "name it with --study FILE; shelfspan init writes one to start from",
		}
	}
	in, name, err := openInput(c, path)
	if err != nil {
		return nil, study.Input{}, err
	}
	defer in.Close()
	data, err := io.ReadAll(io.LimitReader(in, protocol.MaxBytes+1)) // the one byte more is refused by Read
	if err != nil {
		return nil, study.Input{}, inputFault(name, err)
	}
	s, err := protocol.Read(name, data)
	if err != nil {
		return nil, study.Input{}, err
	}
	sum := sha256.Sum256(data)
	return s, study.Input{Path: path, SHA256: hex.EncodeToString(sum[:])}, nil
}

// openInput opens a file, or standard input for "-", and gives the name that
// faults in it carry. A file that is missing, a directory or not to be read is
// a *finding.Faults.
func openInput(c *cli.Context, path string) (in io.ReadCloser, name string, err error) {
	if path == "" {
		return nil, "", &usageError{text: "an empty file name", hint: "--study FILE and --results FILE take a file, or - for standard input"}
	}
	if path == "-" {
		return io.NopCloser(c.App.Reader), standardInput, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, path, inputFault(path, err)
	}
	info, err := f.Stat()
	if err == nil && info.IsDir() {
		f.Close()
		return nil, path, &finding.Faults{
			List: []finding.Fault{{File: path, Text: "is a directory, not a file"}},
			Hint: "name the file in it, as " + filepath.Join(path, "FILE"),
		}
	}
	if err != nil {
		f.Close()
		return nil, path, inputFault(path, err)
	}
	return f, path, nil
}

// inputFault says in plain words why a file cannot be read.
func inputFault(path string, err error) error {
	faults := &finding.Faults{List: []finding.Fault{{File: path}}}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		faults.List[0].Text = "there is no such file"
		faults.Hint = "check the name and the folder"
		if near := nearestFile(path); near != "" {
			faults.Hint = "did you mean " + near + "?"
		} else if strings.Contains(path, ",") {
			faults.Hint = "several files are named one by one, as --results FILE --results FILE"
		}
	case errors.Is(err, fs.ErrPermission):
		faults.List[0].Text = "may not be read"
		faults.Hint = "ask for permission to read it, or copy it to a folder of your own"
	default:
		var p *fs.PathError
		if errors.As(err, &p) {
			err = p.Err
		}
		faults.List[0].Text = "cannot be read: " + err.Error()
	}
	return faults
}

// nearestFile gives the file of the same extension in the same folder that a
// mistyped path was likely meant to be, or the empty string.
func nearestFile(path string) string {
	dir, base := filepath.Split(path)
	entries, err := os.ReadDir(filepath.Clean(dir + "."))
	if err != nil {
		return ""
	}
	var known []string
	for _, e := range entries {
		if !e.IsDir() && strings.EqualFold(filepath.Ext(e.Name()), filepath.Ext(base)) {
			known = append(known, e.Name())
		}
	}
	if near := spelling.Nearest(base, known); near != "" {
		return dir + near
	}
	return ""
}
