package report

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"unicode"
)

// Names from files can hold control characters and characters that change the
// direction of text. JSON holds them as escapes, and they are read back unchanged.
func TestJSONIsCalm(t *testing.T) {
	var name strings.Builder
	for r := rune(0); r <= unicode.MaxRune; r++ {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\u2028' || r == '\u2029' {
			name.WriteRune(r)
		}
	}
	name.WriteString("größe \\u009b 測定 😀 <>&")
	var b bytes.Buffer
	if err := encode(&b, map[string]string{name.String(): name.String()}); err != nil {
		t.Fatal(err)
	}
	for _, r := range b.String() {
		if r != '\n' && (unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\u2028' || r == '\u2029') {
			t.Errorf("holds %U", r)
		}
	}
	for _, kept := range []string{"größe", "測定 😀 <>&", `\u009b`, `\u202e`, `\udb40\udc7f`} {
		if !strings.Contains(b.String(), kept) {
			t.Errorf("lacks %q", kept)
		}
	}
	var back map[string]string
	if err := json.Unmarshal(b.Bytes(), &back); err != nil || back[name.String()] != name.String() {
		t.Errorf("reads back as %q, %v", back, err)
	}
}
