package workbook

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// Kind is what a cell holds.
type Kind int8

// The kinds of cells.
const (
	Empty    Kind = iota
	Text          // Text as written
	Number        // a plain number
	Percent       // a number shown in per cent; Number is that per cent: 45 for 45 %
	Duration      // a time without a date; Number is in seconds
	Date          // a date; Text is 2026-11-02, or 2026-11-02T09:00:00 with a time of day
	Yes           // TRUE
	No            // FALSE
	Fault         // an error such as #DIV/0!, which Text holds
	Formula       // a formula whose value is not stored
)

// Cell is one cell. Text is how it reads: of a number its digits with a decimal
// point, to 15 significant digits as spreadsheet programs keep them.
type Cell struct {
	Kind   Kind
	Text   string
	Number float64
	Suffix string // what the number format writes behind a number
}

// Row is one row of a sheet. The cells begin with column A; those behind the last one
// that is there are left out.
type Row struct {
	Number int // counted from 1
	Hidden bool
	Cells  []Cell
}

// Rows goes through the rows of a sheet.
type Rows struct {
	book  *Book
	x     *reader
	row   Row
	cells int
	ended bool
	// HiddenColumns counts the hidden columns before the first row was read.
	HiddenColumns int
	value         []byte
}

// Rows begins to read a sheet.
func (b *Book) Rows(s Sheet) (*Rows, error) {
	x, err := b.open(s.part, maxSheetBytes)
	if err != nil {
		return nil, err
	}
	return &Rows{book: b, x: x}, nil
}

// Close ends reading.
func (r *Rows) Close() error { return r.x.Close() }

// Next reads the next row that stands in the file. It is valid until the next call;
// the texts stay. io.EOF ends the rows.
func (r *Rows) Next() (Row, error) {
	for !r.ended {
		token, err := r.x.RawToken()
		if err != nil {
			return Row{}, r.x.explain(noEnd(err))
		}
		switch e := token.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "col":
				if isTrue(attribute(e, "hidden")) {
					first, _ := strconv.Atoi(attribute(e, "min"))
					last, _ := strconv.Atoi(attribute(e, "max"))
					if first >= 1 && last >= first && last <= MaxColumns {
						r.HiddenColumns += last - first + 1
					}
				}
			case "row":
				return r.readRow(e)
			}
		case xml.EndElement:
			if e.Name.Local == "sheetData" {
				r.ended = true
			}
		}
	}
	return Row{}, io.EOF
}

func (r *Rows) readRow(start xml.StartElement) (Row, error) {
	number := r.row.Number + 1
	if s := attribute(start, "r"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < number || n > maxRow {
			return Row{}, broken("%s has a row numbered %.20q behind row %d", r.x.part, s, r.row.Number)
		}
		number = n
	}
	if number > maxRow {
		return Row{}, broken("%s has more than %d rows", r.x.part, maxRow)
	}
	r.row = Row{Number: number, Hidden: isTrue(attribute(start, "hidden")), Cells: r.row.Cells[:0]}
	for {
		token, err := r.x.RawToken()
		if err != nil {
			return Row{}, r.x.explain(noEnd(err))
		}
		switch e := token.(type) {
		case xml.StartElement:
			if e.Name.Local == "c" {
				if err := r.readCell(e); err != nil {
					return Row{}, err
				}
			}
		case xml.EndElement:
			if e.Name.Local == "row" {
				return r.row, nil
			}
		}
	}
}

// noEnd is the error of a part that ends where more has to follow.
func noEnd(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}

func (r *Rows) readCell(start xml.StartElement) error {
	if r.cells++; r.cells > maxCells {
		return broken("%s has more than %d cells", r.x.part, maxCells)
	}
	column, style, kind := len(r.row.Cells), 0, ""
	for i := range start.Attr {
		switch a := &start.Attr[i]; a.Name.Local {
		case "r":
			n, ok := columnOf(a.Value)
			if !ok || n < column {
				return broken("%s has a cell named %.20q in row %d", r.x.part, a.Value, r.row.Number)
			}
			column = n
		case "s":
			style, _ = strconv.Atoi(a.Value)
		case "t":
			kind = a.Value
		}
	}
	if column >= MaxColumns {
		return broken("%s has more than %d columns", r.x.part, MaxColumns)
	}
	cell, err := r.content(kind, style)
	if err != nil || cell.Kind == Empty {
		return err
	}
	for len(r.row.Cells) < column {
		r.row.Cells = append(r.row.Cells, Cell{})
	}
	r.row.Cells = append(r.row.Cells, cell)
	return nil
}

// content reads a cell up to its end.
func (r *Rows) content(kind string, style int) (Cell, error) {
	r.value = r.value[:0]
	inValue, formula := false, false
	inline := ""
	for {
		token, err := r.x.RawToken()
		if err != nil {
			return Cell{}, r.x.explain(noEnd(err))
		}
		switch e := token.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "v":
				inValue = true
			case "f":
				formula = true
			case "is":
				if inline, err = r.x.text("is"); err != nil {
					return Cell{}, err
				}
			}
		case xml.EndElement:
			switch e.Name.Local {
			case "v":
				inValue = false
			case "c":
				cell, err := r.cell(kind, style, inline)
				if cell.Kind == Empty && formula && kind != "str" {
					cell.Kind = Formula
				}
				return cell, err
			}
		case xml.CharData:
			if inValue {
				if r.value = append(r.value, e...); len(r.value) > maxText {
					return Cell{}, broken("%s holds a cell of more than %d bytes", r.x.part, maxText)
				}
			}
		}
	}
}

