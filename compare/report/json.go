package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf16"
)

// comparisonFormat names the JSON form of a comparison; the number rises when
// a reader of the old form could misread the new one. Its schema is
// schema/comparison.schema.json.
const comparisonFormat = "tunegate-comparison-1"

// JSON writes a comparison, and the exit status that follows from it, at full
// precision.
func JSON(w io.Writer, p ComparisonPage, status int) error {
	return encode(w, forAllOf(p.Comparison.Terms, p.Comparison).comparison(p, status))
}

func encode(w io.Writer, v any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return err
	}
	_, err := io.WriteString(w, escapeControls(b.String()))
	return err
}

// escapeControls escapes control characters that JSON allows (U+007F to U+009F) and
// invisible ones of category Cf, which can change the direction of text. A terminal
// would act on them. They occur in strings only, so the data stay the same.
func escapeControls(s string) string {
	var out strings.Builder
	for _, r := range s {
		switch {
		case r == '\n' || !unicode.IsControl(r) && !unicode.Is(unicode.Cf, r):
			out.WriteRune(r)
		case r > 0xffff:
			high, low := utf16.EncodeRune(r)
			fmt.Fprintf(&out, `\u%04x\u%04x`, high, low)
		default:
			fmt.Fprintf(&out, `\u%04x`, r)
		}
	}
	return out.String()
}
