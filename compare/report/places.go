package report

import (
	"fmt"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
)

// rows counts the lines that values stand in: a line of a wide file holds
// several.
func rows(values []compare.Value) string { return english.Count(len(linesOf(values)), "row") }

// distinctLines are the lines that values stand in, each once.
func distinctLines(values []compare.Value) []compare.Place {
	var out []compare.Place
	seen := map[compare.Place]bool{}
	for _, v := range values {
		if at := v.Line(); !seen[at] {
			seen[at] = true
			out = append(out, at)
		}
	}
	return out
}

// linesOf lists the lines that values stand in, each once.
func linesOf(values []compare.Value) []string {
	return each(distinctLines(values), func(at compare.Place) string { return Clean(at.String()) })
}

// places says where rows stand, at most three lines of each of two files:
// "runs/1.csv:2, 3, 4 and 9 more; runs/2.csv:7; and 4 more files".
func places(values []compare.Value) string {
	files := groupsOf(distinctLines(values), compare.Place.Source)
	var parts []string
	for _, at := range files[:min(2, len(files))] {
		lines := each(at, func(p compare.Place) string { return fmt.Sprint(p.Line) })
		lines[0] = at[0].String()
		parts = append(parts, compare.List(lines, 3))
	}
	if more := len(files) - 2; more > 0 {
		parts = append(parts, "and "+english.Count(more, "more file"))
	}
	return Clean(strings.Join(parts, "; "))
}
