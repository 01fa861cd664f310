package main

import (
	"io/fs"
	"slices"
	"strings"
	"testing"

	"tunegate/compare/report"
	"tunegate/compare/report/doc"
)

func printed(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs strings.Builder
	if status := run(append([]string{"tunegate"}, args...), strings.NewReader(""), &out, &errs); status != 0 || errs.Len() > 0 {
		t.Fatalf("%q ends with %d: %s", args, status, errs.String())
	}
	return out.String()
}

// Every topic is in the guide, and so is every command.
func TestTopicGuide(t *testing.T) {
	files, err := fs.Glob(topicFiles, "help/*.md")
	if err != nil {
		t.Fatal(err)
	}
	var found []string
	for _, f := range files {
		found = append(found, strings.TrimSuffix(strings.TrimPrefix(f, "help/"), ".md"))
	}
	listed := slices.Sorted(slices.Values(topics()))
	if !slices.Equal(found, listed) {
		t.Errorf("help/ holds %q, the guide lists %q", found, listed)
	}
	overview := printed(t, "help", "--width", "120")
	for _, name := range append(commandNames(newApp(nil, nil, nil)), listed...) {
		if name != "help" && !slices.Contains(strings.Fields(overview), name) {
			t.Errorf("tunegate help does not list %s", name)
		}
	}
}

// A topic keeps to the width, but for code blocks, and loses no word.
func TestTopicsKeepToTheWidth(t *testing.T) {
	for _, name := range topics() {
		source, err := topicFiles.ReadFile("help/" + name + ".md")
		if err != nil {
			t.Fatal(err)
		}
		code := map[string]bool{}
		for _, block := range codeBlock.FindAllStringSubmatch(string(source), -1) {
			for _, l := range strings.Split(block[2], "\n") {
				code[l] = true
			}
		}
		all := sortedWords(printed(t, "help", name, "--width", "1000"))
		for _, width := range []string{"60", "80", "120"} {
			out := printed(t, "help", name, "--width", width)
			limit := map[string]int{"60": 60, "80": 80, "120": 120}[width]
			for _, l := range strings.Split(out, "\n") {
				if columns(l) > limit && !code[l] && !strings.HasPrefix(l, "    ") {
					t.Errorf("%s at %s columns has a line of %d:\n%s", name, width, columns(l), l)
				}
			}
			if got := sortedWords(out); !slices.Equal(got, all) {
				t.Errorf("%s at %s columns has other words than at 1000", name, width)
			}
		}
		plain := printed(t, "help", name, "--plain")
		for _, r := range plain {
			if r > '~' {
				t.Errorf("%s --plain holds %q", name, r)
			}
		}
	}
}

// sortedWords are the words of a text in alphabetical order, without rules.
func sortedWords(text string) []string {
	var out []string
	for _, w := range strings.Fields(text) {
		if strings.Trim(w, "-=") != "" {
			out = append(out, w)
		}
	}
	slices.Sort(out)
	return out
}

func TestTopicPrinter(t *testing.T) {
	source := "# A `title`\n\nSome **bold** words,\na [link](x.md) and 5 % of `a b`.\n\n- one two three four five six seven\n- " +
		"eight\n  nine\n\n" +
		"1. first\n\n| key | for |\n|---|---|\n| `a \\| b` | one two three four five six seven |\n| | nothing |\n\n![alt](x.png)\n\n" +
		"    indented `code` **stays**\n\n```\n| so | does |\n\n# this, however long the line may be\n```\nlast\n"
	want := `A title
=======

Some bold words, a link (x.md) and
5 % of a b.

- one two three four five six seven
- eight nine

1. first

key    for
-----  -----------------------------
a | b  one two three four five six
       seven
       nothing

    indented ` + "`code`" + ` **stays**

| so | does |

# this, however long the line may be

last
`
	var got strings.Builder
	if err := printTopic(&got, source, doc.TextOptions{Width: 36}); err != nil {
		t.Fatal(err)
	}
	if got.String() != want {
		t.Errorf("printed\n%s\nwant\n%s", got.String(), want)
	}
	got.Reset()
	if err := printTopic(&got, "## Title\n", doc.TextOptions{Width: 36, Color: true}); err != nil {
		t.Fatal(err)
	}
	if want := "\x1b[1mTitle\x1b[0m\n-----\n"; got.String() != want {
		t.Errorf("printed %q, want %q", got.String(), want)
	}
}

func TestHelp(t *testing.T) {
	if got, want := printed(t, "help", "compare"), printed(t, "compare", "--help"); got != want ||
		!strings.Contains(got, "More: tunegate help verdicts") {
		t.Errorf("tunegate help compare prints\n%s\nwant\n%s", got, want)
	}
	if got := printed(t, "help", "ci"); !strings.HasPrefix(got, "Judge every request in CI\n=") ||
		!strings.HasSuffix(got, "\nOptions and examples: tunegate init --help, tunegate comment --help\n") {
		t.Errorf("tunegate help ci prints\n%s", got)
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"nothing"}, `tunegate: no topic or command "nothing"; topics: verdicts, files, `},
		{[]string{"nothing"}, "; commands: compare, ladder, "},
		{[]string{"gate", "files"}, "expected one topic or command, found 2 arguments"},
		{[]string{"gate", "--width", "3"}, "--width 3; expected 40 to 1000 columns"},
	} {
		var out, errs strings.Builder
		status := run(append([]string{"tunegate", "help"}, c.args...), strings.NewReader(""), &out, &errs)
		if status != exitInput || out.Len() > 0 || !strings.Contains(errs.String(), c.want) {
			t.Errorf("tunegate help %q ends with %d and says %q, want %q", c.args, status, errs.String(), c.want)
		}
	}
}

// Every column of a CSV stands in the topic json.
func TestTopicNamesEveryColumn(t *testing.T) {
	topic := readText(t, "help/json.md")
	for _, command := range []string{"compare", "ladder", "gate", "history", "claims", "doubts"} {
		columns, err := columnsOf(command)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range columns {
			if !strings.Contains(topic, "`"+name+"`") {
				t.Errorf("the topic json lacks the column %s of %s", name, command)
			}
		}
	}
}

// The topic about the gate lists every kind of reason with what it says and what to do,
// as the files for forges do.
func TestTopicListsTheReasons(t *testing.T) {
	source, err := topicFiles.ReadFile("help/gate.md")
	if err != nil {
		t.Fatal(err)
	}
	want := "| name | it says | what to do |\n|---|---|---|\n"
	for _, r := range report.GateRules() {
		want += "| `" + r.ID + "` | " + r.Says + " | " + r.Do + " |\n"
	}
	if !strings.Contains(string(source), want+"\n") {
		t.Errorf("help/gate.md lacks the table\n%s", want)
	}
}
