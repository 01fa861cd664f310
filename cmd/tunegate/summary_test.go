package main

import (
	"bytes"
	"strings"
	"testing"
)

// A summary that GitHub would drop is cut behind a line, outside of what is folded.
func TestCutSummary(t *testing.T) {
	page := []byte(strings.Repeat("a line\n", 100) + "<details><summary>6 metrics</summary>\n" + strings.Repeat("a row\n", 100) +
		"</details>\n")
	if got := cutSummary(page, len(page)); !bytes.Equal(got, page) {
		t.Error("what fits is cut")
	}
	for room := 150; room < len(page); room++ {
		got := string(cutSummary(page, room))
		if len(got) > room || !strings.Contains(got, "\n\nCut here: ") || strings.Count(got, "<details>") != strings.Count(got, "</details>") {
			t.Fatalf("%d bytes of %d: %q", len(got), room, got)
		}
		kept, _, _ := strings.Cut(strings.TrimSuffix(got, "\n"), "\n\nCut here")
		if kept = strings.TrimSuffix(kept, "\n</details>"); !bytes.HasPrefix(page, []byte(kept)) {
			t.Fatalf("%q is no beginning", kept)
		}
	}
}
