package intake

import (
	"bufio"
	"fmt"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/intake/internal/workbook"
	"tunegate/compare/readings"
)

// openLog reads up to the header of a log: a CSV file, or a sheet of a workbook, the
// one that is named or the only one that is headed as a log. end is called at last.
func openLog(src *source, name string, s *sink, rules readings.Rules) (t *table, end func() error, err error) {
	if !src.isPacked() {
		text := newText(src, name)
		text.expects = logExamples
		lines := bufio.NewReaderSize(text, chunkSize)
		head, err := readHead(lines, text)
		if err != nil {
			return nil, nil, err
		}
		if head.json {
			return nil, nil, errNotJSON(text, head)
		}
		t, _, err := logTable(newCSVGrid(text, lines, head), name, s, rules)
		return t, func() error { return nil }, err
	}
	book, err := openBook(src, name)
	if err != nil {
		return nil, nil, err
	}
	sheets, hidden, err := sheetsOf(book, s.options.sheet, name)
	if err != nil {
		return nil, nil, err
	}
	var logs, others []workbook.Sheet
	for _, sheet := range sheets {
		t, end, err := sheetLog(book, sheet, name, &sink{noted: map[string]bool{}, pool: s.pool, names: s.names, options: s.options}, rules)
		if err != nil && len(sheets) == 1 {
			return nil, nil, err
		}
		if err == nil {
			end()
		}
		if err == nil && t.isLog(rules) {
			logs = append(logs, sheet)
		} else {
			others = append(others, sheet)
		}
	}
	switch {
	case len(logs) > 1:
		return nil, nil, placed(compare.Place{File: name}, "the sheets %s are logs; name one of them behind the file, as in %q, or each, "+
			"one after the other", compare.List(sheetNames(logs), 8), name+"#"+logs[0].Name)
	case len(logs) == 0 && len(sheets) != 1:
		return nil, nil, placed(compare.Place{File: name}, "no sheet holds a log, expected one with %s", logExamples)
	case len(logs) == 0:
		logs, others = sheets, nil
	}
	if len(hidden) > 0 {
		s.note("hidden and not read: %s %s", english.Count(len(hidden), "sheet"), compare.List(hidden, 8))
	}
	if len(others) > 0 {
		s.note("%s without a log, not read: %s", english.Count(len(others), "sheet"), compare.List(sheetNames(others), 8))
	}
	return sheetLog(book, logs[0], name, s, rules)
}

// sheetNames are the names of sheets, in quotes.
func sheetNames(sheets []workbook.Sheet) (names []string) {
	for _, sheet := range sheets {
		names = append(names, fmt.Sprintf("%q", sheet.Name))
	}
	return names
}

// sheetLog reads up to the header of the log in a sheet.
func sheetLog(book *workbook.Book, sheet workbook.Sheet, name string, s *sink, rules readings.Rules) (*table, func() error, error) {
	rows, err := book.Rows(sheet)
	if err != nil {
		return nil, nil, placed(compare.Place{File: name, Sheet: sheet.Name}, "%v", err)
	}
	t, found, err := logTable(&bookGrid{file: name, sheet: sheet.Name, rows: rows}, name, s, rules)
	if err == nil && !found && len(t.head) < 2 {
		err = t.failHead(0, "found one column, expected %s", logExamples)
	}
	if err != nil {
		rows.Close()
		return nil, nil, err
	}
	return t, rows.Close, nil
}

// logTable finds the header of a log: the first row that has a time column and fills
// half of the columns; else the first row. Rows above it are passed over, and said.
func logTable(g grid, name string, s *sink, rules readings.Rules) (t *table, found bool, err error) {
	t = &table{sink: s, rows: &rowReader{grid: g}, numbers: &decimals{comma: g.separator() != ','}}
	r := t.rows
	r.readAhead()
	if len(r.ahead) == 0 {
		return nil, false, noTable(r.err, name, logExamples)
	}
	widest, header := 0, -1
	for _, row := range r.ahead {
		n, _ := row.filled()
		widest = max(widest, n)
	}
	for i, row := range r.ahead {
		if n, _ := row.filled(); n > 1 && 2*n >= widest && len(timeColumns(row.cells, rules)) > 0 {
			header, found = i, true
			break
		}
	}
	above := r.ahead[:max(header, 0)]
	r.ahead = r.ahead[max(header, 0):]
	if err := r.next(); err != nil {
		return nil, false, err
	}
	if len(above) > 0 {
		var texts []string
		for _, row := range above {
			if _, first := row.filled(); first >= 0 {
				texts = append(texts, excerpt(strings.TrimSpace(row.cells[first])))
			}
		}
		s.noteAbout("header", "the header is in line %d; above it %s skipped: %s", r.place(0).Line, english.Count(len(above), "row")+" "+
			english.Verb(len(above), "is", "are"), compare.List(texts, 3))
	}
	return t, found, t.readHeader(r.row.cells, r.place)
}

// isLog reports whether a header has a column of times.
func (t *table) isLog(rules readings.Rules) bool { return len(timeColumns(t.head, rules)) > 0 }
