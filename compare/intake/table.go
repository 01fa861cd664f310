package intake

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
)

// table reads the rows of a CSV file (RFC 4180, with the separator of the
// header) below its header.
type table struct {
	*sink
	src     *text
	csv     *csv.Reader
	skipped int   // lines consumed before csv sees any
	offset  int64 // where the row in hand ends
	endLine int   // on which line
	drained bool  // csv has met the end of the file

	head    []string // the header, outer white space removed
	headAt  []compare.Place
	unnamed []int
	at      [columnCount]int // where the known columns stand, -1 where not
	cells   []string         // the row in hand, valid until the next one
	last    [columnCount]struct{ raw, label string }
	numbers decimals

	// The continuation bytes of the row in hand before cell counted, so that
	// the places of all cells of a row cost one pass over it.
	counted, continuing int
}

// maxColumns bounds what a header can make the program hold.
const maxColumns = 1 << 14

func newTable(src *text, lines *bufio.Reader, h head, s *sink) (*table, error) {
	// csv.NewReader takes a buffered reader as it is, whatever its size.
	t := &table{sink: s, src: src, skipped: h.skipped, numbers: decimals{comma: h.sep != ','}}
	r := csv.NewReader(bufio.NewReaderSize(io.MultiReader(bytes.NewReader(h.line), lines, (*endMark)(&t.drained)), chunkSize))
	r.Comma, r.FieldsPerRecord, r.ReuseRecord = rune(h.sep), -1, true
	// A quoted cell may follow a blank. Behind a tab, blanks are cells.
	r.TrimLeadingSpace = h.sep != '\t'
	t.csv = r
	if err := t.next(); err != nil {
		if err == io.EOF {
			err = placed(compare.Place{File: src.name}, "the file is empty, expected %s", src.expects)
		}
		return nil, err
	}
	return t, t.readHeader()
}

// endMark is an empty end of a file that notes when it is reached.
type endMark bool

func (m *endMark) Read([]byte) (int, error) {
	*m = true
	return 0, io.EOF
}

func (t *table) readHeader() error {
	if len(t.cells) > maxColumns {
		return t.fail(maxColumns, "found %d columns, expected at most %d", len(t.cells), maxColumns)
	}
	for c := range t.at {
		t.at[c] = -1
	}
	for i, cell := range t.cells {
		name := strings.Clone(strings.TrimSpace(cell))
		if err := checkName(cell); err != nil {
			return t.fail(i, "%w", err)
		}
		t.head = append(t.head, name)
		t.headAt = append(t.headAt, t.place(i))
		if name == "" {
			t.unnamed = append(t.unnamed, i)
		}
		if c, ok := columnNamed(name); ok {
			if first := t.at[c]; first >= 0 {
				return t.fail(i, "column %d %q is named like column %d %q; rename or delete one of the two", i+1, name, first+1, t.head[first])
			}
			t.at[c] = i
		}
	}
	return nil
}

