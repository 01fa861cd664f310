package main

import (
	"embed"
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"
)

// completionScripts ask the program itself, through its hidden command candidates.
//
//go:embed completion
var completionScripts embed.FS

// shells are those that there is a script for.
var shells = []string{"bash", "zsh", "fish", "powershell"}

func completionCommand() *cli.Command {
	return &cli.Command{
		Name:      "completion",
		Usage:     "print a shell's completion script",
		ArgsUsage: "bash | zsh | fish | powershell",
		Description: `Completes commands, options, topics and values: the forms of --write, the
profiles and benchmarks of the files on the line, corrections, policies.

Examples:
   source <(tunegate completion bash)
   source <(tunegate completion zsh)
   tunegate completion fish | source
   tunegate completion powershell | Out-String | Invoke-Expression

Exit status: 0 printed; 2 unknown shell.`,
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action: func(c *cli.Context) error {
			script, err := completionScripts.ReadFile("completion/" + c.Args().First())
			if err != nil || c.NArg() != 1 {
				return fmt.Errorf("expected one of %s; got %q", strings.Join(shells, ", "), c.Args().First())
			}
			_, err = c.App.Writer.Write(script)
			return err
		},
	}
}

// candidatesCommand is what the scripts call: with the words before the one in the
// making, and that one with "=" before it, since some shells pass no empty word. It
// prints a candidate a line, and behind a tab what it is.
func candidatesCommand() *cli.Command {
	return &cli.Command{
		Name:            "candidates",
		Hidden:          true,
		HideHelp:        true,
		HideHelpCommand: true,
		SkipFlagParsing: true,
		Action: func(c *cli.Context) error {
			words := c.Args().Slice()
			if len(words) == 0 {
				return nil
			}
			last := strings.TrimPrefix(words[len(words)-1], "=")
			for _, found := range candidates(c.App, words[:len(words)-1], last) {
				text, about := printable(found.text), printable(strings.ReplaceAll(found.about, "\t", " "))
				if text != found.text || strings.HasPrefix(text, "-") && found.value {
					continue // no shell could pass it on as it is
				}
				if _, err := fmt.Fprintf(c.App.Writer, "%s\t%s\n", text, about); err != nil {
					return err
				}
			}
			return nil
		},
	}
}
