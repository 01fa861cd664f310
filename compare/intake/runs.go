package intake

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/intake/internal/workbook"
)

// tableReader reads the rows of a table in one shape.
type tableReader interface {
	readRow() error                      // the row in hand
	finish() error                       // after the last row
	isValue(column int) bool             // whether a column holds values
	describe() (text string, plain bool) // how it is read, and whether its header says so
}

// part is one of the tables that stand side by side in a grid.
type part struct {
	*table
	tableReader
}

// gridRuns reads the runs of a grid.
type gridRuns struct {
	*sink
	rows   *rowReader
	layout layout
	parts  []part
	name   string // of the file
	head   []compare.Place
	footer bool     // what stands below the table has begun
	read   int      // rows
	passed []string // rows below and between that were passed over
}

// readGrid reads the runs of a grid. The error is of the grid; faults of what it
// holds are kept.
func (s *sink) readGrid(g grid, name string) error {
	r, err := s.openGrid(g, name)
	if err != nil {
		return err
	}
	return r.readAll()
}

// openGrid finds the table in a grid.
func (s *sink) openGrid(g grid, name string) (*gridRuns, error) {
	r := &gridRuns{sink: s, rows: &rowReader{grid: g}, name: name}
	r.rows.readAhead()
	if len(r.rows.ahead) == 0 {
		return nil, noTable(r.rows.err, name, headerExamples)
	}
	r.layout = locate(r.rows.ahead, s.options, g.separator())
	return r, nil
}

func (r *gridRuns) readAll() error {
	if err := r.begin(); err != nil {
		return err
	}
	for {
		err := r.rows.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		if err := r.readRow(); err != nil {
			return err
		}
	}
	if len(r.faults) > 0 {
		return nil
	}
	if r.read == 0 {
		return placed(r.head[0], "found a header without rows, expected at least one row below it")
	}
	for _, p := range r.parts {
		if err := r.fault(p.finish()); err != nil {
			return err
		}
	}
	r.describe()
	return nil
}

// begin reads the header, and leaves the rows at the first below it.
func (r *gridRuns) begin() error {
	ahead := r.rows.ahead[r.layout.header]
	r.head = ahead.places
	if len(ahead.cells) > maxColumns {
		return placed(ahead.places[maxColumns], "found %d columns, expected at most %d", len(ahead.cells), maxColumns)
	}
	separator := r.rows.separator()
	numbers := &decimals{comma: separator != ','}
	for _, v := range r.layout.views {
		t := &table{sink: r.sink, rows: r.rows, columns: v.columns, numbers: numbers, at: v.at}
		t.profile = v.label
		for k, cell := range v.heads {
			i := k
			if v.columns != nil {
				i = v.columns[k]
			}
			if err := checkName(cell.text); err != nil {
				return placed(ahead.places[i], "%v", err)
			}
			t.head, t.headAt = append(t.head, r.pool.keep(cell.text)), append(t.headAt, ahead.places[i])
			if cell.text == "" && k != v.at[colBenchmark] {
				t.unnamed = append(t.unnamed, k)
			}
			if written := strings.TrimSpace(ahead.cells[i]); cell.unit != "" && mendMojibake(written) != written {
				t.noteMended(written, mendMojibake(written))
			}
		}
		if v.err != nil {
			return t.failHead(v.errAt, "%w", v.err)
		}
		reader, err := t.readerOf(v.headings)
		if err != nil {
			return err
		}
		r.parts = append(r.parts, part{t, reader})
	}
	for _, label := range r.layout.beside {
		r.note("the columns below %q skipped: they hold no runs", label)
	}
	r.sittings()
	first := r.layout.header + 1
	if r.layout.units {
		first++
	}
	r.passedOver(r.rows.ahead[:r.layout.header])
	r.rows.ahead = r.rows.ahead[first:]
	r.mute = len(r.faults) > 0
	r.learnMarks(numbers)
	return nil
}

func (t *table) readerOf(h *headings) (tableReader, error) {
	switch h.shape {
	case longShape:
		return t.longReader()
	case sheetShape:
		return t.sheetReader(h)
	}
	return t.wideReader(h)
}

