package doc

import (
	"strings"
	"testing"
)

// Each form prints the sign, the verdict, the quoted sentence and its points
// together. A Markdown document without a heading begins with its closing line.
func TestAssessments(t *testing.T) {
	d := Document{Basis: "95 % confidence", Closing: Line{Text: "Not settled.", Tone: Unsettled}, Sections: []Section{
		{Kind: Findings, Blocks: []Block{
			Assessment{Verdict: Line{Text: "wrong", Tone: Bad}, Quote: "a <b> c", Points: []string{"why"}, Detail: "p = 1"},
			Assessment{Verdict: Line{Text: "not settled", Tone: Unsettled}, Quote: "d"},
		}},
		{Kind: Notes, Title: "Notes", Blocks: []Block{List{Items: Lines([]string{"note"})}}},
	}}
	text, markdown, _ := printed(t, d)
	for form, c := range map[string][2]string{
		"text": {text, "95 % confidence\n\n✘ wrong\n  \"a <b> c\"\n    why\n\n? not settled\n  \"d\"\n\nNotes\n  note\n\nNot settled.\n"},
		"markdown": {markdown, "## Not settled.\n\n95 % confidence\n\n✘ **wrong**: “a &lt;b&gt; c”\n\n- why\n\n" +
			"? **not settled**: “d”\n\n### Notes\n\n- note\n"},
	} {
		if c[0] != c[1] {
			t.Errorf("%s:\n%s\nwant\n%s", form, c[0], c[1])
		}
	}

	var detail strings.Builder
	if err := Text(&detail, d, TextOptions{Width: 80, Detail: true, Plain: true}); err != nil {
		t.Fatal(err)
	}
	if want := "wrong\n  \"a <b> c\"\n    why\n    p = 1\n"; !strings.Contains(detail.String(), want) {
		t.Errorf("detail:\n%s\nwant\n%s", detail.String(), want)
	}

	d.Sections[0].Kind = Numbers // a page shows sections of this kind
	_, _, page := printed(t, d)
	if want := "<h3>✘ wrong: “a &lt;b&gt; c”</h3>\n<ul>\n<li>why</li>\n</ul>\n<h3>? not settled: “d”</h3>\n"; !strings.Contains(page, want) {
		t.Errorf("page:\n%s\nwant\n%s", page, want)
	}
}
