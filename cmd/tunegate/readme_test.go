package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
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
