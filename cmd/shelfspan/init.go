package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/protocol"
	"shelfspan/study/spelling"
)

// initCommand is shelfspan init.
func initCommand() *cli.Command {
	return &cli.Command{
		Name:  "init",
		Usage: "write a commented study file to start from",
		UsageText: `shelfspan init --out study.toml
shelfspan init --template pressurised --id FOAM-7 --start 2026-03-02 --out foam.toml
shelfspan init --template blank > study.toml`,
		Description: `Templates: cream (tube and jar), lotion (pump bottle, temperature cycles),
pressurised (can, with cautions) and blank (every key there is).
The file can be planned as it is: shelfspan plan --study study.toml.
A file that exists is never overwritten.`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "template", Aliases: []string{"t"}, Value: protocol.Templates()[0],
				Usage: "`NAME` of the starter: " + strings.Join(protocol.Templates(), ", ")},
			&cli.StringFlag{Name: "id", Usage: "`ID` of the study, put into the file"},
			&cli.StringFlag{Name: "start", Usage: "`DAY` the samples enter storage, as 2026-01-31, put into the file"},
			outFlag("`FILE` to write, or a directory to write study.toml into (default: standard output)"),
		},
		Action: runInit,
	}
}

func runInit(c *cli.Context) error {
	if err := noArguments(c); err != nil {
		return err
	}
	text, err := starter(c)
	if err != nil {
		return err
	}
	out := c.String("out")
	if out == "" || out == "-" {
		if _, err := io.WriteString(c.App.Writer, text); err != nil {
			return err
		}
		fmt.Fprintln(c.App.ErrWriter, "next: save it with --out study.toml, change it to suit, then: shelfspan plan --study study.toml")
		return nil
	}
	info, err := os.Stat(out)
	if err == nil && info.IsDir() || err != nil && !strings.EqualFold(filepath.Ext(out), ".toml") {
		out = filepath.Join(out, "study.toml")
	}
	if dir := filepath.Dir(out); dir != "." {
		if err := os.MkdirAll(dir, 0o777); err != nil {
			return &hintedError{fmt.Errorf("%s cannot be made a directory: %w", dir, plainCause(err)), "--out takes a FILE.toml or a directory to write into"}
		}
	}
	if err := writeNew(out, text); err != nil {
		return err
	}
	fmt.Fprintf(c.App.Writer, "%s written (template %s)\nnext: change it to suit, then: shelfspan plan --study %s\n", out, c.String("template"), shellWord(out))
	return nil
}

var (
	idLine    = regexp.MustCompile(`(?m)^(id\s*= )"[^"]*"`)
	startLine = regexp.MustCompile(`(?m)^(start\s*= )\d{4}-\d\d-\d\d`)
)

// starter gives the template asked for with the id and start put in.
func starter(c *cli.Context) (string, error) {
	name := c.String("template")
	text, ok := protocol.Template(name)
	if !ok {
		e := &usageError{text: fmt.Sprintf("no template %q", name), hint: "the templates are " + strings.Join(protocol.Templates(), ", ")}
		if near := spelling.Nearest(name, protocol.Templates()); near != "" {
			e.hint = "did you mean --template " + near + "?"
		}
		return "", e
	}
	if c.IsSet("id") {
		quoted, err := json.Marshal(c.String("id")) // a JSON string is a TOML string
		if err != nil {
			return "", err
		}
		text = replaceFirst(idLine, text, string(quoted))
	}
	if c.IsSet("start") {
		if _, err := study.ParseDate(c.String("start")); err != nil {
			return "", &usageError{text: "--start: " + err.Error()}
		}
		text = replaceFirst(startLine, text, c.String("start"))
	}
	// The templates are right as they are, so what is wrong came by an option.
	if _, err := protocol.Read("", []byte(text)); err != nil {
		var faults *finding.Faults
		if errors.As(err, &faults) && faults.List[0].Column != "" {
			return "", &usageError{text: "--" + faults.List[0].Column + ": " + faults.List[0].Text}
		}
		return "", err
	}
	return text, nil
}

// replaceFirst puts a value behind the first match's key.
func replaceFirst(line *regexp.Regexp, text, value string) string {
	m := line.FindStringSubmatchIndex(text)
	if m == nil {
		return text
	}
	return text[:m[3]] + value + text[m[1]:]
}

// writeNew writes a file that must not exist yet.
func writeNew(path, text string) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	switch {
	case errors.Is(err, fs.ErrExist):
		return &hintedError{fmt.Errorf("%s exists and is left as it is", path), "choose another name with --out, or move that file away first"}
	case errors.Is(err, fs.ErrPermission):
		return &hintedError{fmt.Errorf("%s may not be written", path), "write to a folder of your own with --out"}
	case err != nil:
		return err
	}
	_, err = f.WriteString(text)
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, errors.Join(plainCause(err), os.Remove(path))) // half a study file is worse than none
	}
	return nil
}

// shellWord writes a path so that it can be pasted into a command line.
func shellWord(path string) string {
	if strings.ContainsAny(path, " \t'\"$&;()*?<>|\\`") {
		return "'" + strings.ReplaceAll(path, "'", `'\''`) + "'"
	}
	return path
}
