package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/study/spelling"
)

// permute moves a command's options before its arguments, since urfave/cli v2
// stops at the first argument and silently takes what follows as arguments.
// "--" ends the options, "-" (standard input) and negative numbers are
// arguments or an option's value, never options themselves. An option that
// takes one value and is given two is refused: the library would drop the first.
func permute(app *cli.App, args []string) ([]string, error) {
	if len(args) < 2 {
		return args, nil
	}
	command := app.Command(args[1])
	if command == nil {
		return args, nil
	}
	known := map[string]cli.Flag{}
	for _, f := range command.Flags {
		for _, name := range f.Names() {
			known[name] = f
		}
	}
	given := map[cli.Flag]bool{}
	options, rest := []string{}, []string{}
	for i := 2; i < len(args); i++ {
		a := args[i]
		switch {
		case a == "--":
			rest = append(rest, args[i+1:]...)
			i = len(args)
		case len(a) < 2 || a[0] != '-' || isNumber(a):
			rest = append(rest, a)
		default:
			name, value, hasValue := strings.Cut(strings.TrimLeft(a, "-"), "=")
			f := known[name]
			_, isBool := f.(*cli.BoolFlag)
			if f == nil || isBool || !hasValue && i+1 == len(args) {
				options = append(options, a) // the library complains where it must
				continue
			}
			if !hasValue {
				i++
				value = args[i]
			}
			if _, repeatable := f.(*cli.StringSliceFlag); !repeatable && given[f] {
				return nil, &usageError{text: "--" + f.Names()[0] + " is given twice", hint: "it takes one value"}
			}
			given[f] = true
			// The library takes one form of an option's name in a call, not two.
			options = append(options, "--"+f.Names()[0]+"="+value)
		}
	}
	out := append([]string{args[0], args[1]}, options...)
	if len(rest) > 0 {
		out = append(out, "--")
	}
	return append(out, rest...), nil
}

func isNumber(s string) bool {
	return len(s) > 1 && s[0] == '-' && (s[1] >= '0' && s[1] <= '9' || s[1] == '.')
}

// onUsageError turns the library's complaint about an option into ours.
func onUsageError(c *cli.Context, err error, _ bool) error {
	text := err.Error()
	e := &usageError{text: text, hint: "shelfspan " + c.Command.Name + " --help lists the options"}
	if c.Command.Name == c.App.Name { // no command yet
		e.hint = "options stand behind the command, as shelfspan plan --study FILE"
	}
	if name, ok := strings.CutPrefix(text, "flag provided but not defined: -"); ok {
		e.text = fmt.Sprintf("no option --%s", strings.TrimLeft(name, "-"))
		var known []string
		for _, f := range c.Command.Flags {
			known = append(known, f.Names()...)
		}
		if near := spelling.Nearest(strings.TrimLeft(name, "-"), known); near != "" {
			e.hint = "did you mean --" + near + "?"
		}
	}
	if name, ok := strings.CutPrefix(text, "flag needs an argument: "); ok {
		if len(name) > 2 && !strings.HasPrefix(name, "--") {
			name = "-" + name // the long name is told with one dash
		}
		e.text = "option " + name + " needs a value"
	}
	return e
}

// unknownCommand refuses a word that is no command.
func unknownCommand(app *cli.App, name string) error {
	e := &usageError{text: fmt.Sprintf("no command %q", name), hint: "shelfspan --help lists the commands"}
	var known []string
	for _, c := range app.Commands {
		known = append(known, c.Name)
	}
	if near := spelling.Nearest(name, known); near != "" {
		e.hint = "did you mean shelfspan " + near + "?"
	}
	return e
}

// noArguments refuses arguments to a command that takes none.
func noArguments(c *cli.Context) error {
	if !c.Args().Present() {
		return nil
	}
	return &usageError{
		text: fmt.Sprintf("%s takes no argument %q", c.Command.Name, c.Args().First()),
		hint: "files are named by options, such as --study FILE and --results FILE",
	}
}
