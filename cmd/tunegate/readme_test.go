package main

import (
	"bytes"
	"flag"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write what the program prints into README.md, the topics and the scripts")

// documents are README.md and the topics, by their path from this folder.
func documents(t *testing.T) []string {
	t.Helper()
	files, err := filepath.Glob("help/*.md")
	if err != nil {
		t.Fatal(err)
	}
	return append(files, "../../README.md")
}

func readText(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// checkout is a folder that looks like a checkout to the commands of the
// documents: the demo data, and the demo repository in demo.
func checkout(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	for _, name := range []string{"demo", "sheets"} {
		if err := os.CopyFS(filepath.Join(folder, "fixtures", name), os.DirFS("../../fixtures/"+name)); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := demoRepository(filepath.Join(folder, "demo")); err != nil {
		t.Fatal(err)
	}
	return folder
}

var codeBlock = regexp.MustCompile("(?ms)^```(\\w*)\n(.*?)^```\n")

// A code block that begins with "$ tunegate ..." shows what that command prints;
// a line "..." in it stands for lines left out. A block of TOML that begins with
// "# NAME.toml" is that file.
func TestReadmeAndTopicsShowWhatCommandsPrint(t *testing.T) {
	var files []string
	for _, f := range documents(t) {
		path, err := filepath.Abs(f)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, path)
	}
	t.Chdir(checkout(t))
	outsideActions(t)
	shown := map[string]int{}
	for _, file := range files {
		document := readText(t, file)
		for _, block := range codeBlock.FindAllStringSubmatch(document, -1) {
			first, rest, _ := strings.Cut(block[2], "\n")
			if name, ok := strings.CutPrefix(first, "# "); ok && block[1] == "toml" {
				if err := os.WriteFile(name, []byte(block[2]), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			command, ok := strings.CutPrefix(first, "$ ")
			if !ok {
				continue
			}
			shown[filepath.Base(file)]++
			printed := outputOf(t, command)
			if *update && !strings.Contains("\n"+rest, "\n...\n") {
				document = strings.Replace(document, block[0], "```"+block[1]+"\n"+first+"\n"+printed+"```\n", 1)
			} else if !shows(rest, printed) {
				t.Errorf("%s shows for %s\n%s\nbut the program prints\n%s", filepath.Base(file), command, rest, printed)
			}
		}
		if *update {
			if err := os.WriteFile(file, []byte(document), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, name := range []string{"README.md", "verdicts.md", "policy.md", "ladder.md", "claims.md", "gate.md", "history.md", "doubts.md",
		"planning.md", "stability.md", "logs.md"} {
		if shown[name] == 0 {
			t.Errorf("%s shows no output of the program", name)
		}
	}
}

// outputOf runs a command as a document shows it, and returns what a terminal
// would show of it.
func outputOf(t *testing.T, command string) string {
	t.Helper()
	command = strings.Replace(command, "go run ./cmd/tunegate", "tunegate", 1)
	command, file, redirected := strings.Cut(command, " > ")
	var screen bytes.Buffer
	var stdout io.Writer = &screen
	if redirected {
		f, err := os.Create(file)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		stdout = f
	}
	if status := run(words(command), strings.NewReader(""), stdout, &screen); status == exitInput {
		t.Errorf("%s ends with %d", command, status)
	}
	return strings.ReplaceAll(screen.String(), "\uFEFF", "") // which no terminal shows
}

// words splits a command; text in double quotes is one word.
func words(command string) []string {
	var out []string
	for i, part := range strings.Split(command, `"`) {
		if i%2 == 1 {
			out = append(out, part)
		} else {
			out = append(out, strings.Fields(part)...)
		}
	}
	return out
}

// shows reports whether the parts of a text between its lines "..." stand in an
// output in this order, the first at its start and the last at its end.
func shows(text, output string) bool {
	parts := strings.Split("\n"+text, "\n...\n")
	output = "\n" + output
	for i, part := range parts {
		if i > 0 {
			part = "\n" + part
		}
		if i == len(parts)-1 {
			return strings.HasSuffix(output, part) && (part == output || i > 0)
		}
		part += "\n"
		at := strings.Index(output, part)
		if at < 0 || i == 0 && at > 0 {
			return false
		}
		output = output[at+len(part)-1:]
	}
	return true
}

func TestReadmeShows(t *testing.T) {
	output := "one\ntwo\nthree\nfour\n"
	for text, want := range map[string]bool{
		output:                      true,
		"one\ntwo\nthree\n":         false,
		"two\nthree\nfour\n":        false,
		"one\n...\n":                true,
		"one\n...\nthree\n...\n":    true,
		"one\n...\nthree\nfour\n":   true,
		"...\nthree\nfour\n":        true,
		"...\ntwo\n...\n":           true,
		"one\n...\nthree\n":         false,
		"one\n...\nfive\n...\n":     false,
		"two\n...\n":                false,
		"three\n...\none\n...\n":    false,
		"one\n...\nhree\nfour\n":    false,
		"one\ntwo\n...\ntwo\n...\n": false,
	} {
		if got := shows(text, output); got != want {
			t.Errorf("shows(%q) is %v", text, got)
		}
	}
}

// The commands that the documents name are there, and so are their options.
func TestReadmeAndTopicsNameCommandsAndOptions(t *testing.T) {
	app := newApp(nil, io.Discard, io.Discard)
	options := map[string][]string{"help": nil}
	var all []string
	for _, c := range app.Commands {
		options[c.Name] = []string{"--help"}
		for _, f := range c.Flags {
			for _, name := range f.Names() {
				options[c.Name] = append(options[c.Name], "--"+name)
			}
		}
		all = append(all, options[c.Name]...)
	}
	code := regexp.MustCompile("(?m)`([^`\n]+)`|^(?:\\$ |    )(.*)$")
	option := regexp.MustCompile(`(?:^|\s)(--[a-z][a-z-]*)`)
	call := regexp.MustCompile(`\btunegate ([a-z]+)(.*)`)
	for _, file := range documents(t) {
		for _, m := range code.FindAllStringSubmatch(readText(t, file), -1) {
			text := m[1] + m[2]
			known := all
			if c := call.FindStringSubmatch(text); c != nil {
				if options[c[1]] == nil {
					t.Errorf("%s: there is no command %s: %s", file, c[1], text)
					continue
				}
				known, text = options[c[1]], c[2]
				if topic := strings.TrimSpace(text); c[1] == "help" && !slices.Contains(append(topics(), "TOPIC", ""), topic) {
					t.Errorf("%s: there is no topic %q", file, topic)
				}
			} else if strings.HasPrefix(text, "go ") || strings.HasPrefix(text, "git ") {
				continue
			}
			for _, o := range option.FindAllStringSubmatch(text, -1) {
				if !slices.Contains(known, o[1]) {
					t.Errorf("%s: there is no option %s: %s", file, o[1], m[0])
				}
			}
		}
	}
}

// What the documents link to is there.
func TestReadmeAndTopicsLinks(t *testing.T) {
	link := regexp.MustCompile(`\]\(([^)#]+)\)`)
	for _, file := range documents(t) {
		for _, m := range link.FindAllStringSubmatch(readText(t, file), -1) {
			if _, err := os.Stat(filepath.Join(filepath.Dir(file), filepath.FromSlash(m[1]))); err != nil {
				t.Errorf("%s: %v", file, err)
			}
		}
	}
}

// The README is short, and holds the guide, with a link to every topic.
func TestReadmeIsShortAndListsTopics(t *testing.T) {
	readme := readText(t, "../../README.md")
	if n := strings.Count(readme, "\n"); n > 200 {
		t.Errorf("README.md has %d lines, more than 200", n)
	}
	for _, g := range guide {
		command := ""
		if g.command != "" {
			command = "`tunegate " + g.command + "`"
		}
		row := "| " + g.question + " | " + command + " | [" + g.topic + "](cmd/tunegate/help/" + g.topic + ".md) |\n"
		if !strings.Contains(readme, row) {
			t.Errorf("README.md has no row\n%s", row)
		}
	}
}
