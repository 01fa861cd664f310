package main

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// completionFolder has two files of runs, one of two profiles, and a policy.
func completionFolder(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	for name, text := range map[string]string{
		"factory.csv":   "benchmark,unit,value\ntile-render,s,1\nmesh solve,s,1\n",
		"both.csv":      "profile,benchmark,unit,value\nfactory,tile-render,s,1\nboost lift,tile-render,s,1\n-x,tile-render,s,1\n",
		"bad.csv":       "no,header\n",
		"tunegate.toml": "",
	} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return folder
}

func TestCandidates(t *testing.T) {
	t.Chdir(completionFolder(t))
	for _, c := range []struct {
		line string // words with | between; the last is in the making
		want string // candidates with | between
	}{
		{"lad", "ladder"},
		{"--h", "--help"},
		{"comp", "compare|completion"},
		{"nothing|x", ""},
		{"compare|fac", ""}, // files are the shell's business
		{"compare|--js", "--json"},
		{"compare|--json|--js", ""},
		{"compare|--write|text=a|--wri", "--write"},
		{"compare|--write|j", "json=|junit="},
		{"compare|--write|json=f", ""},
		{"compare|--write=t", "--write=text="},
		{"sheet|--write|", "csv=|markdown=|xlsx="},
		{"compare|--correction|", "joint|holm|benjamini-hochberg|none"},
		{"compare|--correction=h", "--correction=holm"},
		{"compare|--color|a", "auto|always"},
		{"compare|--better|", "higher|lower"},
		{"init|--ci|", "github|gitlab|script|none"},
		{"gate|--write|sa", "sarif="},
		{"gate|--write|code-q", "code-quality="},
		{"gate|--write|ba", "badge="},
		{"gate|--separator|", "comma|semicolon|tab"},
		{"comme", "comment"},
		{"compare|--policy|", "tunegate.toml"},
		{"gate|--agreed|", "policy|removed|new"},
		{"gate|--agreed|policy,r", "policy,removed"},
		{"compare|both.csv|--before|", "factory|boost lift"}, // -x would be an option
		{"compare|bad.csv|both.csv|--before|factory|--after|b", "boost lift"},
		{"compare|factory.csv|--only|", "tile-render|mesh solve"},
		{"compare|nothing.csv|--only|", ""},
		{"compare|--before|", ""},
		{"help|pla", "planning"},
		{"help|reru", "reruns"},
		{"help|files|", ""},
		{"completion|", "bash|zsh|fish|powershell"},
		{"compare|--|--js", ""},
	} {
		words := strings.Split(c.line, "|")
		words[len(words)-1] = "=" + words[len(words)-1]
		var got []string
		for l := range strings.Lines(printed(t, append([]string{"candidates"}, words...)...)) {
			text, _, ok := strings.Cut(l, "\t")
			if !ok {
				t.Errorf("%s: %q has no tab", c.line, l)
			}
			got = append(got, text)
		}
		if strings.Join(got, "|") != c.want {
			t.Errorf("%s: candidates %q, want %q", c.line, got, c.want)
		}
	}
	if got := printed(t, "candidates", "help", "=files"); !strings.HasPrefix(got, "files\t"+topicTitle("files")) {
		t.Errorf("a topic is explained as %q", got)
	}
}

// Completion offers the forms that --help lists.
func TestCandidatesOfWrite(t *testing.T) {
	for _, command := range newApp(nil, io.Discard, io.Discard).VisibleCommands() {
		option := optionNamed(command, "write")
		if option == nil || command.Name == "report" { // hidden there
			continue
		}
		if usage := optionRow(option)[1]; formsOf[command.Name] == nil || !strings.Contains(usage, "form "+formNames(formsOf[command.Name])) {
			t.Errorf("%s: %q, completion has %q", command.Name, usage, formsOf[command.Name])
		}
	}
}

// The shells offer what the program does, and where it offers nothing, files. Each
// script asks a shell for the candidates of a line, its last word in the making.
func TestCompletionInShells(t *testing.T) {
	if testing.Short() || runtime.GOOS != "linux" { // on other systems the shells are other builds
		t.Skip("it builds the program and starts three shells many times")
	}
	program := filepath.Join(t.TempDir(), "tunegate")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	scripts := t.TempDir()
	for _, shell := range shells {
		if err := os.WriteFile(filepath.Join(scripts, "_"+shell), []byte(printed(t, "completion", shell)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	asks := map[string]string{
		"bash": `source $SCRIPTS/_bash; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _tunegate; printf '%s\n' "${COMPREPLY[@]}"`,
		// Completion of zsh works in a line editor alone, so one runs in a terminal of
		// its own; what _describe is given is what it would offer. The quotes within words
		// tell what is printed from what the terminal echoes.
		"zsh": `zmodload zsh/zpty; zpty z zsh -f; zpty -w z "PS1=; stty -echo"
			zpty -w z 'autoload -U compinit; compinit -u -d $SCRIPTS/dump; source $SCRIPTS/_zsh
				_describe() { print -r -- "OF""FER ${(j:|:)${(P)4}}" } ; _files() { print -r -- "OF""FER files" }
				bindkey "^I" complete-word; print REA''DY'
			zpty -r -m z line "*READY*"; zpty -w -n z "${(j: :)argv}"$'\t'
			zpty -r -m z line "*OFFER*"$'\n'; print -r -- "${line##*OFFER }"; zpty -d z`,
		"fish": `source $SCRIPTS/_fish; complete -C (string join ' ' -- $argv)`,
	}
	folder := completionFolder(t)
	for _, shell := range []string{"bash", "zsh", "fish"} {
		if _, err := exec.LookPath(shell); err != nil {
			t.Logf("%s is not installed", shell)
			continue
		}
		for _, c := range []struct {
			line []string
			want []string // of the candidates
		}{
			{[]string{"lad"}, []string{"ladder"}},
			{[]string{"compare", "--corr"}, []string{"--correction"}},
			{[]string{"compare", "--correction", ""}, []string{"joint", "holm", "benjamini-hochberg", "none"}},
			{[]string{"compare", "--write", "j"}, []string{"json=", "junit="}},
			{[]string{"help", "pl"}, []string{"planning"}},
			{[]string{"compare", "both.csv", "--before", "f"}, []string{"factory"}},
		} {
			args := append([]string{program}, c.line...)
			command := exec.Command(shell, "-c", asks[shell], shell)
			if shell == "fish" {
				command = exec.Command(shell, "-c", asks[shell])
				args[0] = "tunegate"
			}
			command.Args = append(command.Args, args...)
			command.Dir = folder
			command.Env = append(os.Environ(), "SCRIPTS="+scripts, "HOME="+folder, "TERM=xterm",
				"PATH="+filepath.Dir(program)+string(filepath.ListSeparator)+os.Getenv("PATH"))
			out, err := command.CombinedOutput()
			if err != nil {
				t.Fatalf("%s %q: %v: %s", shell, c.line, err, out)
			}
			var got []string
			for _, l := range strings.FieldsFunc(string(out), func(r rune) bool { return r == '\n' || r == '\r' || r == '|' }) {
				text, _, _ := strings.Cut(l, "\t")
				if shell == "zsh" {
					text, _, _ = strings.Cut(text, ":")
				}
				got = append(got, text)
			}
			slices.Sort(got)
			slices.Sort(c.want)
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("%s %q (-want +got)\n%s%q", shell, c.line, d, out)
			}
		}
	}
}