// cell is a cell of a kind as the file states it.
func (r *Rows) cell(kind string, style int, inline string) (Cell, error) {
	switch kind {
	case "inlineStr":
		return text(inline), nil
	case "s":
		if len(r.value) == 0 {
			return Cell{}, nil
		}
		i, err := strconv.Atoi(string(r.value))
		if err != nil || i < 0 || i >= len(r.book.shared) {
			return Cell{}, broken("%s has a cell in row %d with the shared text %.20q, and there are %d", r.x.part, r.row.Number, r.value,
				len(r.book.shared))
		}
		return text(r.book.shared[i]), nil
	case "str":
		return text(string(r.value)), nil
	case "b":
		if string(r.value) == "1" {
			return Cell{Kind: Yes, Text: "yes"}, nil
		}
		return Cell{Kind: No, Text: "no"}, nil
	case "e":
		return Cell{Kind: Fault, Text: string(r.value)}, nil
	case "d":
		return Cell{Kind: Date, Text: strings.TrimSuffix(string(r.value), "Z")}, nil
	}
	if len(r.value) == 0 {
		return Cell{}, nil
	}
	value, err := strconv.ParseFloat(string(r.value), 64)
	if err != nil || math.IsInf(value, 0) || math.IsNaN(value) {
		return Cell{}, broken("%s has a cell in row %d with the number %.20q", r.x.part, r.row.Number, r.value)
	}
	var f format
	if style >= 0 && style < len(r.book.formats) {
		f = r.book.formats[style]
	}
	return r.book.number(value, f), nil
}

func text(s string) Cell {
	if s == "" {
		return Cell{}
	}
	return Cell{Kind: Text, Text: s}
}

// digits is a number to 15 significant digits, which is what spreadsheet programs
// keep: 412.40000000000003 is 412.4.
func digits(value float64) (string, float64) {
	s := strconv.FormatFloat(value, 'g', 15, 64)
	if v, err := strconv.ParseFloat(s, 64); err == nil {
		value = v
	}
	form := byte('f')
	if a := math.Abs(value); a != 0 && (a < 1e-6 || a >= 1e15) {
		form = 'g'
	}
	return strconv.FormatFloat(value, form, -1, 64), value
}

// number is a number as its format shows it. Dates count days from the end of 1899,
// with a 29 February 1900 that never was, or from 1904 (ECMA-376 part 1, 18.17.4).
func (b *Book) number(value float64, f format) Cell {
	switch f.shown {
	case percent:
		s, v := digits(value * 100)
		return Cell{Kind: Percent, Text: s + " %", Number: v}
	case duration:
		if value < 0 || value > 1e6 {
			break
		}
		milliseconds := math.Round(value * 86_400_000)
		return Cell{Kind: Duration, Text: clock(milliseconds), Number: milliseconds / 1000}
	case dateOnly, dateTime:
		if value < 0 || value > 2_958_466 {
			break
		}
		day := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
		if b.epoch == 1904 {
			day = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
		} else if value < 60 {
			day = day.AddDate(0, 0, 1)
		}
		whole := math.Floor(value)
		at := day.AddDate(0, 0, int(whole)).Add(time.Duration(math.Round((value-whole)*86_400_000)) * time.Millisecond)
		layout := "2006-01-02T15:04:05.999"
		if f.shown == dateOnly && value == whole {
			layout = "2006-01-02"
		}
		return Cell{Kind: Date, Text: at.Format(layout), Number: value}
	}
	s, v := digits(value)
	return Cell{Kind: Number, Text: s, Number: v, Suffix: f.suffix}
}

// clock writes a time as 6:52.3, 1:02:03 or 0:07.
func clock(milliseconds float64) string {
	whole := int64(milliseconds)
	seconds, rest := whole/1000, whole%1000
	s := fmt.Sprintf("%d:%02d", seconds/60, seconds%60)
	if seconds >= 3600 {
		s = fmt.Sprintf("%d:%02d:%02d", seconds/3600, seconds/60%60, seconds%60)
	}
	if rest > 0 {
		s += strings.TrimRight(fmt.Sprintf(".%03d", rest), "0")
	}
	return s
}

// columnOf is the column of a cell's name, counted from 0: 2 for C7.
func columnOf(name string) (int, bool) {
	n, i := 0, 0
	for ; i < len(name); i++ {
		c := name[i]
		if c >= 'a' && c <= 'z' {
			c -= 'a' - 'A'
		}
		if c < 'A' || c > 'Z' {
			break
		}
		if n = n*26 + int(c-'A'+1); n > 2*MaxColumns {
			return 0, false
		}
	}
	return n - 1, i > 0 && i < len(name)
}
