package intake

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/intake/internal/workbook"
)

// maxBook is the largest workbook, packed, in bytes.
const maxBook = 64 << 20

// openBook reads a workbook up to its sheets.
func openBook(r io.Reader, name string) (*workbook.Book, error) {
	at := compare.Place{File: name}
	data, err := io.ReadAll(io.LimitReader(r, maxBook+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: cannot be read: %w", name, err)
	case len(data) > maxBook:
		return nil, placed(at, "found a workbook of more than %d MB; split it, or save the sheet as CSV UTF-8", maxBook>>20)
	}
	book, err := workbook.Open(data)
	if err != nil {
		return nil, placed(at, "%v", err)
	}
	return book, nil
}

// sheetsOf are the sheets to be read: the one that is named, else all that are not
// hidden.
func sheetsOf(book *workbook.Book, wanted, name string) (sheets []workbook.Sheet, hidden []string, err error) {
	var names []string
	for _, sheet := range book.Sheets {
		names = append(names, fmt.Sprintf("%q", sheet.Name))
		switch {
		case wanted != "" && strings.EqualFold(sheet.Name, wanted):
			return []workbook.Sheet{sheet}, nil, nil
		case wanted != "":
		case sheet.Hidden:
			hidden = append(hidden, fmt.Sprintf("%q", sheet.Name))
		default:
			sheets = append(sheets, sheet)
		}
	}
	if wanted != "" {
		return nil, nil, placed(compare.Place{File: name}, "there is no sheet %q; there are %s", wanted, compare.List(names, 20))
	}
	return sheets, hidden, nil
}

// runsSheet is the sheet of a workbook of results, or of a run sheet, that holds runs,
// and resultSheets are the others, which hold what was made of them.
const runsSheet = "Runs"

var resultSheets = []string{"Summary", "Figures", "Claims", "How it was decided", "Columns"}

// readBook reads the runs of a workbook. Where several sheets hold runs, rows that
// name no profile are of the one named like their sheet. Beside a sheet of runs those of
// results are not read.
func (s *sink) readBook(r io.Reader, name string) error {
	book, err := openBook(r, name)
	if err != nil {
		return err
	}
	sheets, hidden, err := sheetsOf(book, s.options.sheet, name)
	if err != nil {
		return err
	}
	if len(hidden) > 0 {
		s.note("hidden and not read: %s %s", english.Count(len(hidden), "sheet"), compare.List(hidden, 8))
	}
	var first error
	var holding, unclear []workbook.Sheet
	var others []string
	ofResults := slices.ContainsFunc(sheets, func(sheet workbook.Sheet) bool { return sheet.Name == runsSheet })
	for _, sheet := range sheets {
		if ofResults && slices.Contains(resultSheets, sheet.Name) {
			others = append(others, fmt.Sprintf("%q", sheet.Name))
			continue
		}
		found, sure, err := s.holdsTable(book, sheet, name)
		switch {
		case sure:
			holding = append(holding, sheet)
		case found:
			unclear = append(unclear, sheet)
		case err != nil && first == nil:
			first = err
		}
		if !found {
			others = append(others, fmt.Sprintf("%q", sheet.Name))
		}
	}
	// Beside sheets of runs, one whose numbers are neither runs nor in units is
	// probably drawn from them.
	if len(holding) == 0 {
		holding, unclear = unclear, nil
	}
	if len(unclear) > 0 {
		var names []string
		for _, sheet := range unclear {
			names = append(names, fmt.Sprintf("%q", sheet.Name))
		}
		s.tally.Unread = append(s.tally.Unread, names...)
		s.note("%s not read, whose header names neither runs nor units: %s", english.Count(len(names), "sheet"), compare.List(names, 8))
	}
	switch {
	case len(holding) == 0 && first != nil:
		return first
	case len(holding) == 0:
		return placed(compare.Place{File: name}, "no sheet holds a cell; expected %s", headerExamples)
	case len(others) > 0:
		s.note("%s without runs, not read: %s", english.Count(len(others), "sheet"), compare.List(others, 8))
	}
	defer s.noteSheets()
	for _, sheet := range holding {
		if s.profile = ""; len(holding) > 1 || s.options.sheet != "" && len(book.Sheets) > 1 {
			s.profile = sheet.Name
		}
		s.sheet = sheet.Name
		if err := s.readSheet(book, sheet, name); err != nil {
			return err
		}
	}
	return nil
}

// holdsTable reports whether a sheet holds a table of runs: a header beyond doubt, or
// one above numbers. The error is why not, nil for an empty sheet.
func (s *sink) holdsTable(book *workbook.Book, sheet workbook.Sheet, name string) (found, sure bool, err error) {
	rows, err := book.Rows(sheet)
	if err != nil {
		return false, false, placed(compare.Place{File: name, Sheet: sheet.Name}, "%v", err)
	}
	defer rows.Close()
	g := &bookGrid{file: name, sheet: sheet.Name, rows: rows}
	r := &rowReader{grid: g}
	r.readAhead()
	if len(r.ahead) == 0 {
		if r.err == io.EOF {
			return false, false, nil
		}
		return false, false, r.err
	}
	l := locate(r.ahead, s.options, 0)
	widest := 0
	for _, row := range r.ahead {
		n, _ := row.filled()
		widest = max(widest, n)
	}
	if l.sure() {
		return true, true, nil
	}
	if slices.ContainsFunc(r.ahead[l.header+1:], func(row placedRow) bool {
		return headsNumbers(r.ahead[l.header].gridRow, row.gridRow, widest, 0)
	}) {
		return true, false, nil
	}
	head := r.ahead[l.header]
	for _, v := range l.views {
		if v.err != nil {
			return false, false, placed(head.places[min(v.errAt, len(head.places)-1)], "%v", v.err)
		}
	}
	return false, false, placed(head.places[0], "found no table of runs in this sheet; expected %s", headerExamples)
}

func (s *sink) readSheet(book *workbook.Book, sheet workbook.Sheet, name string) error {
	rows, err := book.Rows(sheet)
	if err != nil {
		return placed(compare.Place{File: name, Sheet: sheet.Name}, "%v", err)
	}
	defer rows.Close()
	g := &bookGrid{file: name, sheet: sheet.Name, rows: rows}
	r, err := s.openGrid(g, name)
	if err != nil {
		return err
	}
	err = r.readAll()
	if g.hidden > 0 {
		s.note("%s hidden, and read like the others", english.Count(g.hidden, "row")+" "+english.Verb(g.hidden, "is", "are"))
	}
	if rows.HiddenColumns > 0 {
		s.note("%s hidden, and read like the others", english.Count(rows.HiddenColumns, "column")+" "+
			english.Verb(rows.HiddenColumns, "is", "are"))
	}
	var broken *workbook.FormatError
	if errors.As(err, &broken) {
		return placed(compare.Place{File: name, Sheet: sheet.Name}, "%v", broken)
	}
	return err
}
