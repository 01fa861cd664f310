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
	restart()                            // the rows above are another table's
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
	rows    *rowReader
	layout  layout
	parts   []part
	name    string // of the file
	head    []compare.Place
	header  []string // its cells
	stacked []string // the titles
	titles  bool     // tables stand below each other, each with its title
	footer  bool     // what stands below the table has begun
	title   string   // the row above, where it was passed over
	read    int      // rows
	passed  []string // rows below and between that were passed over
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
	r.sink.couldEnd = r.couldEnd
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
	if err := r.fault(r.parts[0].numbers.times.fault()); err != nil {
		return err
	}
	r.describe()
	return nil
}

// couldEnd is sink.couldEnd: what readAll holds the end of a file to.
func (r *gridRuns) couldEnd() bool {
	csv, is := r.rows.grid.(*csvGrid)
	if !is || len(r.rows.ahead) > 0 || !csv.betweenRows() || len(r.faults) > 0 || r.read == 0 {
		return false
	}
	for _, p := range r.parts {
		if p.finish() != nil {
			return false
		}
	}
	return r.parts[0].numbers.times.fault() == nil
}

// begin reads the header, and leaves the rows at the first below it.
func (r *gridRuns) begin() error {
	ahead := r.rows.ahead[r.layout.header]
	r.head = ahead.places
	if len(ahead.cells) > maxColumns {
		return placed(ahead.places[maxColumns], "found %d columns, expected at most %d", len(ahead.cells), maxColumns)
	}
	r.header = ahead.cells
	above := labelsAbove(r.rows.ahead[:r.layout.header])
	separator := r.rows.separator()
	numbers := &decimals{comma: separator != ','}
	for _, v := range r.layout.views {
		t := &table{sink: r.sink, rows: r.rows, columns: v.columns, numbers: numbers, at: v.at}
		for c, label := range above {
			t.given[c] = label
		}
		if v.label != "" {
			t.given[v.names] = v.label
		}
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
		t.findFlags(v.headings, r.rows.ahead[r.layout.header+1:])
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
	for _, c := range []column{colProfile, colMachine, colSession} {
		if label, ok := above[c]; ok {
			r.note("the %s is %s, as a row above the table says", c, excerpt(label))
		}
	}
	r.passedOver(r.rows.ahead[:r.layout.header])
	if slices.ContainsFunc(r.rows.ahead[first:], func(row placedRow) bool { return r.isHeader(row.gridRow) }) {
		if r.layout.header > 0 {
			r.title = titleOf(r.rows.ahead[r.layout.header-1].gridRow)
		}
		if err := r.beginTable(ahead.places[0]); err != nil {
			return err
		}
	}
	r.rows.ahead = r.rows.ahead[first:]
	r.mute = len(r.faults) > 0
	r.learnMarks(numbers)
	return nil
}

// valueHead is the header of the values of a long table.
func valueHead(h *headings) string {
	if i := h.at[colValue]; i >= 0 {
		return h.heads[i].text
	}
	return ""
}

func (t *table) readerOf(h *headings) (tableReader, error) {
	_, plain := columnNamed(valueHead(h))
	t.people = h.shape != longShape || !plain
	switch h.shape {
	case longShape:
		return t.longReader(h)
	case sheetShape:
		return t.sheetReader(h)
	}
	return t.wideReader(h)
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
	if !numbers.comma {
		numbers.comma = r.quotesCommas()
	}
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

// quotesCommas reports whether decimal commas stand in quotes in a file that is
// separated by commas: one at least, and no decimal point.
func (r *gridRuns) quotesCommas() bool {
	commas := false
	for _, row := range r.rows.ahead {
		for _, p := range r.parts {
			for k := range p.head {
				i := k
				if p.columns != nil {
					i = p.columns[k]
				}
				if i >= len(row.cells) || !p.isValue(k) {
					continue
				}
				cell := strings.TrimSpace(row.cells[i])
				if n, err := parseNumber(cell, false); err == nil && n.mark == '.' {
					return false
				}
				commas = commas || provesComma(cell)
			}
		}
	}
	return commas
}

// readRow reads the row in hand into each of the tables.
func (r *gridRuns) readRow() error {
	if r.isHeader(r.rows.row) {
		return r.beginTable(r.rows.place(0))
	}
	if r.layout.units && r.titles && isUnitRow(r.rows.row, gridRow{cells: r.header}) {
		return nil
	}
	if r.isRemark() {
		r.title = titleOf(r.rows.row)
		return nil
	}
	r.title = ""
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
	for _, v := range r.layout.views {
		if v.label != "" {
			labels = append(labels, v.label)
		}
	}
	for _, p := range r.parts {
		text, also := p.describe()
		plain = plain && also
		if !slices.Contains(said, text) {
			said = append(said, text)
		}
	}
	at := r.head[0]
	place := fmt.Sprintf("line %d", at.Line)
	if at.Sheet != "" {
		place = fmt.Sprintf("row %d", at.Line)
	}
	if r.titles {
		labels = r.stacked
		r.note("the header stands again: %s below each other", compare.List(quotedAll(labels), 8))
	}
	if r.layout.header > 0 || len(r.parts) > 1 || !plain {
		beside := ""
		if len(r.parts) > 1 {
			beside = compare.List(quotedAll(labels), 8) + " side by side, "
		}
		r.noteAbout("header: "+beside+strings.Join(said, "; "), "the header is in %s: %s%s", place, beside, strings.Join(said, "; "))
	}
	if n := len(r.passed); n > 0 {
		verb := "hold"
		if n == 1 {
			verb = "holds"
		}
		r.noteAbout("skipped", "%s skipped, which %s no runs: %s", english.Count(n, "row"), verb, compare.List(quotedAll(r.passed), 3))
	}
}

func quotedAll(texts []string) []string {
	out := make([]string, len(texts))
	for i, text := range texts {
		out[i] = excerpt(text)
	}
	return out
}
