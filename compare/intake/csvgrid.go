package intake

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"

	"tunegate/compare"
)

// csvGrid reads the rows of a CSV file (RFC 4180, with the separator of its head).
type csvGrid struct {
	src     *text
	csv     *csv.Reader
	skipped int   // lines consumed before csv sees any
	offset  int64 // where the row in hand ends
	endLine int   // on which line
	drained bool  // csv has met the end of the file
	cells   []string

	// The continuation bytes of the row in hand before cell counted, so that
	// the places of all cells of a row cost one pass over it.
	counted, continuing int
}

func newCSVGrid(src *text, lines *bufio.Reader, h head) *csvGrid {
	// csv.NewReader takes a buffered reader as it is, whatever its size.
	g := &csvGrid{src: src, skipped: h.skipped}
	r := csv.NewReader(bufio.NewReaderSize(io.MultiReader(bytes.NewReader(h.line), lines, (*endMark)(&g.drained)), chunkSize))
	r.Comma, r.FieldsPerRecord, r.ReuseRecord = rune(h.sep), -1, true
	// A quoted cell may follow a blank. Behind a tab, blanks are cells.
	r.TrimLeadingSpace = h.sep != '\t'
	g.csv = r
	return g
}

// endMark is an empty end of a file that notes when it is reached.
type endMark bool

func (m *endMark) Read([]byte) (int, error) {
	*m = true
	return 0, io.EOF
}

func (g *csvGrid) joined(compare.Place) bool { return false }

func (g *csvGrid) separator() byte { return byte(g.csv.Comma) }

// betweenRows reports whether nothing was taken behind the row in hand.
func (g *csvGrid) betweenRows() bool { return g.csv.InputOffset() == g.offset }

func (g *csvGrid) next() (gridRow, error) {
	row := gridRow{}
	for {
		g.src.newRow()
		cells, err := g.csv.Read()
		g.cells, g.counted, g.continuing = cells, 0, 0
		if err == io.EOF {
			return row, err
		}
		if err != nil {
			return row, g.explain(err)
		}
		offset := g.csv.InputOffset()
		size := offset - g.offset
		g.offset = offset
		first, _ := g.csv.FieldPos(0)
		last, _ := g.csv.FieldPos(len(cells) - 1)
		row.afterBlank = row.afterBlank || g.endLine > 0 && first > g.endLine+1
		if g.endLine = last; strings.IndexByte(cells[len(cells)-1], '\n') >= 0 {
			g.endLine += strings.Count(cells[len(cells)-1], "\n")
		}
		if size > maxLine+2 {
			return row, g.tooLong(first)
		}
		for _, cell := range cells {
			if cell != "" && strings.TrimSpace(cell) != "" {
				row.cells, row.lines = cells, g.endLine-first+1
				return row, nil
			}
		}
		row.afterBlank = true
	}
}

// place says where a cell of the row in hand begins. encoding/csv counts the
// column in bytes; the bytes that continue a character are taken off.
func (g *csvGrid) place(i int) compare.Place {
	if i >= len(g.cells) {
		return compare.Place{File: g.src.name, Line: g.endLine + g.skipped}
	}
	line, col := g.csv.FieldPos(i)
	if g.src.wide {
		if i < g.counted {
			g.counted, g.continuing = 0, 0
		}
		for ; g.counted < i; g.counted++ {
			g.continuing = continued(g.cells[g.counted], g.continuing)
		}
		col -= g.continuing
	}
	return compare.Place{File: g.src.name, Line: line + g.skipped, Column: col}
}

// continued adds the UTF-8 continuation bytes (RFC 3629: 10xxxxxx) of a cell
// to n; a line break in it starts the count anew.
func continued(cell string, n int) int {
	for i := range len(cell) {
		switch c := cell[i]; {
		case c == '\n':
			n = 0
		case c&0xC0 == 0x80:
			n++
		}
	}
	return n
}

// continuedAll is continued over the cells read before an error.
func continuedAll(cells []string) int {
	n := 0
	for _, cell := range cells {
		n = continued(cell, n)
	}
	return n
}

// explain gives an error of encoding/csv a place and a way out.
func (g *csvGrid) explain(err error) error {
	var syntax *csv.ParseError
	switch {
	case errors.Is(err, errRowTooLong):
		return g.tooLong(g.openLine(g.endLine + 1))
	case !errors.As(err, &syntax):
		return err
	}
	if errors.Is(err, csv.ErrBareQuote) {
		return placed(compare.Place{File: g.src.name, Line: syntax.Line + g.skipped, Column: syntax.Column - continuedAll(g.cells)},
			`found a quote inside a cell that does not begin with one; put the cell in quotes and double the quote, as in "5"" fan"`)
	}
	open := g.openLine(syntax.StartLine)
	at := compare.Place{File: g.src.name, Line: open + g.skipped}
	// Both errors are ErrQuote. This one stands at the end of the last line,
	// which src knows the length of unless a line end follows.
	if g.drained && (g.src.lineBytes == 0 || syntax.Column > g.src.lineBytes) {
		return placed(at, "the quote that opens on this line is never closed; close it, or delete it")
	}
	col := syntax.Column
	if open == syntax.Line {
		col -= continuedAll(g.cells)
	}
	return placed(at, `the quote that opens on this line closes at line %d, column %d, where a separator or a line end should follow; `+
		`close the cell there, or double a quote that belongs to it`, syntax.Line+g.skipped, col)
}

// openLine says on which line, as csv counts, the cell begins that the failed
// row broke off in: behind the last complete cell. A cell cut for its length
// may count as complete.
func (g *csvGrid) openLine(start int) int {
	n := len(g.cells)
	if n == 0 {
		return start
	}
	line, _ := g.csv.FieldPos(n - 1)
	if len(g.cells[n-1]) > maxLine {
		return line
	}
	return line + strings.Count(g.cells[n-1], "\n")
}

func (g *csvGrid) tooLong(line int) error {
	return placed(compare.Place{File: g.src.name, Line: line + g.skipped},
		"what begins on this line is one row of more than %d bytes; is a quote here not closed?", maxLine)
}
