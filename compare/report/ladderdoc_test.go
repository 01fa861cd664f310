package report

import (
	"bytes"
	"strings"
	"testing"

	"tunegate/compare/report/doc"
)

// Text and Markdown of a ladder draw no picture. Each form states the product of
// the steps once, and a page has every table under one heading.
func TestLadderDocument(t *testing.T) {
	p := demoLadder(t)
	d := LadderDocument(p, Origin{})
	drawn := 0
	for _, s := range d.Sections {
		for i, b := range s.Blocks {
			if _, ok := b.(doc.Figures); ok {
				s.Blocks[i] = doc.Figures(func() []doc.Figure { drawn++; return nil })
			}
		}
	}
	var text, markdown, page bytes.Buffer
	for _, err := range []error{doc.Text(&text, d, doc.TextOptions{Width: 80}), doc.Markdown(&markdown, d)} {
		if err != nil || drawn > 0 {
			t.Fatalf("%v, drawn %d times", err, drawn)
		}
	}
	if err := doc.Page(&page, d, ""); err != nil || drawn != 1 {
		t.Fatalf("%v, drawn %d times", err, drawn)
	}
	for form, out := range map[string]string{"text": text.String(), "markdown": markdown.String()} {
		if n := strings.Count(out, "steps multiplied: "); n != 1 {
			t.Errorf("%s says %d times what the steps make", form, n)
		}
	}
	if n := strings.Count(page.String(), "<h2>All numbers</h2>"); n != 1 || strings.Count(page.String(), "<dt>Steps multiplied</dt>") != 1 {
		t.Errorf("%d sections of numbers", n)
	}
	for _, want := range []string{"Every benchmark, step by step", "What each profile costs and brings, beside factory", workTitle} {
		for form, out := range map[string]string{"text": text.String(), "markdown": markdown.String(), "page": page.String()} {
			if !strings.Contains(out, want) {
				t.Errorf("%s lacks %q", form, want)
			}
		}
	}
}