// next reads the next row that is not blank; io.EOF ends them.
func (t *table) next() error {
	for {
		t.src.newRow()
		cells, err := t.csv.Read()
		t.cells, t.counted, t.continuing = cells, 0, 0
		if err == io.EOF {
			return err
		}
		if err != nil {
			return t.explain(err)
		}
		offset := t.csv.InputOffset()
		size := offset - t.offset
		t.offset = offset
		last, _ := t.csv.FieldPos(len(cells) - 1)
		t.endLine = last + strings.Count(cells[len(cells)-1], "\n")
		if size > maxLine+2 {
			first, _ := t.csv.FieldPos(0)
			return t.tooLong(first)
		}
		for _, cell := range cells {
			if cell != "" && strings.TrimSpace(cell) != "" {
				return nil
			}
		}
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
	switch n := len(t.cells); {
	case n > len(t.head):
		hint := ""
		if t.csv.Comma == ',' {
			hint = "; for decimal commas separate the columns by ; or tab"
		}
		return t.fail(len(t.head), "found %s, expected %d as in the header; delete the separators too many, or put a cell that holds "+
			"one in quotes%s", english.Count(n, "cell"), len(t.head), hint)
	case n < len(t.head):
		return t.fail(n-1, "found %s, expected %d as in the header; write a separator for each empty cell too", english.Count(n, "cell"),
			len(t.head))
	}
	if first, _ := t.csv.FieldPos(0); first != t.endLine {
		if err := t.brokenLines(); err != nil {
			return err
		}
	}
	for _, i := range t.unnamed {
		if cell := strings.TrimSpace(t.cells[i]); cell != "" {
			return t.fail(i, "found %s in column %d, which has no name; name it in the header or empty it", excerpt(cell), i+1)
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

// place says where a cell of the row in hand begins. encoding/csv counts the
// column in bytes; the bytes that continue a character are taken off.
func (t *table) place(i int) compare.Place {
	line, col := t.csv.FieldPos(i)
	if t.src.wide {
		if i < t.counted {
			t.counted, t.continuing = 0, 0
		}
		for ; t.counted < i; t.counted++ {
			t.continuing = continued(t.cells[t.counted], t.continuing)
		}
		col -= t.continuing
	}
	return compare.Place{File: t.src.name, Line: line + t.skipped, Column: col}
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

// fail is an error at a cell of the row in hand.
func (t *table) fail(i int, format string, args ...any) error {
	return &compare.PlacedError{At: t.place(i), Msg: fmt.Errorf(format, args...).Error()}
}

// failHead is an error at a cell of the header.
func (t *table) failHead(i int, format string, args ...any) error {
	return &compare.PlacedError{At: t.headAt[i], Msg: fmt.Errorf(format, args...).Error()}
}

// explain gives an error of encoding/csv a place and a way out.
func (t *table) explain(err error) error {
	var syntax *csv.ParseError
	switch {
	case errors.Is(err, errRowTooLong):
		return t.tooLong(t.openLine(t.endLine + 1))
	case !errors.As(err, &syntax):
		return err
	}
	if errors.Is(err, csv.ErrBareQuote) {
		return placed(compare.Place{File: t.src.name, Line: syntax.Line + t.skipped, Column: syntax.Column - continuedAll(t.cells)},
			`found a quote inside a cell that does not begin with one; put the cell in quotes and double the quote, as in "5"" fan"`)
	}
	open := t.openLine(syntax.StartLine)
	at := compare.Place{File: t.src.name, Line: open + t.skipped}
	// Both errors are ErrQuote. This one stands at the end of the last line,
	// which src knows the length of unless a line end follows.
	if t.drained && (t.src.lineBytes == 0 || syntax.Column > t.src.lineBytes) {
		return placed(at, "the quote that opens on this line is never closed; close it, or delete it")
	}
	col := syntax.Column
	if open == syntax.Line {
		col -= continuedAll(t.cells)
	}
	return placed(at, `the quote that opens on this line closes at line %d, column %d, where a separator or a line end should follow; `+
		`close the cell there, or double a quote that belongs to it`, syntax.Line+t.skipped, col)
}

// openLine says on which line, as csv counts, the cell begins that the failed
// row broke off in: behind the last complete cell. A cell cut for its length
// may count as complete.
func (t *table) openLine(start int) int {
	n := len(t.cells)
	if n == 0 {
		return start
	}
	line, _ := t.csv.FieldPos(n - 1)
	if len(t.cells[n-1]) > maxLine {
		return line
	}
	return line + strings.Count(t.cells[n-1], "\n")
}

func (t *table) tooLong(line int) error {
	return placed(compare.Place{File: t.src.name, Line: line + t.skipped},
		"what begins on this line is one row of more than %d bytes; is a quote here not closed?", maxLine)
}

// errNoRows is the error of a header with nothing below it.
func (t *table) errNoRows() error {
	return t.failHead(0, "found a header without rows, expected at least one row below it")
}
