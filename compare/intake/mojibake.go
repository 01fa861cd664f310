package intake

import (
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// mendMojibake is a text whose UTF-8 was once read as Windows-1252 and saved so:
// "Â°C" for "°C". Any other text comes back as it is.
func mendMojibake(text string) string {
	if isASCII(text) || !strings.ContainsAny(text, "ÂÃâÎÏ") {
		return text
	}
	bytes, err := charmap.Windows1252.NewEncoder().String(text)
	if err != nil || isASCII(bytes) || !utf8.ValidString(bytes) {
		return text
	}
	return bytes
}
