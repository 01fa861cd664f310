package doc

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// sectioned is a document with paragraphs, lists and tables in several sections.
func sectioned() Document {
	table := Table{Head: []string{"runs", "hours"}, Right: []int{1}, Rows: [][]Cell{{{Line: Line{Text: "1"}}, {Line: Line{Text: "10.2"}}}}}
	deeper, bare := table, table
	deeper.Indent, bare.Headless = 1, true
	items := append(Lines([]string{"a point"}), Item{Line: Line{Text: "for experts"}, Detail: true})
	long := strings.Repeat("many words ", 6)
	return Document{
		Caution: "Take care.", Closing: Line{Text: "Next: go on.", Tone: Strong}, Page: Head{Title: "A plan"},
		Sections: []Section{
			{Kind: Numbers, Blocks: []Block{Paragraph{Line: Line{Text: "basis"}, Flush: true}}},
			{Kind: Numbers, Title: "stop: it", Tone: Bad, Blocks: []Block{List{Items: items}, deeper}},
			{Kind: Numbers, Apart: true, Blocks: []Block{Paragraph{Line: Line{Text: long}, Flush: true}, Paragraph{Line: Line{Text: long}}, bare}},
			{Kind: Numbers, Blocks: []Block{Paragraph{Line: Line{Text: "side", Tone: Strong}}}},
			{Kind: Notes, Title: "Notes", Blocks: []Block{List{Items: Lines([]string{"a note"})}}},
		},
	}
}

func screenOf(t *testing.T, d Document, opt TextOptions) string {
	t.Helper()
	var b strings.Builder
	if err := Text(&b, d, opt); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestTextOfSections(t *testing.T) {
	want := `basis

stop: it
  a point
    runs  hours
       1  10.2

many words many words many words many words many words many
words
many words many words many words many words many words
  many words
  1  10.2
side

Notes
  a note

Take care.

Next: go on.
`
	if d := cmp.Diff(want, screenOf(t, sectioned(), TextOptions{Width: 60})); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
	dense := sectioned()
	dense.Dense = true
	if d := cmp.Diff(strings.ReplaceAll(want, "\n\n", "\n"), screenOf(t, dense, TextOptions{Width: 60})); d != "" {
		t.Errorf("dense (-want +got)\n%s", d)
	}
	if s := screenOf(t, sectioned(), TextOptions{Width: 60, Detail: true}); !strings.Contains(s, "  a point\n  for experts\n") {
		t.Errorf("with details:\n%s", s)
	}
	coloured := screenOf(t, sectioned(), TextOptions{Width: 60, Color: true})
	for _, part := range []string{"\x1b[1;38;5;166mstop: it\x1b[0m\n", "\x1b[2m    runs  hours\x1b[0m\n       1  10.2\n",
		"\x1b[1mNotes\x1b[0m\n"} {
		if !strings.Contains(coloured, part) {
			t.Errorf("%q is not in %q", part, coloured)
		}
	}
	dense.Sections = dense.Sections[4:]
	if s := screenOf(t, dense, TextOptions{Width: 60, Color: true}); !strings.HasPrefix(s, "Notes\n") {
		t.Errorf("a dense title: %q", s)
	}
}

func TestMarkdownOfSections(t *testing.T) {
	long := strings.Repeat("many words ", 6)
	want := "\n\nbasis\n\n### stop: it\n\n- a point\n\n| runs | hours |\n|--:|---|\n| 1 | 10.2 |\n\n" +
		long + "\n\n" + long + "\n\n| runs | hours |\n|--:|---|\n| 1 | 10.2 |\n\n**side**\n\n### Notes\n\n- a note\n\n> Take care.\n"
	untold := sectioned()
	untold.Closing = Line{}
	for heading, d := range map[string]Document{"## Next: go on.": sectioned(), "## A plan": untold} {
		var b strings.Builder
		if err := Markdown(&b, d); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(heading+want, b.String()); d != "" {
			t.Errorf("-want +got\n%s", d)
		}
	}
}

// A page leaves out details for experts.
func TestPageOfSections(t *testing.T) {
	var b strings.Builder
	if err := Page(&b, sectioned(), ""); err != nil {
		t.Fatal(err)
	}
	if s := b.String(); !strings.Contains(s, "a point") || strings.Contains(s, "for experts") {
		t.Error(s)
	}
}

// Markdown is cut at the limit of a comment, unless Whole is set.
func TestMarkdownIsCutUnlessWhole(t *testing.T) {
	d := Document{Heading: Line{Text: "Long"}, Sections: []Section{{Kind: Numbers}}}
	for range 2000 {
		d.Sections[0].Blocks = append(d.Sections[0].Blocks, Paragraph{Line: Line{Text: strings.Repeat("word ", 10)}})
	}
	for whole, want := range map[bool]int{false: 1, true: 0} {
		var b strings.Builder
		d.Whole = whole
		if err := Markdown(&b, d); err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(b.String(), "The rest is too long"); n != want || (b.Len() > 2000*50) != whole {
			t.Errorf("whole %v: cut %d times to %d bytes", whole, n, b.Len())
		}
	}
}
