package main

import (
	"fmt"

	"github.com/urfave/cli/v2"
)

// completionScripts ask the program itself, through its hidden option
// --generate-bash-completion. It lists options when the last word begins with
// a dash; a single "--" would end the options.
var completionScripts = map[string]string{
	"bash": `_tunegate() {
  local IFS=$'\n' word="${COMP_WORDS[COMP_CWORD]}"
  local -a typed=("${COMP_WORDS[@]:0:COMP_CWORD}")
  if [[ $word == -* ]]; then typed+=("${word/#--/-}"); fi
  COMPREPLY=($(compgen -W "$("${typed[@]}" --generate-bash-completion 2>/dev/null)" -- "$word"))
}
complete -o default -F _tunegate tunegate
`,
	"zsh": `#compdef tunegate
_tunegate() {
  local word="${words[CURRENT]}"
  local -a typed found
  typed=("${words[@]:0:$((CURRENT-1))}")
  if [[ $word == -* ]]; then typed+=("${word/#--/-}"); fi
  found=("${(@f)$("${typed[@]}" --generate-bash-completion 2>/dev/null)}")
  if [[ -n "${found[1]}" ]]; then compadd -a found; fi
  _files
}
compdef _tunegate tunegate
`,
	"fish": `function __tunegate_words
  set -l typed (commandline -opc)
  set -l word (commandline -ct)
  if string match -q -- '-*' $word
    set -a typed (string replace -r '^--' '-' -- $word)
  end
  $typed --generate-bash-completion 2>/dev/null
end
complete -c tunegate -a '(__tunegate_words)'
`,
	"powershell": `Register-ArgumentCompleter -Native -CommandName tunegate -ScriptBlock {
  param($word, $ast, $position)
  $typed = @($ast.CommandElements | ForEach-Object { $_.ToString() })
  if ($word) { $typed = @($typed | Select-Object -SkipLast 1) }
  $rest = @($typed | Select-Object -Skip 1)
  if ($word -like '-*') { $rest += ($word -replace '^--', '-') }
  $rest += '--generate-bash-completion'
  & $typed[0] @rest 2>$null | Where-Object { $_ -like "$word*" } | ForEach-Object {
    [System.Management.Automation.CompletionResult]::new($_, $_, 'ParameterValue', $_)
  }
}
`,
}

func completionCommand() *cli.Command {
	return &cli.Command{
		Name:      "completion",
		Usage:     "print a shell's completion script",
		ArgsUsage: "bash | zsh | fish | powershell",
		Description: `Examples:
   source <(tunegate completion bash)
   tunegate completion powershell | Out-String | Invoke-Expression

Exit status: 0 printed; 2 unknown shell.`,
		OnUsageError:    usageError,
		HideHelpCommand: true,
		BashComplete: func(c *cli.Context) {
			for _, shell := range []string{"bash", "fish", "powershell", "zsh"} {
				fmt.Fprintln(c.App.Writer, shell)
			}
		},
		Action: func(c *cli.Context) error {
			script, ok := completionScripts[c.Args().First()]
			if !ok || c.NArg() != 1 {
				return fmt.Errorf("expected one of bash, zsh, fish, powershell; got %q", c.Args().First())
			}
			_, err := fmt.Fprint(c.App.Writer, script)
			return err
		},
	}
}
