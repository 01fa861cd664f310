package main

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/intake"
)

// candidate is a word that may stand next on a command line, and what it is; a
// value is one that is no option.
type candidate struct {
	text, about string
	value       bool
}

// candidates are the words that may stand behind others and begin as the last one
// does. None means that a file may stand there, or anything.
func candidates(app *cli.App, before []string, last string) []candidate {
	var found []candidate
	switch command := commandOf(app, before); {
	case len(before) == 0 && strings.HasPrefix(last, "-"):
		found = optionCandidates(app.Flags, nil)
	case len(before) == 0:
		for _, c := range app.VisibleCommands() {
			found = append(found, candidate{c.Name, c.Usage, true})
		}
	case command == nil:
		return nil
	default:
		found = commandCandidates(app, command, before[1:], last)
	}
	return slices.DeleteFunc(found, func(c candidate) bool { return !strings.HasPrefix(c.text, last) })
}

// commandOf is the command that a line calls; nil where it calls none.
func commandOf(app *cli.App, words []string) *cli.Command {
	if len(words) == 0 {
		return nil
	}
	return app.Command(words[0])
}

// commandCandidates are the candidates within a command.
func commandCandidates(app *cli.App, command *cli.Command, before []string, last string) []candidate {
	line := lineOf(command, before)
	name, value, joined := strings.Cut(strings.TrimLeft(last, "-"), "=")
	switch {
	case line.open != nil:
		return valueCandidates(command, line.open, line.files, last)
	case line.ended:
		return nil
	case strings.HasPrefix(last, "-") && joined:
		found := valueCandidates(command, optionNamed(command, name), line.files, value)
		typed := last[:len(last)-len(value)]
		for i := range found {
			found[i].text, found[i].value = typed+found[i].text, false
		}
		return found
	case strings.HasPrefix(last, "-") && last != "-":
		return optionCandidates(command.Flags, line.given)
	case command.Name == "help" && len(line.files) == 0:
		return append(topicCandidates(), commandCandidatesOf(app)...)
	case command.Name == "completion" && len(line.files) == 0:
		return plainWords(shells...)
	}
	return nil
}

// plainWords are candidates that need no explanation.
func plainWords(texts ...string) []candidate {
	var found []candidate
	for _, t := range texts {
		found = append(found, candidate{t, "", true})
	}
	return found
}

func topicCandidates() []candidate {
	var found []candidate
	for _, name := range topics() {
		found = append(found, candidate{name, topicTitle(name), true})
	}
	return found
}

func commandCandidatesOf(app *cli.App) []candidate {
	var found []candidate
	for _, c := range app.VisibleCommands() {
		if !slices.Contains(topics(), c.Name) {
			found = append(found, candidate{c.Name, c.Usage, true})
		}
	}
	return found
}

// commandLine is what stands on a line so far.
type commandLine struct {
	files []string // arguments that are no options
	given []string // names of options
	open  cli.Flag // the option whose value comes next; nil for none
	ended bool     // by "--": no options any more
}

func lineOf(command *cli.Command, words []string) commandLine {
	var line commandLine
	for _, w := range words {
		switch {
		case line.open != nil:
			line.open = nil
		case line.ended, w == "-", !strings.HasPrefix(w, "-"):
			line.files = append(line.files, w)
		case w == "--":
			line.ended = true
		default:
			name, _, joined := strings.Cut(strings.TrimLeft(w, "-"), "=")
			line.given = append(line.given, name)
			if f := optionNamed(command, name); !joined && takesValue(f) {
				line.open = f
			}
		}
	}
	return line
}

// optionNamed is an option of a command; nil where there is none.
func optionNamed(command *cli.Command, name string) cli.Flag {
	for _, f := range command.Flags {
		if slices.Contains(f.Names(), name) {
			return f
		}
	}
	return nil
}

func takesValue(f cli.Flag) bool {
	option, ok := f.(cli.DocGenerationFlag)
	return ok && option.TakesValue()
}

// optionCandidates are the options that are not given yet, or may be repeated.
func optionCandidates(flags []cli.Flag, given []string) []candidate {
	var found []candidate
	for _, f := range append(slices.Clone(flags), cli.HelpFlag) {
		_, repeatable := f.(*cli.StringSliceFlag)
		visible, ok := f.(cli.VisibleFlag)
		name := f.Names()[0]
		text := candidate{"--" + name, optionRow(f)[1], false}
		if ok && visible.IsVisible() && (repeatable || !slices.Contains(given, name)) && !slices.Contains(found, text) {
			found = append(found, text)
		}
	}
	return found
}

