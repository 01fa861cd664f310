package doc

import (
	"bytes"
	"strings"
	"testing"
)

// Only text prints the basis of a part, after the warnings. Only a page draws
// pictures.
func TestPart(t *testing.T) {
	drawn := 0
	reasons := []Item{{Name: "x", Line: Line{Text: "one"}}, {Name: "x", Line: Line{Text: "two"}}, {Name: "x", Line: Line{Text: "three"}}}
	d := Document{Heading: Line{"Failed", Bad}, Subject: "a " + Arrow + " b", Sections: []Section{
		{Kind: Reasons, Blocks: []Block{List{Numbered: true, Max: 2, Items: reasons}}},
		{Kind: Reasons, Blocks: []Block{List{Items: Lines([]string{"spot"})}}},
		{Kind: Notes, Blocks: []Block{List{Items: Lines([]string{"note"})}}},
	}, Parts: []Part{{Heading: Line{"x: failed", Bad}, Lead: "asked", Basis: "rests on", Warnings: []string{"look out"},
		Folded: "1 metric", Name: "x", Sections: []Section{
			{Kind: Summary, Blocks: []Block{Paragraph{Line: Line{Text: "in short"}}}},
			{Kind: Pictures, Blocks: []Block{Figures(func() []Figure { drawn++; return nil })}},
			{Kind: Notes, Title: "Notes", Blocks: []Block{List{Items: Lines([]string{"of x"})}}},
		}}}, Caution: "care"}
	var text, page, html bytes.Buffer
	if err := Text(&text, d, TextOptions{Width: 80}); err != nil {
		t.Fatal(err)
	}
	if want := "Failed\na → b\n\n  1. x: one\n  2. x: two\n  3. x: three\n\n  spot\n\n  note\n\n" +
		"== x: failed\nasked\n  warning: look out\nrests on\n\nNotes\n  of x\n\ncare\n"; text.String() != want {
		t.Errorf("%s\nwant\n%s", text.String(), want)
	}
	if err := Markdown(&page, d); err != nil {
		t.Fatal(err)
	}
	if want := "## ✘ Failed\n\na → b\n\n" +
		"1. **x**: one\n1. **x**: two\n1. and 1 more\n\n- spot\n- note\n\n" +
		"### x: failed\n\nasked\n\n- warning: look out\n\n" +
		"<details><summary>1 metric</summary>\n\n- of x\n\n</details>\n\n> care\n"; page.String() != want {
		t.Errorf("%s\nwant\n%s", page.String(), want)
	}
	if drawn != 0 {
		t.Errorf("drawn %d times", drawn)
	}
	if err := Page(&html, d, ""); err != nil {
		t.Fatal(err)
	}
	const first = "<h2>x: failed</h2>\n<p>asked</p>\n<p>in short</p>\n<h3>Warnings</h3>"
	if s := html.String(); !strings.Contains(s, first) || drawn != 1 ||
		strings.Contains(s, "rests on") {
		t.Errorf("drawn %d times, on\n%s", drawn, s[strings.Index(s, "<body>"):])
	}
}
