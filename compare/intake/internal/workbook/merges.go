package workbook

import (
	"encoding/xml"
	"slices"
	"strconv"
	"strings"
)

// Merges are the cells of a sheet that are merged with others below them.
type Merges struct {
	byColumn map[int][][2]int // first and last row, in order
}

// maxMerges bounds what is kept of merged cells.
const maxMerges = 200_000

// Merges reads which cells are merged. They stand behind the rows, so that the sheet is
// read once more, up to its end; a sheet that cannot be read has none.
func (r *Rows) Merges() *Merges {
	m := &Merges{byColumn: map[int][][2]int{}}
	n := 0
	_ = r.book.elements(r.x.part, maxSheetBytes, func(x *reader, e xml.StartElement) error {
		if e.Name.Local != "mergeCell" || n == maxMerges {
			return nil
		}
		from, to, ok := strings.Cut(attribute(e, "ref"), ":")
		first, okFirst := columnOf(from)
		last, okLast := columnOf(to)
		top, bottom := rowOf(from), rowOf(to)
		if !ok || !okFirst || !okLast || bottom <= top || last < first || last >= MaxColumns || top == 0 {
			return nil
		}
		for c := first; c <= last && n < maxMerges; c++ {
			m.byColumn[c+1] = append(m.byColumn[c+1], [2]int{top, bottom})
			n++
		}
		return nil
	})
	for _, spans := range m.byColumn {
		slices.SortFunc(spans, func(a, b [2]int) int { return a[0] - b[0] })
	}
	return m
}

// rowOf is the row of a cell's name: 7 for C7; 0 where it has none.
func rowOf(name string) int {
	n, err := strconv.Atoi(strings.TrimLeft(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz$"))
	if err != nil || n < 1 || n > maxRow {
		return 0
	}
	return n
}

// Joined reports whether a cell is merged with the one above it. Rows and columns count
// from 1.
func (m *Merges) Joined(row, column int) bool {
	spans := m.byColumn[column]
	i, found := slices.BinarySearchFunc(spans, row, func(s [2]int, row int) int { return s[0] - row })
	return !found && i > 0 && row <= spans[i-1][1]
}
