package main

import (
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"
)

// helpPages are the help of the program, named by the empty string, and of each
// command, at a width.
func helpPages(t *testing.T, width int) map[string]string {
	t.Helper()
	t.Setenv("COLUMNS", strconv.Itoa(width))
	pages := map[string]string{"": printed(t, "--help")}
	for _, name := range commandNames(newApp(strings.NewReader(""), io.Discard, io.Discard)) {
		pages[name] = printed(t, name, "--help")
	}
	return pages
}

// typedLines are the indented lines of a description, which are typed as they
// stand.
func typedLines(description string) map[string]bool {
	found := map[string]bool{}
	for l := range strings.Lines(description) {
		if strings.HasPrefix(l, " ") {
			found[strings.TrimSpace(l)] = true
		}
	}
	return found
}

// Help keeps to the width but for what is typed, and says the same at each.
func TestHelpKeepsToTheWidth(t *testing.T) {
	app := newApp(strings.NewReader(""), io.Discard, io.Discard)
	reference := helpPages(t, 1000)
	if len(reference) < 15 {
		t.Fatalf("there are only %d pages", len(reference))
	}
	for _, width := range []int{60, 80, 120} {
		for name, page := range helpPages(t, width) {
			description := app.Description
			if name != "" {
				description = app.Command(name).Description
			}
			typed := typedLines(description)
			for l := range strings.Lines(page) {
				l = strings.TrimRight(l, "\n")
				if columns(l) > width && !typed[strings.TrimSpace(l)] {
					t.Errorf("%s --help at %d columns has a line of %d:\n%s", name, width, columns(l), l)
				}
				if strings.TrimRight(l, " ") != l {
					t.Errorf("%s --help at %d columns has a line that ends with a space:\n%s", name, width, l)
				}
			}
			if !slices.Equal(strings.Fields(page), strings.Fields(reference[name])) {
				t.Errorf("%s --help at %d columns has other words than at 1000", name, width)
			}
		}
	}
}

// Each option stands in one place, with at most one default and no quotes around
// it, and each section comes once.
func TestHelpSaysEverythingOnce(t *testing.T) {
	app := newApp(strings.NewReader(""), io.Discard, io.Discard)
	entry := regexp.MustCompile(`(?m)^  (--[a-z-]+)`)
	for name, page := range helpPages(t, 80) {
		options := []cli.Flag{cli.HelpFlag, cli.VersionFlag}
		sections := []string{"How to call it:", "Help:", "Exit statuses:"}
		if name != "" {
			c := app.Command(name)
			options = append(slices.Clone(c.Flags), cli.HelpFlag)
			sections = append(sections, "Example")
		}
		var want, got []string
		for _, f := range options {
			if v, ok := f.(cli.VisibleFlag); !ok || v.IsVisible() {
				want = append(want, "--"+f.Names()[0])
			}
		}
		for _, m := range entry.FindAllStringSubmatch(page, -1) {
			got = append(got, m[1])
		}
		slices.Sort(want)
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Errorf("%s --help lists %q, want %q", name, got, want)
		}
		for _, s := range sections {
			if n := strings.Count("\n"+page, "\n"+s); n != 1 {
				t.Errorf("%s --help has %q %d times", name, s, n)
			}
		}
		for _, f := range options {
			row := optionRow(f)[1]
			if n := strings.Count(row, "default"); n > 1 || strings.Contains(row, `default: "`) {
				t.Errorf("%s --help says of %s: %s", name, f.Names()[0], row)
			}
		}
	}
}

// Every option of a command stands under a heading that says what it is for.
func TestOptionsHaveHeadings(t *testing.T) {
	for _, c := range newApp(strings.NewReader(""), io.Discard, io.Discard).Commands {
		for _, f := range c.Flags {
			if headingOf(f) == groupHelp && f.Names()[0] != "help" {
				t.Errorf("option --%s of %s stands under no heading", f.Names()[0], c.Name)
			}
		}
	}
}

func TestHelpWidth(t *testing.T) {
	for _, c := range []struct {
		arguments string
		screen    int
		want      int
	}{
		{"compare --help", 80, 80},
		{"compare --help --width 60", 80, 60},
		{"compare --width=100 --help", 80, 100},
		{"compare -width 100 --help", 80, 100},
		{"compare --help --width", 80, 80},
		{"compare --help --width 5", 80, 80},
		{"compare --help --width wide", 120, 120},
		{"compare --help", 20, 40},
	} {
		if got := helpWidth(strings.Fields(c.arguments), c.screen); got != c.want {
			t.Errorf("%s on %d columns takes %d, want %d", c.arguments, c.screen, got, c.want)
		}
	}
}
