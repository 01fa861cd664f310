package main

import (
	"bytes"
	"os"
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
