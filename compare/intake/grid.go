package intake

import (
	"slices"
	"strings"
	"unicode/utf8"

	"tunegate/compare"
	"tunegate/compare/intake/internal/workbook"
)

// grid is a sheet of cells, read row by row: a CSV file, or a sheet of a workbook.
type grid interface {
	// next reads the next row that is not blank; io.EOF ends them.
	next() (gridRow, error)
	// place says where a cell of the row in hand stands, and where one would that is
	// behind the last.
	place(i int) compare.Place
	// joined reports whether a cell is merged with the one above it.
	joined(at compare.Place) bool
	// separator is the mark between cells, 0 where there is none.
	separator() byte
}

// gridRow is a row of a grid. What it holds is valid until the next row is read.
type gridRow struct {
	cells      []string
	typed      []workbook.Cell // of a workbook, as long as cells; else nil
	lines      int             // how many lines it takes
	afterBlank bool            // a blank row stands before it
}

// filled counts the cells that hold something, and says which is the first.
func (r gridRow) filled() (n, first int) {
	first = -1
	for i, cell := range r.cells {
		if cell != "" && strings.TrimSpace(cell) != "" {
			if n++; first < 0 {
				first = i
			}
		}
	}
	return n, first
}

// fillsThree reports whether three cells or more hold something, by their first bytes.
func (r *gridRow) fillsThree() bool {
	n := 0
	for _, cell := range r.cells {
		if cell != "" && cell[0] > ' ' && cell[0] < utf8.RuneSelf {
			if n++; n == 3 {
				return true
			}
		}
	}
	n, _ = r.filled()
	return n > 2
}

// kind is what a workbook says about a cell; Text without one.
func (r gridRow) kind(i int) workbook.Kind {
	if r.typed == nil || i >= len(r.typed) {
		return workbook.Text
	}
	return r.typed[i].Kind
}

// Bounds on what is read ahead to find where a table begins.
const (
	maxRowsAhead  = 60
	maxBytesAhead = 256 << 10
)

// rowReader goes through the rows of a grid, of which it can read some ahead.
type rowReader struct {
	grid
	ahead  []placedRow
	err    error // what ended reading ahead
	row    gridRow
	places []compare.Place // of the cells of the row in hand; nil: the grid knows
}

// placedRow is a row that was read ahead.
type placedRow struct {
	gridRow
	places []compare.Place // one more than cells
}

// readAhead reads the first rows.
func (r *rowReader) readAhead() {
	size := 0
	for len(r.ahead) < maxRowsAhead && size < maxBytesAhead && r.err == nil {
		row, err := r.grid.next()
		if err != nil {
			r.err = err
			return
		}
		kept := placedRow{gridRow: row, places: make([]compare.Place, len(row.cells)+1)}
		kept.cells, kept.typed = make([]string, len(row.cells)), slices.Clone(row.typed)
		for i, cell := range row.cells {
			kept.cells[i], kept.places[i] = strings.Clone(cell), r.grid.place(i)
			size += len(cell) + 16
		}
		kept.places[len(row.cells)] = r.grid.place(len(row.cells))
		r.ahead = append(r.ahead, kept)
	}
}

// next goes to the next row; io.EOF ends them.
func (r *rowReader) next() error {
	if len(r.ahead) > 0 {
		r.row, r.places = r.ahead[0].gridRow, r.ahead[0].places
		r.ahead = r.ahead[1:]
		return nil
	}
	r.row, r.places = gridRow{}, nil
	if r.err != nil {
		return r.err
	}
	var err error
	r.row, err = r.grid.next()
	return err
}

// place says where a cell of the row in hand stands.
func (r *rowReader) place(i int) compare.Place {
	if r.places == nil {
		return r.grid.place(i)
	}
	return r.places[min(i, len(r.places)-1)]
}
