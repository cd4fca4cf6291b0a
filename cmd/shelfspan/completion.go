package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/labels"
	"shelfspan/reports/words"
	"shelfspan/study/ledger"
	"shelfspan/study/logger"
	"shelfspan/study/protocol"
)

// The scripts ask the program itself what may come next; file names complete
// where it has nothing to offer.
const (
	bashCompletion = `_shelfspan() {
	local current="${COMP_WORDS[COMP_CWORD]}" words
	[[ $current == "=" ]] && current=""
	words=$("${COMP_WORDS[@]:0:COMP_CWORD}" "$current" --generate-bash-completion 2>/dev/null)
	COMPREPLY=($(compgen -W "$words" -- "$current"))
}
complete -o bashdefault -o default -F _shelfspan shelfspan
`
	zshCompletion = `autoload -U compinit && compinit
autoload -U bashcompinit && bashcompinit
` + bashCompletion
)

// completionRequest is the last word of a command line that a shell asks to
// complete; the word being typed, which may be empty, stands before it.
const completionRequest = "--generate-bash-completion"

// complete writes what may come next, a word a line: commands, the options not
// given yet, the values of an option that has a fixed set of them, or the studies,
// pulls and chambers of the ledger. It writes nothing where a file name or a free
// value belongs.
func complete(ctx context.Context, app *cli.App, words []string) error {
	var next []string
	options := func(flags []cli.Flag, given map[string]bool) {
		for _, f := range flags {
			_, repeatable := f.(*cli.StringSliceFlag)
			if name := f.Names()[0]; repeatable || !given[name] {
				next = append(next, "--"+name)
			}
		}
		next = append(next, "--help")
	}
	typed := ""
	if n := len(words); n > 0 {
		typed, words = words[n-1], words[:n-1]
	}
	switch {
	case len(words) == 0 && strings.HasPrefix(typed, "-"):
		options(nil, nil)
		next = append(next, "--version")
	case len(words) == 0:
		for _, c := range app.Commands {
			next = append(next, c.Name)
		}
	default:
		command := app.Command(words[0])
		if command == nil {
			break
		}
		given, open := given(command, words[1:])
		switch {
		case open != nil:
			next = append(valuesOf(open), idsFor(ctx, open.Names()[0], command, words[1:])...)
		case command.Name == "completion":
			next = shells
		default:
			if !strings.HasPrefix(typed, "-") {
				next = idsFor(ctx, argument, command, words[1:])
			}
			options(command.Flags, given)
		}
	}
	for _, word := range next {
		if _, err := fmt.Fprintln(app.Writer, word); err != nil {
			return err
		}
	}
	return nil
}

// given gives the options on a command line, and that whose value is to follow.
func given(command *cli.Command, words []string) (names map[string]bool, open cli.Flag) {
	names = map[string]bool{}
	for _, word := range words {
		if open != nil {
			if word != "=" { // which bash takes for a word of its own
				open = nil
			}
			continue
		}
		name, _, joined := strings.Cut(strings.TrimLeft(word, "-"), "=")
		for _, f := range command.Flags {
			if !strings.HasPrefix(word, "-") || !slices.Contains(f.Names(), name) {
				continue
			}
			names[f.Names()[0]] = true
			if _, isBool := f.(*cli.BoolFlag); !isBool && !joined {
				open = f
			}
		}
	}
	return names, open
}

// valuesOf gives the values of an option that takes one of a few.
func valuesOf(f cli.Flag) []string {
	switch f.Names()[0] {
	case "format":
		_, list, _ := strings.Cut(f.(*cli.StringFlag).Usage, ": ")
		return strings.Split(strings.ReplaceAll(list, " or ", ", "), ", ")
	case "code":
		return []string{string(labels.QR), string(labels.Code128)}
	case "separator":
		return separatorNames
	case "kind":
		return kindNames()
	case "template":
		return protocol.Templates()
	case "model":
		return modelNames
	case "adjust":
		return adjustNames
	case "batches":
		return batchesNames
	case "section":
		return sectionNames
	case "lang":
		return words.Languages
	case "unit":
		return []string{string(logger.Celsius), string(logger.Fahrenheit)}
	case "dates":
		return []string{dayFirst, monthFirst}
	}
	return nil
}

// argument stands for the argument of a command where the name of an option may.
const argument = ""

// idsFor gives the ids of the ledger that an option or the argument of a command
// takes; nothing where it takes none, or where there is no ledger to be read.
func idsFor(ctx context.Context, option string, command *cli.Command, words []string) []string {
	if !slices.ContainsFunc(command.Flags, func(f cli.Flag) bool { return f.Names()[0] == "ledger" }) {
		return nil
	}
	where := ledgerIn(words)
	files := slices.ContainsFunc(command.Flags, func(f cli.Flag) bool { return f.Names()[0] == "results" })
	switch {
	case option == "study" && (!files || where != ""):
	case option == "pull", option == "chamber", option == argument && (command.Name == "pull" || command.Name == "worksheet"):
	default:
		return nil
	}
	ctx, stop := context.WithTimeout(ctx, patience)
	defer stop()
	l, err := ledger.Open(ctx, cmp.Or(where, os.Getenv(ledgerVariable), ledgerFile))
	if err != nil {
		return nil
	}
	defer l.Close()
	if option == "study" {
		ids, _ := l.Studies(ctx, ledger.AsOf{})
		return ids
	}
	planned, _ := l.Planned(ctx)
	if option == "chamber" {
		return chambersOf(planned)
	}
	ids := make([]string, len(planned))
	for i := range planned {
		ids[i] = planned[i].Pull
	}
	return ids
}

// patience is how long somebody who asks for completion waits for a server.
const patience = 2 * time.Second

// ledgerIn gives the ledger that a command line names; empty where it names none.
func ledgerIn(words []string) string {
	words = slices.DeleteFunc(slices.Clone(words), func(word string) bool { return word == "=" }) // which bash takes for a word of its own
	for i, word := range words {
		name, value, joined := strings.Cut(strings.TrimLeft(word, "-"), "=")
		if !strings.HasPrefix(word, "-") || name != "ledger" && name != "l" {
			continue
		}
		if !joined && i+1 < len(words) {
			return words[i+1]
		}
		return value
	}
	return ""
}

// shells are those that completion writes scripts for.
var shells = []string{"bash", "zsh", "fish"}

func completionCommand() *cli.Command {
	return &cli.Command{
		Name:      "completion",
		Usage:     "a script that lets the shell complete commands and options",
		ArgsUsage: "bash|zsh|fish",
		UsageText: `shelfspan completion bash|zsh|fish

   source <(shelfspan completion bash)        in ~/.bashrc
   source <(shelfspan completion zsh)         in ~/.zshrc
   shelfspan completion fish | source         in ~/.config/fish/config.fish`,
		Action: func(c *cli.Context) error {
			var script string
			switch shell := c.Args().First(); shell {
			case "bash":
				script = bashCompletion
			case "zsh":
				script = zshCompletion
			case "fish":
				var err error
				if script, err = c.App.ToFishCompletion(); err != nil {
					return err
				}
			case "":
				return &usageError{text: "completion needs the name of a shell", hint: "shelfspan completion bash, zsh or fish"}
			default:
				return &usageError{text: fmt.Sprintf("no completion for %q", shell), hint: "shelfspan completion bash, zsh or fish"}
			}
			_, err := io.WriteString(c.App.Writer, script)
			return err
		},
	}
}
