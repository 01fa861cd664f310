package intake

import (
	"io"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/intake/internal/workbook"
)

// layout is where a table stands among the rows that were read ahead, and what its
// columns are.
type layout struct {
	header int      // the row of the header
	units  bool     // the row below holds units
	groups bool     // the row above names what stands side by side
	views  []view   // side by side; at least one
	beside []string // what stands above columns that are no table
	width  int      // cells of the header
}

// view is one of the tables that stand side by side. They share the columns on the
// left of all of them.
type view struct {
	*headings
	columns []int  // of the grid; nil: all
	label   string // what stands above, or before the runs' numbers; empty for a table that stands alone
	names   column // what the label is: a profile, a session, a benchmark or a metric
}

// locate finds the table: the first row that is a header beyond doubt, else the row
// above the first numbers, else the first row.
func locate(rows []placedRow, opt *options, separator byte) layout {
	widest := 0
	for _, row := range rows {
		n, _ := row.filled()
		widest = max(widest, n)
	}
	for i, row := range rows {
		if n, _ := row.filled(); n < min(2, widest) || 2*n < widest && 2*headed(rows, i) < widest {
			continue
		}
		l := layoutAt(rows, i, opt, separator)
		if l.sure() {
			return l
		}
	}
	fallback := 0
	for i := 1; i < len(rows); i++ {
		above := i - 1
		if above > 0 && isUnitRow(rows[above].gridRow, rows[above-1].gridRow) {
			above--
		}
		if headsNumbers(rows[above].gridRow, rows[i].gridRow, widest, separator) {
			fallback = above
			break
		}
	}
	return layoutAt(rows, fallback, opt, separator)
}

// headed counts the columns that a row heads together with the one above it.
func headed(rows []placedRow, i int) (n int) {
	if i == 0 || rows[i].afterBlank {
		return 0
	}
	for k := range max(len(rows[i].cells), len(rows[i-1].cells)) {
		if k < len(rows[i].cells) && strings.TrimSpace(rows[i].cells[k]) != "" ||
			k < len(rows[i-1].cells) && strings.TrimSpace(rows[i-1].cells[k]) != "" {
			n++
		}
	}
	return n
}

// headsNumbers reports whether a row of texts stands above all numbers of another.
func headsNumbers(head, row gridRow, widest int, separator byte) bool {
	comma, numbers := separator != ',', 0
	if n, _ := head.filled(); 2*n < widest {
		return false
	}
	for i := range row.cells {
		if isNumberCell(row, i, comma) {
			numbers++
			if i >= len(head.cells) || strings.TrimSpace(head.cells[i]) == "" || head.kind(i) != workbook.Text || isNumberCell(head, i, comma) {
				return false
			}
		}
	}
	return numbers > 0
}

// isUnitRow reports whether a row holds nothing but units, each below a header.
func isUnitRow(row, head gridRow) bool {
	units := 0
	for i, cell := range row.cells {
		cell = strings.TrimSpace(cell)
		if cell == "" {
			continue
		}
		if _, known := knownUnit(strings.Trim(cell, "[]()")); !known || i >= len(head.cells) || strings.TrimSpace(head.cells[i]) == "" {
			return false
		}
		if _, known := columnNamed(strings.TrimSpace(head.cells[i])); known || columnWords[foldWord(head.cells[i])] != colBenchmark {
			return false
		}
		units++
	}
	return units > 0
}

// sure reports whether each of the tables is headed beyond doubt.
func (l layout) sure() bool {
	for _, v := range l.views {
		if !v.headings.sure || v.err != nil {
			return false
		}
	}
	return true
}

