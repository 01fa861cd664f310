package intake

import (
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"tunegate/compare/internal/spelling"
)

// mendMojibake is a text whose UTF-8 was once read as Windows-1252 and saved so:
// "Â°C" for "°C". Any other text comes back as it is.
func mendMojibake(text string) string {
	if spelling.IsASCII(text) || !strings.ContainsAny(text, "ÂÃâÎÏ") {
		return text
	}
	bytes, err := charmap.Windows1252.NewEncoder().String(text)
	if err != nil || spelling.IsASCII(bytes) || !utf8.ValidString(bytes) {
		return text
	}
	return bytes
}
