package report

import (
	"fmt"
	"strings"

	"tunegate/compare"
)

// rows counts the lines that values stand in: a line of a wide file holds
// several.
func rows(values []compare.Value) string { return plural(len(linesOf(values)), "row") }

// linesOf lists the lines that values stand in, each once.
func linesOf(values []compare.Value) []string {
	var out []string
	seen := map[string]bool{}
	for _, v := range values {
		if s := Clean(v.Line().String()); !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	return out
}

// places says where rows stand, at most three lines of each of two files:
// "runs/1.csv:2, 3, 4 and 9 more; runs/2.csv:7; and 4 more files".
func places(values []compare.Value) string {
	var order []string
	lines := map[string][]string{}
	seen := map[compare.Place]bool{}
	for _, v := range values {
		at := v.Line()
		if seen[at] {
			continue
		}
		seen[at] = true
		if lines[at.File] == nil {
			order = append(order, at.File)
			lines[at.File] = []string{at.String()}
			continue
		}
		lines[at.File] = append(lines[at.File], fmt.Sprint(at.Line))
	}
	var parts []string
	for i, file := range order {
		if i == 2 {
			more := "1 more file"
			if n := len(order) - i; n > 1 {
				more = fmt.Sprintf("%d more files", n)
			}
			parts = append(parts, "and "+more)
			break
		}
		parts = append(parts, compare.List(lines[file], 3))
	}
	return Clean(strings.Join(parts, "; "))
}
