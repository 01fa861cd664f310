package intake

import (
	"slices"
	"strings"

	"tunegate/compare"
)

// statesUnit reports whether a header with a name states a unit or a direction.
func (h *headings) statesUnit() bool {
	return slices.ContainsFunc(h.heads, func(cell headCell) bool {
		return cell.err == nil && (cell.unit != "" || cell.better != "") && cell.name != ""
	})
}

// firstBelow is the first text below a header.
func (h *headings) firstBelow(i int, below []placedRow) string {
	return firstBelow(below, h.inGrid(i))
}

// inGrid is where a column of the table stands in its grid.
func (h *headings) inGrid(i int) int {
	if h.columns != nil {
		return h.columns[i]
	}
	return i
}

// beginsWithText reports whether the first cell of a column that holds something holds
// a text.
func (h *headings) beginsWithText(i int, below []placedRow, comma bool) bool {
	for _, row := range below {
		if k := h.inGrid(i); k < len(row.cells) && strings.TrimSpace(row.cells[k]) != "" {
			return !isNumberCell(row.gridRow, k, comma)
		}
	}
	return false
}

// withoutUnits is the error of a table that has benchmarks down and columns of numbers
// that say neither what they measure nor which run they are: profiles, perhaps.
func (h *headings) withoutUnits(below []placedRow, comma bool) *headings {
	var numbers []string
	for i, cell := range h.heads {
		if cell.known || cell.text == "" || isStatistic(cell.name) || isChange(cell.name) {
			continue
		}
		for _, row := range below {
			if k := h.inGrid(i); k < len(row.cells) && isNumberCell(row.gridRow, k, comma) {
				numbers = append(numbers, excerpt(cell.text))
				break
			}
		}
	}
	switch len(numbers) {
	case 0:
		if _, exact := columnNamed(h.heads[h.at[colBenchmark]].text); !exact {
			h.at[colBenchmark] = -1
			return h
		}
		return h.without(colValue)
	case 1:
		return h.without(colValue)
	}
	return h.fail(h.at[colBenchmark], "found the columns %s, which say neither a run nor a unit; where they are profiles, write value below "+
		"each of them, in a row of its own; where they are what was measured, write the unit behind each, as in %q",
		compare.List(numbers, 4), "time [s]")
}