// formsOf are the forms of --write of the commands that have it.
var formsOf = map[string][]string{
	"compare": compareForms, "gate": gateForms, "ladder": ladderForms, "claims": claimsForms, "history": historyForms,
	"reruns": rerunsForms, "doubts": plainAndTableForms, "passes": plainForms, "readings": {"csv", "json"}, "sheet": sheetForms,
	"show": runForms,
}

// valueCandidates are the values that an option may have, where they are known.
func valueCandidates(command *cli.Command, option cli.Flag, files []string, last string) []candidate {
	if option == nil {
		return nil
	}
	switch option.Names()[0] {
	case "write":
		var found []candidate
		for _, form := range formsOf[command.Name] {
			found = append(found, candidate{form + "=", "also written to a file", true})
		}
		return found
	case "correction":
		return []candidate{
			{string(compare.JointCorrection), "by permutation of whole sessions, the default", true},
			{string(compare.Holm), "Holm-Šidák, one metric after the other", true},
			{string(compare.BenjaminiHochberg), "false discovery rate", true},
			{string(compare.NoCorrection), "each metric as if it were alone", true}}
	case "better":
		return plainWords("higher", "lower")
	case "color":
		return []candidate{{"auto", "on a terminal", true}, {"always", "in files and pipes, too", true}, {"never", "", true}}
	case "ci":
		return plainWords(ciGitHub, ciGitLab, ciScript, ciNone)
	case "separator":
		return plainWords("comma", "semicolon", "tab")
	case "look":
		return plainWords("1/2", "2/2")
	case "looks", "spells":
		return plainWords("1", "2")
	case "agreed":
		return listed(last, candidate{"policy", "a looser policy", true}, candidate{"removed", "profiles that are gone", true},
			candidate{"new", "profiles that nothing older stands against", true})
	case "policy":
		return policies(last)
	case "before", "after", "profile":
		return namesIn(files, func(v compare.Value) string { return v.Profile }, "profile")
	case "only", "leave-out":
		return namesIn(files, func(v compare.Value) string { return v.Benchmark }, "benchmark")
	}
	return nil
}

// listed are the words of a list with commas that is half typed.
func listed(last string, words ...candidate) []candidate {
	typed := last[:strings.LastIndex(last, ",")+1]
	var found []candidate
	for _, w := range words {
		if !slices.Contains(strings.Split(typed, ","), w.text) {
			found = append(found, candidate{typed + w.text, w.about, true})
		}
	}
	return found
}

// policies are the TOML files of the folder that is typed, and the policy in force
// here.
func policies(last string) []candidate {
	folder, _ := filepath.Split(last)
	var found []candidate
	entries, err := os.ReadDir(filepath.Join(folder, "."))
	if err != nil {
		return nil
	}
	for _, e := range entries {
		if !e.IsDir() && filepath.Ext(e.Name()) == ".toml" {
			found = append(found, candidate{folder + e.Name(), "", true})
		}
	}
	if nearest, err := nearestPolicy("."); err == nil && nearest != "" && filepath.Dir(nearest) != "." {
		found = append(found, candidate{nearest, "the policy in force here", true})
	}
	return found
}

// maxCompletionValues is how many values completion reads, so that a key press is
// answered at once.
const maxCompletionValues = 100_000

// namesIn are the names that values of the files on the line have, in the order of
// the files. Files that cannot be read have none.
func namesIn(files []string, name func(compare.Value) string, about string) []candidate {
	files = slices.DeleteFunc(slices.Clone(files), func(f string) bool { return f == "-" })
	if len(files) == 0 {
		return nil
	}
	paths, err := intake.Expand(files)
	if err != nil {
		return nil
	}
	var found []candidate
	seen, values := map[string]bool{}, 0
	add := func(v compare.Value) error {
		if n := name(v); n != "" && !seen[n] {
			seen[n] = true
			found = append(found, candidate{n, about, true})
		}
		if values++; values == maxCompletionValues {
			return errors.New("enough was read")
		}
		return nil
	}
	for _, p := range paths { // one by one: a bad file hides no other
		_, _ = intake.ReadFiles([]string{p}, strings.NewReader(""), intake.Reading{}, add)
	}
	return found
}
