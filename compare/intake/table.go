package intake

import (
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/intake/internal/workbook"
)

// table reads the rows of a table below its header. Tables side by side share the
// rows of their grid.
type table struct {
	*sink
	rows    *rowReader
	columns []int               // which cells of a row are the table's; nil: all
	given   [columnCount]string // labels that stand above the columns or the table

	head    []string // the header, outer white space removed
	headAt  []compare.Place
	unnamed []int
	at      [columnCount]int // where the known columns stand, -1 where not
	cells   []string         // the row in hand, valid until the next one
	typed   []workbook.Cell  // what a workbook says about them; nil for CSV
	own     []string         // where cells are put together
	ownType []workbook.Cell
	last    [columnCount]struct{ raw, label string }
	numbers *decimals
	people  bool // made by hand: labels that tell runs apart have to stand in every row
	gaps    [columnCount]labelGap
	flags   []int // columns that say where a run was spoilt
}

// maxColumns bounds what a header can make the program hold.
const maxColumns = workbook.MaxColumns

// newTable reads a header in the first row.
func newTable(g grid, name, expects string, s *sink) (*table, error) {
	t := &table{sink: s, rows: &rowReader{grid: g}, numbers: &decimals{comma: g.separator() != ','}}
	if err := t.rows.next(); err != nil {
		return nil, noTable(err, name, expects)
	}
	return t, t.readHeader(t.rows.row.cells, t.rows.place)
}

func (t *table) readHeader(cells []string, place func(int) compare.Place) error {
	if len(cells) > maxColumns {
		return placed(place(maxColumns), "found %d columns, expected at most %d", len(cells), maxColumns)
	}
	for c := range t.at {
		t.at[c] = -1
	}
	for i, cell := range cells {
		name := strings.Clone(strings.TrimSpace(cell))
		if err := checkName(cell); err != nil {
			return placed(place(i), "%v", err)
		}
		t.head = append(t.head, name)
		t.headAt = append(t.headAt, place(i))
		if name == "" {
			t.unnamed = append(t.unnamed, i)
		}
		if c, ok := columnNamed(name); ok {
			if first := t.at[c]; first >= 0 {
				return placed(place(i), "column %s %q is named like column %s %q; rename or delete one of the two", t.columnName(i), name,
					t.columnName(first), t.head[first])
			}
			t.at[c] = i
		}
	}
	return nil
}

// columnName is what a person calls a column: its number, or its letters in a
// workbook.
func (t *table) columnName(i int) string {
	if t.columns != nil {
		i = t.columns[i]
	}
	if t.rows.separator() == 0 {
		return compare.ColumnLetters(i + 1)
	}
	return fmt.Sprint(i + 1)
}

// next reads the next row that is not blank; io.EOF ends them.
func (t *table) next() error {
	if err := t.rows.next(); err != nil {
		return err
	}
	t.load()
	return nil
}

// load takes the table's cells from the row in hand.
func (t *table) load() {
	row := &t.rows.row
	t.cells, t.typed = row.cells, row.typed
	short := row.typed != nil && len(row.cells) < len(t.head) // a workbook has no empty cells at the end
	if t.columns == nil && !short {
		return
	}
	t.own, t.ownType = t.own[:0], t.ownType[:0]
	for k := range max(len(t.head), len(t.columns)) {
		i := k
		if t.columns != nil {
			i = t.columns[k]
		}
		switch {
		case i < len(row.cells) && row.typed != nil:
			t.own, t.ownType = append(t.own, row.cells[i]), append(t.ownType, row.typed[i])
		case i < len(row.cells):
			t.own = append(t.own, row.cells[i])
		default:
			t.own, t.ownType = append(t.own, ""), append(t.ownType, workbook.Cell{})
		}
	}
	t.cells = t.own
	if row.typed != nil {
		t.typed = t.ownType
	}
}

// row is next, held to the header's number of columns.
func (t *table) row() error {
	if err := t.next(); err != nil {
		return err
	}
	return t.checkRow()
}

// checkRow holds the row in hand to the header.
func (t *table) checkRow() error {
	n := len(t.cells)
	for n > len(t.head) && strings.TrimSpace(t.cells[n-1]) == "" {
		n--
	}
	switch {
	case n > len(t.head) && t.typed != nil:
		return t.fail(n-1, "found %s behind the last column of the table; head the column, or empty the cell", excerpt(t.cells[n-1]))
	case n > len(t.head):
		hint := ""
		if t.rows.separator() == ',' {
			hint = "; for decimal commas separate the columns by ; or tab"
		}
		return t.fail(len(t.head), "found %s, expected %d as in the header; delete the separators too many, or put a cell that holds "+
			"one in quotes%s", english.Count(n, "cell"), len(t.head), hint)
	case n < len(t.head):
		return t.fail(n-1, "found %s, expected %d as in the header; write a separator for each empty cell too", english.Count(n, "cell"),
			len(t.head))
	}
	if t.rows.row.lines > 1 {
		if err := t.brokenLines(); err != nil {
			return err
		}
	}
	for _, i := range t.unnamed {
		if cell := strings.TrimSpace(t.cells[i]); cell != "" {
			return t.fail(i, "found %s in column %s, which has no name; name it in the header or empty it", excerpt(cell), t.columnName(i))
		}
	}
	return nil
}

// brokenLines refuses a line break in a known column. A reason may have one;
// a column of numbers refuses it itself; elsewhere it does no harm.
func (t *table) brokenLines() error {
	for c, i := range t.at {
		if i >= 0 && column(c) != colReason && strings.Contains(t.cells[i], "\n") {
			return t.fail(i, "%w", errLineBreak(t.cells[i]))
		}
	}
	return nil
}

// place says where a cell of the row in hand begins.
func (t *table) place(i int) compare.Place {
	if t.columns != nil && i < len(t.columns) {
		i = t.columns[i]
	}
	return t.rows.place(i)
}

// fail is an error at a cell of the row in hand.
func (t *table) fail(i int, format string, args ...any) error {
	return &compare.PlacedError{At: t.place(i), Msg: fmt.Errorf(format, args...).Error()}
}

// failHead is an error at a cell of the header.
func (t *table) failHead(i int, format string, args ...any) error {
	return &compare.PlacedError{At: t.headAt[i], Msg: fmt.Errorf(format, args...).Error()}
}

// errNoRows is the error of a header with nothing below it.
func (t *table) errNoRows() error {
	return t.failHead(0, "found a header without rows, expected at least one row below it")
}

func (t *table) has(c column) bool { return t.at[c] >= 0 }

// isUsed reports whether a column is one of the known ones.
func (t *table) isUsed(i int) bool { return slices.Contains(t.at[:], i) || t.isFlag(i) }
