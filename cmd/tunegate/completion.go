package main

import (
	"fmt"

	"github.com/urfave/cli/v2"
)

// completionScripts ask the program itself, through its hidden option
// --generate-bash-completion.
var completionScripts = map[string]string{
	"bash": `_tunegate() {
  local IFS=$'\n'
  COMPREPLY=($(compgen -W "$("${COMP_WORDS[@]:0:COMP_CWORD}" --generate-bash-completion 2>/dev/null)" -- "${COMP_WORDS[COMP_CWORD]}"))
}
complete -o default -F _tunegate tunegate
`,
	"zsh": `#compdef tunegate
_tunegate() {
  local -a words_found
  words_found=("${(@f)$("${words[@]:0:$((CURRENT-1))}" --generate-bash-completion 2>/dev/null)}")
  if [[ -n "${words_found[1]}" ]]; then compadd -a words_found; fi
  _files
}
compdef _tunegate tunegate
`,
	"fish": `complete -c tunegate -a '(set -l typed (commandline -opc); $typed --generate-bash-completion 2>/dev/null)'
`,
	"powershell": `Register-ArgumentCompleter -Native -CommandName tunegate -ScriptBlock {
  param($word, $ast, $position)
  $typed = @($ast.CommandElements | ForEach-Object { $_.ToString() })
  if ($word) { $typed = $typed[0..($typed.Count - 2)] }
  $rest = @($typed | Select-Object -Skip 1) + '--generate-bash-completion'
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
		OnUsageError: usageError,
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
