package main

import (
	"fmt"
	"io"

	"github.com/urfave/cli/v2"
)

// The scripts ask the program itself what may come next; file names complete
// where it has nothing to offer.
const (
	bashCompletion = `_shelfspan() {
	local current="${COMP_WORDS[COMP_CWORD]}" words
	if [[ $current == -* ]]; then
		words=$("${COMP_WORDS[@]:0:COMP_CWORD}" "$current" --generate-bash-completion 2>/dev/null)
	else
		words=$("${COMP_WORDS[@]:0:COMP_CWORD}" --generate-bash-completion 2>/dev/null)
	fi
	COMPREPLY=($(compgen -W "$words" -- "$current"))
}
complete -o bashdefault -o default -F _shelfspan shelfspan
`
	zshCompletion = `autoload -U compinit && compinit
autoload -U bashcompinit && bashcompinit
` + bashCompletion
)

func completionCommand() *cli.Command {
	return &cli.Command{
		Name:      "completion",
		Usage:     "a script that lets the shell complete commands and options",
		ArgsUsage: "bash|zsh|fish",
		UsageText: `shelfspan completion bash|zsh|fish

   source <(shelfspan completion bash)        in ~/.bashrc
   source <(shelfspan completion zsh)         in ~/.zshrc
   shelfspan completion fish | source         in ~/.config/fish/config.fish`,
		BashComplete: func(c *cli.Context) { fmt.Fprint(c.App.Writer, "bash\nzsh\nfish\n") },
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