// sittings takes what stands above the tables for sessions where it says so.
func (r *gridRuns) sittings() {
	for _, p := range r.parts {
		if head := runHeadOf(p.profile); !sittingWords[head.stem] && !sittingWords[strings.TrimRight(foldWord(p.profile), " abcdefgh")] {
			return
		}
	}
	for _, p := range r.parts {
		p.sitting, p.table.profile = p.table.profile, ""
	}
}

// passedOver keeps what stands above the table for the note on how it is read.
func (r *gridRuns) passedOver(rows []placedRow) {
	if r.layout.groups && len(rows) > 0 {
		rows = rows[:len(rows)-1]
	}
	for _, row := range rows {
		if _, first := row.filled(); first >= 0 {
			r.passed = append(r.passed, strings.TrimSpace(row.cells[first]))
		}
	}
}

// learnMarks takes what the rows read ahead prove about decimal marks.
func (r *gridRuns) learnMarks(numbers *decimals) {
	for _, row := range r.rows.ahead {
		for _, p := range r.parts {
			for k := range p.head {
				i := k
				if p.columns != nil {
					i = p.columns[k]
				}
				if i >= len(row.cells) || !p.isValue(k) || row.typed != nil && row.kind(i) != workbook.Text {
					continue
				}
				cell := strings.TrimSpace(row.cells[i])
				if n, err := numbers.read(cell); cell != "" && err == nil {
					numbers.learn(n, cell, row.places[i])
				}
			}
		}
	}
}

// readRow reads the row in hand into each of the tables.
func (r *gridRuns) readRow() error {
	if r.isRemark() {
		return nil
	}
	r.read++
	for k, p := range r.parts {
		p.load()
		err := error(nil)
		if k == 0 || p.columns != nil {
			err = p.checkRow()
		}
		if err == nil {
			err = p.readRow()
		}
		if err := r.fault(err); err != nil {
			return err
		}
	}
	return nil
}

// isRemark reports whether the row in hand is none of the table: a text alone, or two
// cells below an empty row, and no number. A row of a CSV that has all its separators
// may be a run that is planned, but for one below benchmarks.
func (r *gridRuns) isRemark() bool {
	row := &r.rows.row
	if r.layout.width < 3 || row.fillsThree() {
		return false
	}
	n, first := row.filled()
	below := r.read > 0 && (r.footer || row.afterBlank)
	if n == 2 && !below || isConflict(row.cells[first]) {
		return false
	}
	if r.layout.views[0].shape != sheetShape && row.typed == nil && len(row.cells) >= r.layout.width {
		return false
	}
	for _, p := range r.parts {
		p.load()
		for i, cell := range p.cells {
			if cell = strings.TrimSpace(cell); cell == "" {
				continue
			}
			if _, err := p.number(i, cell); err == nil || n == 1 && p.isValue(i) {
				return false
			}
		}
	}
	r.footer = below
	r.passed = append(r.passed, strings.TrimSpace(r.rows.row.cells[first]))
	return true
}

// isConflict reports a mark that a merge in git leaves where it could not decide.
func isConflict(cell string) bool {
	return strings.HasPrefix(cell, "<<<<<<<") || strings.HasPrefix(cell, "=======") || strings.HasPrefix(cell, ">>>>>>>")
}

// describe notes how a table is read where that is not plain from its header.
func (r *gridRuns) describe() {
	var said, labels []string
	plain := true
	for _, p := range r.parts {
		text, also := p.describe()
		plain = plain && also
		if !slices.Contains(said, text) {
			said = append(said, text)
		}
		labels = append(labels, p.profile+p.sitting)
	}
	at := r.head[0]
	place := fmt.Sprintf("line %d", at.Line)
	if at.Sheet != "" {
		place = fmt.Sprintf("row %d", at.Line)
	}
	if r.layout.header > 0 || r.layout.groups || !plain {
		beside := ""
		if r.layout.groups {
			beside = compare.List(quotedAll(labels), 8) + " side by side, "
		}
		r.note("the header is in %s: %s%s", place, beside, strings.Join(said, "; "))
	}
	if n := len(r.passed); n > 0 {
		verb := "hold"
		if n == 1 {
			verb = "holds"
		}
		r.note("%s skipped, which %s no runs: %s", english.Count(n, "row"), verb, compare.List(quotedAll(r.passed), 3))
	}
}

func quotedAll(texts []string) []string {
	out := make([]string, len(texts))
	for i, text := range texts {
		out[i] = excerpt(text)
	}
	return out
}
