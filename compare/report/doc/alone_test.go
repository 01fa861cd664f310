package doc_test

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare/report/doc"
)

// chat is a form for this test: the outcome, the reasons and what is not settled,
// as a short message. It depends on no command.
func chat(w io.Writer, d doc.Document) error {
	lines := []string{d.Heading.Text + " (" + d.Subject + ")"}
	for _, s := range d.Sections {
		if s.Kind != doc.Reasons && s.Kind != doc.NotSettled {
			continue
		}
		for _, b := range s.Blocks {
			if l, ok := b.(doc.List); ok {
				for _, i := range l.Items {
					lines = append(lines, strings.TrimPrefix(i.Name+": "+i.Text, ": "))
				}
			}
		}
	}
	_, err := fmt.Fprintln(w, doc.Clean(strings.ReplaceAll(strings.Join(lines, " / "), doc.Arrow, "to")))
	return err
}

// kettle is a document for this test. It depends on no form.
func kettle() doc.Document {
	return doc.Document{
		Heading: doc.Line{Text: "Not boiling", Tone: doc.Bad}, Subject: "cold " + doc.Arrow + " hot", Caution: "Steam burns.",
		Sections: []doc.Section{
			{Kind: doc.Reasons, Blocks: []doc.Block{doc.List{Items: []doc.Item{{Name: "lid|<b>", Line: doc.Line{Text: "is open"}}}}}},
			{Kind: doc.Numbers, Title: "Water", Blocks: []doc.Block{doc.Table{Head: []string{"where", "°C"}, Right: []int{2},
				Rows: [][]doc.Cell{{{Line: doc.Line{Text: "top"}}, {Line: doc.Line{Text: "81"}}}}}}},
			{Kind: doc.NotSettled, Title: "Not settled", Blocks: []doc.Block{doc.List{Items: doc.Lines([]string{"the bottom"})}}},
		},
		Page: doc.Head{Title: "kettle", Headline: "Not boiling"},
	}
}

// Forms and commands are independent: a new form prints the document of a new
// command, and so do the existing forms.
func TestFormAndDocumentAreAddedAlone(t *testing.T) {
	forms := map[string]func(io.Writer, doc.Document) error{
		"chat":     chat,
		"text":     func(w io.Writer, d doc.Document) error { return doc.Text(w, d, doc.TextOptions{Width: 80}) },
		"markdown": doc.Markdown,
		"page":     func(w io.Writer, d doc.Document) error { return doc.Page(w, d, "") },
	}
	got := map[string]string{}
	for name, form := range forms {
		var b bytes.Buffer
		if err := form(&b, kettle()); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		got[name] = b.String()
	}
	if d := cmp.Diff("Not boiling (cold to hot) / lid|<b>: is open / the bottom\n", got["chat"]); d != "" {
		t.Error(d)
	}
	for name, parts := range map[string][]string{
		"text": {
			"Not boiling\ncold → hot\n", "lid|<b>: is open", "Water\n  where  °C\n  top    81\n",
			"Not settled\n  the bottom\n", "Steam burns.",
		},
		"markdown": {"## ✘ Not boiling\n", `lid\|&lt;b&gt;`, "| where | °C |\n", "| top | 81 |\n", "the bottom", "> Steam burns."},
		"page":     {"<title>kettle</title>", "<h1>Not boiling</h1>", "Steam burns."},
	} {
		for _, p := range parts {
			if !strings.Contains(got[name], p) {
				t.Errorf("%s lacks %q:\n%s", name, p, got[name])
			}
		}
	}
}