// layoutAt reads a row as the header.
func layoutAt(rows []placedRow, header int, opt *options, separator byte) layout {
	l := layout{header: header, width: len(rows[header].cells)}
	cells := append([]string(nil), rows[header].cells...)
	below := rows[header+1:]
	var starts []int // of groups
	names, stated := colProfile, false
	if header > 0 && !rows[header].afterBlank {
		above := rows[header-1].gridRow
		if n, _ := above.filled(); n > 1 {
			starts = groupStarts(cells, above, separator)
		}
		if len(starts) > 2 {
			if c, known := labelColumn(above.cells[starts[0]]); known {
				names, stated, starts = c, true, starts[1:]
			}
		}
	}
	heads := readHeads(cells, opt)
	if len(below) > 0 && isUnitRow(below[0].gridRow, rows[header].gridRow) {
		for i, cell := range below[0].cells {
			if unit, known := knownUnit(strings.Trim(strings.TrimSpace(cell), "[]()")); known && heads[i].unit == "" {
				heads[i].unit = unit
			}
		}
		l.units, below = true, below[1:]
	}
	if l.groups = sideBySide(heads, starts); !l.groups {
		if l.views = stemViews(heads, below, separator); len(l.views) == 0 {
			l.views = []view{{headings: headingsOf(heads, nil, below, separator)}}
		}
		return l
	}
	above := rows[header-1].cells
	for k, start := range starts {
		end := len(heads)
		if k+1 < len(starts) {
			end = starts[k+1]
		}
		v := view{label: unbroken(above[start]), names: names}
		var own []headCell
		for i := range heads {
			if i < starts[0] || i >= start && i < end {
				v.columns, own = append(v.columns, i), append(own, heads[i])
			}
		}
		v.headings = headingsOf(own, v.columns, below, separator)
		l.views = append(l.views, v)
	}
	// What is beside tables beyond doubt, such as a comparison of them, is none.
	if slices.ContainsFunc(l.views, func(v view) bool { return v.sure }) {
		l.views = slices.DeleteFunc(l.views, func(v view) bool {
			if !v.sure && v.err == nil {
				l.beside = append(l.beside, v.label)
				return true
			}
			return false
		})
	}
	v := &l.views[0]
	switch {
	case names == colProfile, names == colSession, names == colMachine, names == colBlock, names == colBenchmark && v.shape == wideShape:
	default:
		v.fail(0, "found %s on the left of what stands above the columns; expected profile, session, machine or block there, or "+
			"benchmark where the columns are what was measured", excerpt(above[starts[0]]))
	}
	if !stated {
		l.checkNames(starts[0])
	}
	return l
}

// labelColumn is the column that a text names, also by a word for it.
func labelColumn(text string) (c column, known bool) {
	if c, known = columnNamed(strings.TrimSpace(text)); !known {
		c, known = columnWords[foldWord(text)]
	}
	return c, known
}

// checkNames refuses labels above columns that may be benchmarks as well as profiles:
// where nothing else names a benchmark, or the rows name the profile.
func (l *layout) checkNames(first int) {
	var labels []string
	for _, v := range l.views {
		if v.shape != wideShape || v.err != nil {
			return
		}
		for i, cell := range v.heads {
			if v.columns[i] >= first && !cell.known && cell.text != "" && !quantityWords[plainWord(cell.name)] && v.at[colProfile] < 0 {
				return
			}
		}
		labels = append(labels, excerpt(v.label))
	}
	v := &l.views[0]
	v.fail(slices.Index(v.columns, max(first, 0)), "found %s above columns that name no benchmark; say what they are: write benchmark, "+
		"profile or session into a cell on their left, in the same row", compare.List(labels, 4))
}

// groupStarts are the columns in which the row above a header begins something: a
// text above a header of its own. An empty header takes the text above it, which
// was merged with it.
func groupStarts(cells []string, above gridRow, separator byte) (starts []int) {
	for i, text := range above.cells {
		if strings.TrimSpace(text) == "" || i >= len(cells) {
			continue
		}
		if isNumberCell(above, i, separator != ',') {
			return nil
		}
		if strings.TrimSpace(cells[i]) != "" {
			starts = append(starts, i)
		} else {
			cells[i] = text
		}
	}
	return starts
}

// sideBySide reports whether what begins at the starts are tables of their own: where
// a header stands in two of them, or runs do.
func sideBySide(heads []headCell, starts []int) bool {
	if len(starts) < 2 {
		return false
	}
	groupOf := func(i int) int {
		for k := len(starts) - 1; k >= 0; k-- {
			if i >= starts[k] {
				return k
			}
		}
		return -1
	}
	met, runs := map[string]int{}, map[int]bool{}
	for i, cell := range heads {
		group := groupOf(i)
		if cell.text == "" || group < 0 {
			continue
		}
		if first, twice := met[foldWord(cell.text)]; twice && first != group {
			return true
		}
		met[foldWord(cell.text)] = group
		if cell.run.number > 0 && (cell.run.strong || cell.run.stem == "") {
			runs[group] = true
		}
	}
	return len(runs) > 1
}

// noTable is the error of a grid without a row.
func noTable(err error, name, expects string) error {
	if err == io.EOF {
		return placed(compare.Place{File: name}, "the file is empty, expected %s", expects)
	}
	return err
}
