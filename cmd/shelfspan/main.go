// Command shelfspan plans storage stability studies and works out the shelf
// life that their results support.
//
// Rules of its terminal output: answers go to standard output, progress and
// warnings to standard error. An error is one line "shelfspan: what went
// wrong", then, where one helps, "hint: what to do"; faults of an input stand
// one a line as FILE:LINE: what is wrong. A stack trace is never shown.
//
// Exit status: 0 done, 1 failed at run time, 2 wrong usage, 3 input rejected
// (nothing was taken in), 4 the claim is not supported (--require-claim).
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/study/finding"
	"shelfspan/study/ledger"
)

// version is what every answer carries.
const version = "0.1.0"

// Exit statuses.
const (
	statusFailed      = 1
	statusUsage       = 2
	statusRejected    = 3
	statusUnsupported = 4
)

// usageError is a wrong call of the program.
type usageError struct{ text, hint string }

func (e *usageError) Error() string { return e.text }

// hintedError is a failure with a hint on what to do.
type hintedError struct {
	err  error
	hint string
}

func (e *hintedError) Error() string { return e.err.Error() }
func (e *hintedError) Unwrap() error { return e.err }

// errUnsupported ends a run whose answer was written but whose claim the data
// do not support.
var errUnsupported = errors.New("the data do not support the claim")

func main() {
	os.Exit(run(context.Background(), os.Args, os.Stdin, os.Stdout, os.Stderr))
}

// run is the program without its process: it returns the exit status.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) (status int) {
	defer func() {
		if r := recover(); r != nil {
			fmt.Fprintf(stderr, "shelfspan: a fault in the program itself: %v\n", r)
			fmt.Fprintln(stderr, "hint: no file was changed by it; please report the command and its input to whoever maintains this program")
			status = statusFailed
		}
	}()
	app := newApp(stdin, stdout, stderr)
	return report(stderr, play(ctx, app, args))
}

// play runs one command line.
func play(ctx context.Context, app *cli.App, args []string) error {
	if n := len(args) - 1; n > 0 && args[n] == completionRequest {
		return complete(ctx, app, args[1:n])
	}
	args, err := permute(app, args)
	if err != nil {
		return err
	}
	return app.RunContext(ctx, args)
}

// report writes an error as the head of this file says and returns the exit
// status it stands for.
func report(stderr io.Writer, err error) int {
	if err == nil {
		return 0
	}
	var faults *finding.Faults
	var usage *usageError
	var hinted *hintedError
	var refusal *ledger.Refusal
	var trouble *ledger.Trouble
	switch {
	case errors.Is(err, errUnsupported):
		fmt.Fprintf(stderr, "shelfspan: %v\n", err)
		return statusUnsupported
	case errors.As(err, &faults):
		fmt.Fprintln(stderr, faults)
		n := len(faults.List) + faults.More
		what := "1 fault"
		if n != 1 {
			what = fmt.Sprintf("%d faults", n)
		}
		fmt.Fprintf(stderr, "shelfspan: input rejected: %s; nothing was taken in\n", what)
		if faults.Hint != "" {
			fmt.Fprintf(stderr, "hint: %s\n", faults.Hint)
		}
		return statusRejected
	case errors.As(err, &usage):
		fmt.Fprintf(stderr, "shelfspan: %s\n", usage.text)
		if usage.hint != "" {
			fmt.Fprintf(stderr, "hint: %s\n", usage.hint)
		}
		return statusUsage
	case errors.As(err, &refusal):
		fmt.Fprintf(stderr, "shelfspan: %s\n", refusal.Text)
		if refusal.Hint != "" {
			fmt.Fprintf(stderr, "hint: %s\n", refusal.Hint)
		}
		return statusRejected
	case errors.As(err, &trouble) && trouble.Hint != "":
		err = &hintedError{err: err, hint: trouble.Hint}
	}
	fmt.Fprintf(stderr, "shelfspan: %s\n", strings.TrimSpace(err.Error()))
	if errors.As(err, &hinted) {
		fmt.Fprintf(stderr, "hint: %s\n", hinted.hint)
	}
	return statusFailed
}

// newApp builds the command line.
func newApp(stdin io.Reader, stdout, stderr io.Writer) *cli.App {
	app := &cli.App{
		Name:                      "shelfspan",
		Usage:                     "plan storage stability studies and work out the shelf life their results support",
		Version:                   version,
		Reader:                    stdin,
		Writer:                    stdout,
		ErrWriter:                 stderr,
		HideHelpCommand:           true,
		DisableSliceFlagSeparator: true,
		Commands:                  commands(),
		ExitErrHandler:            func(*cli.Context, error) {},
		OnUsageError:              onUsageError,
		Action: func(c *cli.Context) error {
			if c.Args().Present() {
				return unknownCommand(c.App, c.Args().First())
			}
			return cli.ShowAppHelp(c)
		},
	}
	for _, c := range app.Commands {
		c.OnUsageError = onUsageError
	}
	return app
}

// commands lists what the program can do, in the order of the work.
func commands() []*cli.Command {
	return []*cli.Command{
		initCommand(),
		planCommand(),
		registerCommand(),
		dueCommand(),
		pullCommand(),
		worksheetCommand(),
		intakeCommand(),
		resultsCommand(),
		amendCommand(),
		statusCommand(),
		auditCommand(),
		trendCommand(),
		shelfLifeCommand(),
		arrheniusCommand(),
		interactionsCommand(),
		mktCommand(),
		reportCommand(),
		demoCommand(),
		completionCommand(),
	}
}
