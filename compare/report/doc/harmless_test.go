package doc

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"
	markup "github.com/yuin/goldmark/renderer/html"
	"pgregory.net/rapid"
)

// hostileTexts are pieces of which hostile pages and names are made.
var hostileTexts = []string{"<img src=x onerror=y>", "<script>", "<!-- tunegate gate -->", "@everyone", "![p](https://evil.example/p)",
	"[l](javascript:x)", "https://evil.example", "www.evil.example", "me@evil.example", "`code`", "```", "~~~", "#12", "!12", "$x$", "~label",
	"/merge", " /close",
	"</details>", "<details><summary>6 metrics</summary>", "<details open>", "| a | b |", "|---|--:|", "**", "*", "__", `\`,
	"&lt;", "&#60;", "&amp;", "- ", "1. ", "> ", "## ", "    ", "\t", "\r", "\x1b[2J", "\u202e", "[x]: https://evil.example",
	"===", "---", "a", "7", " ", "\n", "\n\n", "|", "é", "＠",
	"://", "http", ":", "//", "w", "ww.", `\:`, `\<`, `\[`, "<https://evil.example>"}

func hostile() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		return strings.Join(rapid.SliceOfN(rapid.SampledFrom(hostileTexts), 1, 12).Draw(t, "pieces"), "")
	})
}

// Whatever a page holds, goldmark (a reader of CommonMark and of GitHub's Markdown that
// lets all HTML through) makes nothing of it but the tags that our own pages have.
func TestHarmlessIsInert(t *testing.T) {
	reader := goldmark.New(goldmark.WithExtensions(extension.GFM), goldmark.WithRendererOptions(markup.WithUnsafe()))
	tag := regexp.MustCompile(`<[^ >]+[^>]*>`)
	ours := regexp.MustCompile(`^</?(p|h[1-6]|ul|ol|li|table|thead|tbody|tr|t[hd]|strong|em|details|summary|blockquote|hr|br|pre|code)` +
		`( (align|style|start)="[a-z:0-9-]*")?( /)?>$`)
	rapid.Check(t, func(t *rapid.T) {
		page := hostile().Draw(t, "page")
		got := Harmless(page)
		var b bytes.Buffer
		if err := reader.Convert([]byte(got), &b); err != nil {
			t.Fatal(err)
		}
		for _, found := range tag.FindAllString(b.String(), -1) {
			if !ours.MatchString(found) {
				t.Fatalf("%q becomes %q, which holds %s:\n%s", page, got, found, &b)
			}
		}
		if strings.Count(got, "<details>") != strings.Count(got, "</details>") || strings.Contains(got, "@") ||
			regexp.MustCompile(`(?m)^ */`).MatchString(got) {
			t.Fatalf("%q becomes %q", page, got)
		}
		if again := Harmless(got); again != got {
			t.Fatalf("%q becomes %q, and that %q", page, got, again)
		}
	})
}

// What Markdown prints, with whatever names, is left as it is.
func TestHarmlessKeepsOurPages(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := func() string { return hostile().Draw(t, "name") }
		d := Document{Heading: Line{"Failed: " + name(), Bad}, Subject: "main " + Arrow + " " + name(),
			Caution: "Stay within the limits. " + name(),
			Closing: Line{Text: "c" + name()},
			Sections: []Section{
				{Kind: Reasons, Blocks: []Block{List{Items: []Item{{Name: "x" + name(), Line: Line{Text: "r" + name()}}}, Numbered: true}}},
				{Kind: Notes, Blocks: []Block{List{Items: Lines([]string{"n" + name()})}}}},
			Parts: []Part{{Heading: Line{"p" + name(), Bad}, Lead: "new profile" + name(), Warnings: []string{"w" + name()}, Folded: "1 metric",
				Sections: []Section{{Kind: Numbers, Title: "T" + name(), Blocks: []Block{
					Changes{Title: "Scores" + name(), Head: "benchmark", Interval: "95 % interval", Rows: []Change{{Name: name(),
						Verdict: Line{"regression", BigLoss}, Change: "-1 %", Before: name(), After: name()}}},
					Grid{Head: name(), Columns: []string{name()}, Rows: []GridRow{{Name: name(), Cells: []Cell{{Line: Line{Text: name()}}}}}},
					Paragraph{Line: Line{Text: "s" + name(), Tone: Strong}}}}}}}}
		var b bytes.Buffer
		if err := Markdown(&b, d); err != nil {
			t.Fatal(err)
		}
		if got := Harmless(b.String()); got != b.String() {
			t.Fatalf("%q becomes\n%q", b.String(), got)
		}
	})
}
