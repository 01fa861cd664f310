package main

import (
	"strings"
	"unicode"

	"github.com/urfave/cli/v2"
)

// optionsFirst moves the options of a command before its other arguments,
// since the option parser stops at the first argument that is none. What
// follows "--" stays where it is.
func optionsFirst(app *cli.App, args []string) []string {
	if len(args) < 3 {
		return args
	}
	var command *cli.Command
	for _, c := range app.Commands {
		if c.HasName(args[1]) {
			command = c
		}
	}
	if command == nil || command.SkipFlagParsing {
		return args
	}
	takesValue := map[string]bool{}
	for _, f := range command.Flags {
		_, isBool := f.(*cli.BoolFlag)
		for _, name := range f.Names() {
			takesValue[name] = !isBool
		}
	}
	var options, rest []string
	for i := 2; i < len(args); i++ {
		a := args[i]
		if a == "--" {
			rest = append(rest, args[i+1:]...)
			break
		}
		if len(a) < 2 || a[0] != '-' {
			rest = append(rest, a)
			continue
		}
		options = append(options, a)
		name := strings.TrimLeft(a, "-")
		if name == "help" || name == "h" { // with arguments behind it the parser looks for a help topic
			if command.Name == "help" { // the parser would take it for the program's
				return []string{args[0], "help", "help"}
			}
			return []string{args[0], args[1], "--help"}
		}
		if strings.Contains(a, "=") || !takesValue[name] {
			continue
		}
		if i++; i == len(args) { // the parser finds its value missing
			return append([]string{args[0], args[1]}, options...)
		}
		options = append(options, args[i])
	}
	out := append([]string{args[0], args[1]}, options...)
	return append(append(out, "--"), rest...)
}

// printable keeps a message on its line, from moving the cursor and from
// turning the direction of text: names from files may hold anything.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return ' '
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r), r == '\u2028', r == '\u2029':
			return -1
		}
		return r
	}, s)
}
