package intake

import (
	"errors"
	"io"
	"strings"
	"time"

	"tunegate/compare"
)

// The first cell that is not empty says what a wide column holds, since
// no row is held until the end of the file.
type content int

const (
	unknownContent content = iota
	numberContent
	textContent
)

// wideColumn is a column of a wide CSV that may be a metric.
type wideColumn struct {
	index             int
	benchmark, metric string
	heading
	holds     content
	firstText string
	textAt    compare.Place
}

// wideRow keeps the labels of a row while some column has shown no content
// yet: if that column turns out a metric, its empty cells are runs not done
// yet and keep the count of those behind them.
type wideRow struct {
	profile, machine, session, block, run, reason string
	time                                          time.Time
	setAside                                      bool
	line                                          int
}

// wideReader reads a wide CSV: one row is one run, each column of numbers a
// metric. Rows carry no run label but their own: each metric gets one value a
// row, an empty cell included, so the k-th values belong together.
type wideReader struct {
	*table
	columns []wideColumn
	open    int // columns without content so far
	waiting []wideRow
}

func (t *table) readWide() error {
	w := &wideReader{table: t}
	if err := w.readHeadings(); err != nil {
		return err
	}
	rows := 0
	for ; ; rows++ {
		err := t.row()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		if name := t.cell(colRun); isAverage(name) {
			t.note("row %q skipped: an average is no run", name)
			continue
		}
		var v compare.Value
		if err := t.rowLabels(&v); err != nil {
			return err
		}
		if err := w.readRow(v); err != nil {
			return err
		}
	}
	if rows == 0 {
		return t.errNoRows()
	}
	return w.finish()
}

// readHeadings finds the benchmark and the metric of each column that is not
// reserved.
func (w *wideReader) readHeadings() error {
	names := map[string]bool{}
	for i, name := range w.head {
		if c, known := columnNamed(name); name == "" || known && c >= colProfile {
			continue
		}
		h, err := parseHeading(name)
		if err != nil {
			return w.failHead(i, "%w", err)
		}
		if h.name == "" {
			return w.failHead(i, `found the header %q without a name, expected one such as "tile-render [s]"`, name)
		}
		if _, err := parseNumber(h.name, w.numbers.comma); err == nil {
			return w.failHead(i, "%w", errBareNumberHeading(name))
		}
		if isAverage(h.name) {
			w.note("column %q skipped: it is drawn from the runs", name)
			continue
		}
		// A benchmark named before a colon is as good as one with a header of
		// its own.
		if b, _, forced := forcedSplit(h.name); forced {
			names[b] = true
		} else {
			names[h.name] = true
		}
		w.columns = append(w.columns, wideColumn{index: i, heading: h})
	}
	first := map[compare.MetricID]int{}
	for k := range w.columns {
		c := &w.columns[k]
		var err error
		if c.benchmark, c.metric, err = metricOf(c.name, names); err != nil {
			return w.failHead(c.index, "%w", err)
		}
		key := compare.MetricID{Benchmark: c.benchmark, Metric: c.metric}
		if other, twice := first[key]; twice {
			return w.failHead(c.index, "column %d %q and column %d %q are the same metric; rename or delete one of the two", c.index+1,
				w.head[c.index], other+1, w.head[other])
		}
		first[key] = c.index
		if c.unit != "" || c.better != "" {
			c.holds = numberContent
		} else {
			w.open++
		}
	}
	w.noteDoubtful(names)
	return nil
}

// noteDoubtful tells of a metric whose benchmark is itself read as a metric of
// another one: "a b c" under "a b" under "a".
func (w *wideReader) noteDoubtful(names map[string]bool) {
	for _, c := range w.columns {
		if _, _, forced := forcedSplit(c.name); forced || c.metric == "" {
			continue
		}
		if b, m, err := metricOf(c.benchmark, names); err == nil && m != "" {
			w.note("column %q is read as metric %q of benchmark %q; write %q if that is meant", w.head[c.index], c.metric, c.benchmark,
				b+": "+m+" "+c.metric)
		}
	}
}

func (w *wideReader) readRow(v compare.Value) error {
	for k := range w.columns {
		c := &w.columns[k]
		cell := strings.TrimSpace(w.cells[c.index])
		if cell != "" && c.holds != numberContent {
			if err := w.look(c, cell); err != nil {
				return err
			}
		}
		if c.holds != numberContent {
			continue
		}
		v.Benchmark, v.Metric, v.Unit, v.Better = c.benchmark, c.metric, c.unit, c.better
		if err := w.putCell(v, c.index); err != nil {
			return err
		}
	}
	if w.open == 0 {
		w.waiting = nil
		return nil
	}
	w.waiting = append(w.waiting, wideRow{v.Profile, v.Machine, v.Session, v.Block, v.Run, v.Reason, v.Time, v.SetAside, w.place(0).Line})
	return nil
}

// look tells from a cell what its column holds, or that it holds both numbers
// and text.
func (w *wideReader) look(c *wideColumn, cell string) error {
	n, err := parseNumber(cell, w.numbers.comma)
	var wrong *numberError
	isText := errors.As(err, &wrong) && wrong.text
	switch {
	case c.holds == textContent && isText:
		return nil
	case c.holds == textContent:
		return placed(c.textAt, "found %s in column %q, which holds numbers too (%s in line %d); leave the cell empty where there is no "+
			"result, or keep words and numbers in separate columns",
			excerpt(c.firstText), w.head[c.index], excerpt(cell), w.place(c.index).Line)
	}
	if err := w.mistyped(c, isText); err != nil {
		return err
	}
	w.open--
	if isText {
		c.holds, c.firstText, c.textAt = textContent, strings.Clone(cell), w.place(c.index)
		return nil
	}
	c.holds = numberContent
	if n.clock {
		w.note("column %q holds times such as %s, read as durations in s; head it %q if that is right, else delete it", w.head[c.index], cell,
			w.head[c.index]+" [s]")
	}
	for _, row := range w.waiting {
		v := compare.Value{Profile: row.profile, Benchmark: c.benchmark, Metric: c.metric,
			Machine: row.machine, Session: row.session, Block: row.block, Run: row.run, Time: row.time, Missing: true,
			SetAside: row.setAside, Reason: row.reason, At: compare.Place{File: w.src.name, Line: row.line}}
		if err := w.put(&v); err != nil {
			return err
		}
	}
	return nil
}

// mistyped refuses a column without unit that is headed almost like a known
// one, if what it holds could stand there. A column of numbers cannot be a
// time or a reason.
func (w *wideReader) mistyped(c *wideColumn, isText bool) error {
	near, ok := mistypedColumn(w.head[c.index], w.has)
	if !ok {
		return nil
	}
	switch near {
	case colProfile, colMachine, colSession, colBlock, colRun, colValid:
		return w.failHead(c.index, "%w", errMistyped("column", w.head[c.index], near))
	}
	if isText {
		return w.failHead(c.index, "%w", errMistyped("column", w.head[c.index], near))
	}
	return nil
}

// finish says which columns were left out. A file without any metric has
// probably no header, or is no file of runs.
func (w *wideReader) finish() error {
	metrics := 0
	for _, c := range w.columns {
		switch c.holds {
		case numberContent:
			metrics++
		case textContent:
			w.note("column %q skipped: it holds text", w.head[c.index])
		default:
			w.note("column %q skipped: it is empty", w.head[c.index])
		}
	}
	if metrics == 0 {
		return w.failHead(0, "found no column of numbers below this line; expected %s", headerExamples)
	}
	return nil
}
