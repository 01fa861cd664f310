package main

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	resultsrepo "tunegate/fixtures/results-repo/build"
)

// The README shows what its first command prints, to the letter.
func TestReadmeShowsTheDemo(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(readme), "\n```\n")
	shown, _, ok := strings.Cut(rest, "```\n")
	if !ok {
		t.Fatal("README.md has no block with the demo's output")
	}
	t.Chdir("../..")
	t.Setenv("COLUMNS", "")
	var out, errs bytes.Buffer
	status := run([]string{"tunegate", "compare", "fixtures/demo/factory.csv", "fixtures/demo/boost-lift.csv"}, strings.NewReader(""), &out, &errs)
	if status != 1 {
		t.Errorf("exit status %d, want %d; %s", status, 1, errs.String())
	}
	if out.String() != shown {
		t.Errorf("the README shows\n%s\nbut the program prints\n%s", shown, out.String())
	}
}

// Every block of the README that begins with a command of the program on the
// demo data, or on none, shows all that it prints.
func TestReadmeShowsWhatCommandsPrint(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir("../..")
	t.Setenv("COLUMNS", "")
	shown := 0
	for _, block := range strings.Split(string(readme), "\n```\n") {
		command, want, ok := strings.Cut(block, "\n")
		command, is := strings.CutPrefix(command, "$ ")
		if !ok || !is || strings.Contains(command, " > ") || slices.Contains([]string{"gate", "history", "claims"}, strings.Fields(command)[1]) {
			continue // the gate needs a repository, a shell's redirection a shell: tested elsewhere
		}
		shown++
		var args []string
		for i, part := range strings.Split(command, `"`) { // text in double quotes is one argument
			if i%2 == 1 {
				args = append(args, part)
				continue
			}
			args = append(args, strings.Fields(part)...)
		}
		var out bytes.Buffer
		run(args, strings.NewReader(""), &out, &out)
		if got := strings.TrimSuffix(out.String(), "\n"); got != want {
			t.Errorf("the README shows for %s\n%s\nbut the program prints\n%s", command, want, got)
		}
	}
	if shown != 5 {
		t.Errorf("the README shows the output of %d such commands, want 5", shown)
	}
}

// And how the gate's output on the demo repository begins.
func TestReadmeShowsGates(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	demo := filepath.Join(t.TempDir(), "results")
	if _, err := resultsrepo.Repository(demo); err != nil {
		t.Fatal(err)
	}
	outsideActions(t)
	blocks := strings.Split(string(readme), "\n```\n$ tunegate gate ")[1:]
	if len(blocks) != 2 {
		t.Errorf("the README shows %d gates, want 2", len(blocks))
	}
	for _, block := range blocks {
		command, rest, _ := strings.Cut(block, "\n")
		shown, _, _ := strings.Cut(rest, "```\n")
		var out, errs bytes.Buffer
		run(append([]string{"tunegate", "gate", demo}, strings.Fields(command)...), strings.NewReader(""), &out, &errs)
		if !strings.HasPrefix(out.String(), shown) {
			t.Errorf("the README shows for %s\n%s\nbut the program prints\n%s%s", command, shown, out.String(), errs.String())
		}
	}
}

// And what became of a profile of the demo repository, in parts.
func TestReadmeShowsAHistory(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, section, _ := strings.Cut(string(readme), "$ tunegate history ")
	section, _, _ = strings.Cut(section, "\n## ")
	command, section, _ := strings.Cut(section, "\n")
	demo := filepath.Join(t.TempDir(), "results")
	if _, err := resultsrepo.Repository(demo); err != nil {
		t.Fatal(err)
	}
	outsideActions(t)
	var out, errs bytes.Buffer
	if status := run(append([]string{"tunegate", "history", demo}, strings.Fields(command)...), strings.NewReader(""), &out, &errs); status != 0 {
		t.Fatalf("exit status %d; %s", status, errs.String())
	}
	parts := strings.Split("\n"+section, "```\n")
	if len(parts) < 6 || !strings.HasPrefix(out.String(), parts[0][1:]) || !strings.HasSuffix(out.String(), parts[4]) {
		t.Errorf("the README shows\n%s\nbut the program prints\n%s", section, out.String())
	}
	for i := 0; i < 6 && i < len(parts); i += 2 {
		if part := strings.TrimPrefix(parts[i], "\n"); i < 5 && part != "" && !strings.Contains(out.String(), part) {
			t.Errorf("the program does not print\n%s", part)
		}
	}
}

// And what a monitoring log gives beside its runs.
func TestReadmeShowsASensorLog(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(readme), "$ tunegate sensors ")
	command, rest, _ := strings.Cut(rest, " > boost-lift.csv\n")
	shown, _, ok := strings.Cut(rest, "```\n")
	if !ok {
		t.Fatal("README.md has no block with a sensor log")
	}
	t.Chdir("../..")
	t.Setenv("COLUMNS", "")
	var out, errs bytes.Buffer
	if status := run(append([]string{"tunegate", "sensors"}, strings.Fields(command)...), strings.NewReader(""), &out, &errs); status != 0 {
		t.Errorf("exit status %d", status)
	}
	if errs.String() != shown {
		t.Errorf("the README shows\n%s\nbut the program prints\n%s", shown, errs.String())
	}
	log, err := os.ReadFile("fixtures/demo/sensors/heron-boost-lift.csv")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(string(log), "\n")[:8] {
		if strings.HasPrefix(line, "time,") || strings.Contains(line, "#1") {
			if !strings.Contains(string(readme), "    "+line+"\n") {
				t.Errorf("the README does not show %q", line)
			}
		}
	}
}

// The page of claims in the README is held against the demo, and what it shows
// is what the program prints.
func TestReadmeShowsClaims(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, section, _ := strings.Cut(string(readme), "## Before you publish\n")
	_, rest, _ := strings.Cut(section, "```toml\n")
	page, rest, _ := strings.Cut(rest, "```\n")
	_, rest, _ = strings.Cut(rest, "fixtures/demo/boost-lift.csv\n")
	shown, _, ok := strings.Cut(rest, "```\n")
	if !ok {
		t.Fatal("README.md has no page of claims")
	}
	name := filepath.Join(t.TempDir(), "page.toml")
	if err := os.WriteFile(name, []byte(page), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Chdir("../..")
	t.Setenv("COLUMNS", "")
	var out, errs bytes.Buffer
	status := run([]string{"tunegate", "claims", name, "fixtures/demo/factory.csv", "fixtures/demo/boost-lift.csv"}, strings.NewReader(""), &out, &errs)
	if status != 1 || out.String() != shown {
		t.Errorf("exit status %d, want 1; %s; the README shows\n%s\nbut the program prints\n%s", status, errs.String(), shown, out.String())
	}
}
