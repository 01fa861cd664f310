package report

import (
	"fmt"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
)

// rows counts the lines that values stand in: a line of a wide file holds
// several.
func rows(values *compare.Rows) string { return english.Count(values.Lines().Len(), "row") }

// linesOf lists the lines that values stand in, each once.
func linesOf(values *compare.Rows) (out []string) {
	for _, v := range values.Lines().All() {
		out = append(out, Clean(v.Line().String()))
	}
	return out
}

// places says where rows stand, at most three lines of each of two files:
// "runs/1.csv:2, 3, 4 and 9 more; runs/2.csv:7; and 4 more files".
func places(values *compare.Rows) string {
	type file struct {
		lines []string // the first ones
		more  int
	}
	files, order := map[string]*file{}, []string(nil)
	for _, v := range values.Lines().All() {
		at := v.Line()
		name := at.Source()
		f := files[name]
		switch {
		case f == nil:
			files[name], order = &file{lines: []string{at.String()}}, append(order, name)
		case len(f.lines) < 3:
			f.lines = append(f.lines, fmt.Sprint(at.Line))
		default:
			f.more++
		}
	}
	var parts []string
	for _, name := range order[:min(2, len(order))] {
		part := strings.Join(files[name].lines, ", ")
		if more := files[name].more; more > 0 {
			part += fmt.Sprintf(" and %d more", more)
		}
		parts = append(parts, part)
	}
	if more := len(order) - 2; more > 0 {
		parts = append(parts, "and "+english.Count(more, "more file"))
	}
	return Clean(strings.Join(parts, "; "))
}
