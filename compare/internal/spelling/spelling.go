// Package spelling compares the names of profiles, benchmarks and metrics.
package spelling

import (
	"strings"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// Fold maps the spellings of a name to one: names that are equal after compatibility
// composition (NFKC, UAX 15) and case folding are the same name.
func Fold(name string) string {
	if IsASCII(name) {
		return strings.ToLower(name)
	}
	return norm.NFKC.String(cases.Fold().String(norm.NFKC.String(name)))
}

// IsASCII reports whether every character of s is ASCII.
func IsASCII(s string) bool {
	for i := range len(s) {
		if s[i] >= 0x80 {
			return false
		}
	}
	return true
}
