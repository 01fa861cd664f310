package report

import (
	"testing"

	"tunegate/compare"
)

func TestPlaces(t *testing.T) {
	line := func(file string, line, column int) compare.Place {
		return compare.Place{File: file, Line: line, Column: column}
	}
	rows := func(places ...compare.Place) *compare.Rows {
		var out compare.Rows
		for _, at := range places {
			out.Append(compare.Value{At: at})
		}
		return &out
	}
	for _, c := range []struct {
		rows *compare.Rows
		want string
	}{
		{nil, ""},
		{rows(line("a.csv", 2, 7)), "a.csv:2"},
		{rows(line("a.csv", 2, 7), line("a.csv", 2, 9), line("a.csv", 5, 1)), "a.csv:2, 5"},
		{rows(line("a.csv", 2, 0), line("b.csv", 9, 0),
			line("a.csv", 3, 0), line("a.csv", 4, 0), line("a.csv", 5, 0), line("a.csv", 6, 0)), "a.csv:2, 3, 4 and 2 more; b.csv:9"},
		{rows(line("a.csv", 2, 0), line("b.csv", 9, 0), line("c.csv", 3, 0)), "a.csv:2; b.csv:9; and 1 more file"},
		{rows(line("a.csv", 2, 0), line("b.csv", 9, 0), line("c.csv", 3, 0), line("d.csv", 3, 0)),
			"a.csv:2; b.csv:9; and 2 more files"},
		{rows(compare.Place{File: "settings.toml"}), "settings.toml"},
	} {
		if got := places(c.rows); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
