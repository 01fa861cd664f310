package doc

import (
	"bytes"
	"strings"
	"testing"
)

// printed are the three forms of a document.
func printed(t *testing.T, d Document) (text, markdown, page string) {
	t.Helper()
	var a, b, c bytes.Buffer
	for _, err := range []error{Text(&a, d, TextOptions{Width: 80}), Markdown(&b, d), Page(&c, d, "")} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return a.String(), b.String(), c.String()
}

// A cell without a sign is indented as if it had one, and its second line is
// aligned with its text.
func TestGridSigns(t *testing.T) {
	cell := func(tone Tone, text string, unsigned bool) Cell {
		return Cell{Line: Line{Text: text, Tone: tone}, Below: "-1 to +1", Sign: true, Unsigned: unsigned}
	}
	g := Grid{Title: "All", Head: "name", Columns: []string{"one", "two"}, Rows: []GridRow{
		{Name: "a", Cells: []Cell{cell(BigGain, "+3", false), cell(BigLoss, "-2", true)}},
		{Name: "b", Cells: []Cell{{}, cell(Faint, "+1", false)}},
	}}
	text, markdown, page := printed(t, Document{Sections: []Section{{Blocks: []Block{g}}}})
	for form, c := range map[string][2]string{
		"text": {text, "All\n" +
			"name  one         two\n" +
			"a     ▲ +3          -2\n" +
			"        -1 to +1    -1 to +1\n" +
			"b                   +1\n" +
			"                    -1 to +1\n"},
		"markdown": {markdown, "\nAll\n\n| name | one | two |\n|---|---|---|\n" +
			"| a | ▲ +3 (-1 to +1) | -2 (-1 to +1) |\n| b |  | +1 (-1 to +1) |\n"},
		"page": {page, `<tr><th scope="row">a</th><td class="nowrap">▲ &#43;3<small>  -1 to &#43;1</small></td>` +
			`<td class="nowrap">  -2<small>  -1 to &#43;1</small></td></tr>`},
	} {
		if !strings.Contains(c[0], c[1]) {
			t.Errorf("%s:\n%s\nwant\n%s", form, c[0], c[1])
		}
	}
}

// Sections of one kind without titles are joined on a page, even where the other
// forms print something between them.
func TestPageJoinsSections(t *testing.T) {
	table := func(name string) []Block { return []Block{Table{Title: name, Head: []string{"head of " + name}}} }
	d := Document{Sections: []Section{
		{Kind: Numbers, Blocks: table("first")},
		{Kind: Findings, Blocks: []Block{Paragraph{Line: Line{Text: "between"}}}},
		{Kind: Numbers, Blocks: table("second")},
		{Kind: Numbers, Title: "Apart", Blocks: table("third")},
	}}
	text, _, page := printed(t, d)
	if n := strings.Count(page, "<h2>All numbers</h2>"); n != 1 || strings.Count(page, "<h2>") != 2 || strings.Contains(page, "between") {
		t.Errorf("%d sections of numbers:\n%s", n, page)
	}
	if a, b, c := strings.Index(text, "first"), strings.Index(text, "between"), strings.Index(text, "second"); !(0 <= a && a < b && b < c) {
		t.Errorf("order of\n%s", text)
	}
	if len(d.Sections[0].Blocks) != 1 {
		t.Error("the document was changed")
	}
}

// In Markdown, lists after findings with a heading get a heading of their own;
// other lists get none.
func TestMarkdownHeadings(t *testing.T) {
	list := func(kind Kind, title, text string) Section {
		return Section{Kind: kind, Title: title, Blocks: []Block{List{Items: Lines([]string{text})}}}
	}
	open, notes := list(NotSettled, "Not settled", "open"), list(Notes, "Notes", "note")
	for _, c := range []struct {
		sections []Section
		want     string
	}{
		{[]Section{open, notes}, "\n- open\n- note\n"},
		{[]Section{list(Findings, "", "found"), open}, "\n- found\n- open\n"},
		{[]Section{list(Findings, "Found", "this"), open, notes}, "\n### Found\n\n- this\n\n### Not settled\n\n- open\n\n### Notes\n\n- note\n"},
	} {
		_, got, _ := printed(t, Document{Heading: Line{Text: "a"}, Sections: c.sections})
		if got = strings.TrimPrefix(got, "## a\n"); got != c.want {
			t.Errorf("%q\nwant\n%q", got, c.want)
		}
	}
}
