// Package english writes numbers with their nouns and verbs.
package english

import (
	"strconv"
	"strings"
)

// Count is a number with what it counts, in English: "1 run", "3 runs".
func Count(n int, noun string) string { return strconv.Itoa(n) + " " + Noun(n, noun) }

// Noun is a noun for so many of it: "run" for 1, else "runs". "series" stays.
func Noun(n int, noun string) string {
	switch {
	case n == 1, strings.HasSuffix(noun, "series"):
		return noun
	case strings.HasSuffix(noun, "ch"), strings.HasSuffix(noun, "s"):
		return noun + "es"
	}
	return noun + "s"
}

// Verb is the form of a verb behind a number: "is" or "are", as given.
func Verb(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
