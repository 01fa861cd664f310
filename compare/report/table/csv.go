package table

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// Separation is how the cells of a CSV are told apart, and its numbers written.
type Separation struct {
	// Comma stands between cells: a comma, a semicolon or a tab; 0 for a comma.
	// Behind a semicolon numbers have decimal commas, as where spreadsheets expect
	// both.
	Comma rune
	// NoMark leaves out the byte-order mark, by which spreadsheets know UTF-8.
	NoMark bool
}

const byteOrderMark = "\uFEFF"

// Writer writes rows of CSV that a spreadsheet opens as they are meant: UTF-8 with a
// byte-order mark, texts that it would run guarded. Error says what went wrong.
type Writer struct {
	out   *csv.Writer
	raw   io.Writer
	as    Separation
	begun bool
	err   error
}

// NewWriter returns a writer of CSV.
func NewWriter(w io.Writer, as Separation) *Writer {
	out := csv.NewWriter(w)
	if as.Comma != 0 {
		out.Comma = as.Comma
	}
	return &Writer{out: out, raw: w, as: as}
}

// Row writes a row of cells.
func (w *Writer) Row(cells ...Cell) {
	if w.err != nil {
		return
	}
	if !w.begun && !w.as.NoMark {
		if _, w.err = io.WriteString(w.raw, byteOrderMark); w.err != nil {
			return
		}
	}
	w.begun = true
	row := make([]string, len(cells))
	for i, c := range cells {
		row[i] = w.as.cell(c)
	}
	w.err = w.out.Write(row)
}

// Texts writes a row of texts.
func (w *Writer) Texts(texts ...string) {
	cells := make([]Cell, len(texts))
	for i, s := range texts {
		cells[i] = Cell{text: s}
	}
	w.Row(cells...)
}

// Close writes what is left, and returns the first error.
func (w *Writer) Close() error {
	w.out.Flush()
	if w.err != nil {
		return w.err
	}
	return w.out.Error()
}

// CSV writes a table with its columns' names in the first row.
func CSV(w io.Writer, t Table, as Separation) error {
	out := NewWriter(w, as)
	names := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		names[i] = c.Name
	}
	out.Texts(names...)
	for i, row := range t.Rows {
		if len(row) != len(t.Columns) {
			return fmt.Errorf("row %d of table %s has %d cells, expected %d", i+1, t.Name, len(row), len(t.Columns))
		}
		out.Row(row...)
	}
	return out.Close()
}

// cell is a cell's text: numbers to ten digits, without the noise of binary ones, unless
// they are exact.
func (as Separation) cell(c Cell) string {
	if c.number == nil {
		return Guard(c.text)
	}
	v := *c.number
	if c.format.Percent {
		v *= 100
	}
	s := strconv.FormatFloat(v, 'g', 10, 64)
	if c.format.Exact {
		s = strconv.FormatFloat(v, 'f', -1, 64)
	} else if a := math.Abs(v); a == 0 || a >= 1e-9 && a < 1e15 {
		if f, err := strconv.ParseFloat(s, 64); err == nil {
			s = strconv.FormatFloat(f, 'f', -1, 64)
		}
	}
	if as.Comma == ';' {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// Guard puts an apostrophe before a text that a spreadsheet would run as a formula
// (OWASP, "CSV Injection", from memory: texts that begin with = + - @, a tab or a
// carriage return). A text that has the apostrophe already gets another, so that
// reading takes off what was put on. A colon is guarded, too: a row that begins with
// two is a command to the log of GitHub Actions.
func Guard(s string) string {
	if rest := strings.TrimLeft(s, "'"); rest != "" && strings.ContainsRune("=+-@:\t\r", rune(rest[0])) {
		return "'" + s
	}
	return s
}
