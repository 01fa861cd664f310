package intake

import (
	"cmp"
	"errors"
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
	spelled           bool // benchmark and metric, as they count
	heading
	holds     content
	firstText string
	textAt    compare.Place
	percent   bool // firstText is a number of per cent
	refused   bool // a fault of it was told
	total     total
	digits    int // the most decimals of a cell
}

// wideRow keeps the labels of a row while some column has shown no content
// yet: if that column turns out a metric, its empty cells are runs not done
// yet and keep the count of those behind them.
type wideRow struct {
	profile, machine, session, block, run, reason string
	time                                          time.Time
	setAside                                      bool
	at                                            compare.Place
}

// wideReader reads a wide CSV: one row is one run, each column of numbers a
// metric. Rows carry no run label but their own: each metric gets one value a
// row, an empty cell included, so the k-th values belong together.
type wideReader struct {
	*table
	columns []wideColumn
	open    int // columns without content so far
	waiting []wideRow
	value   compare.Value
}

func (t *table) wideReader(h *headings) (*wideReader, error) {
	w := &wideReader{table: t}
	for c := range colProfile {
		t.at[c] = -1
	}
	return w, w.readHeadings(h)
}

func (w *wideReader) isValue(i int) bool {
	for k := range w.columns {
		if w.columns[k].index == i {
			return w.columns[k].holds != textContent
		}
	}
	return false
}

func (w *wideReader) readRow() error {
	for _, i := range [...]int{w.at[colRun], w.at[colSession], 0} {
		if i < 0 {
			continue
		}
		if name := strings.TrimSpace(w.cells[i]); isTotal(name) && !w.isValue(i) {
			return w.checkTotals(name)
		}
	}
	w.value = compare.Value{}
	if err := w.rowLabels(&w.value); err != nil {
		return err
	}
	return w.readMetrics()
}

// checkTotals holds a row of means or sums to the rows above it.
func (w *wideReader) checkTotals(name string) error {
	what := ""
	for k := range w.columns {
		c := &w.columns[k]
		value, tolerance, ok := w.derivedValue(c.index, c.digits)
		if !ok || c.holds != numberContent {
			continue
		}
		if what = c.total.is(value, tolerance); what == "" {
			return w.fail(c.index, "found the row %q, but %s is neither the sum nor the mean of the rows above; rename the row if it is "+
				"a run, else correct or delete it", name, excerpt(strings.TrimSpace(w.cells[c.index])))
		}
	}
	w.note("row %q skipped: it is %s, no run", name, cmp.Or(what, "drawn from the runs"))
	return nil
}

// readHeadings finds the benchmark and the metric of each column that is not
// reserved. A fault of one column does not hide those of the others.
func (w *wideReader) readHeadings(of *headings) error {
	names := map[string]bool{}
	bare := false
	for i, cell := range of.heads {
		if cell.text == "" || w.isUsed(i) {
			continue
		}
		h, err := cell.heading, cell.err
		switch {
		case err != nil:
			err = w.failHead(i, "%w", err)
		case h.name == "":
			err = w.failHead(i, `found the header %q without a name, expected one such as "tile-render [s]"`, cell.text)
		default:
			if _, notNumber := parseNumber(h.name, w.numbers.comma); notNumber == nil {
				if bare {
					continue
				}
				bare = true
				err = w.failHead(i, "%w", errBareNumberHeading(cell.text))
			}
		}
		if err != nil {
			if err := w.fault(err); err != nil {
				return err
			}
			continue
		}
		if reason := skippedByName(h); reason != "" {
			w.note("column %q skipped: %s", cell.text, reason)
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
			err = w.failHead(c.index, "%w", err)
		}
		key := compare.MetricID{Benchmark: c.benchmark, Metric: c.metric}
		if other, twice := first[key]; twice && err == nil {
			err = w.failHead(c.index, "column %s %q and column %s %q are the same metric; rename or delete one of the two",
				w.columnName(c.index), w.head[c.index], w.columnName(other), w.head[other])
		}
		if err := w.fault(err); err != nil {
			return err
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

func (w *wideReader) readMetrics() error {
	v := &w.value
	for k := range w.columns {
		c := &w.columns[k]
		if c.holds != numberContent {
			if cell := strings.TrimSpace(w.cells[c.index]); cell != "" {
				if err := w.fault(w.look(c, cell)); err != nil {
					return err
				}
			}
			if c.holds != numberContent {
				continue
			}
		}
		of := &w.value
		of.Benchmark, of.Metric, of.Unit, of.Better, of.Value, of.Missing = c.benchmark, c.metric, c.unit, c.better, 0, false
		w.spelled = c.spelled
		read, err := w.takeCell(of, c.index)
		w.spelled = false
		if err == nil && !c.spelled && !w.mute {
			c.benchmark, c.metric, c.spelled = of.Benchmark, of.Metric, true
		}
		if err := w.fault(err); err != nil {
			return err
		}
		if read {
			c.total.add(of.Value)
			c.digits = max(c.digits, w.decimalsOf(c.index))
		}
	}
	if w.open == 0 {
		w.waiting = nil
		return nil
	}
	w.waiting = append(w.waiting, wideRow{v.Profile, v.Machine, v.Session, v.Block, v.Run, v.Reason, v.Time, v.SetAside, w.place(0)})
	return nil
}

// skippedByName says why a column is not read whatever it holds, "" where it is.
func skippedByName(h heading) string {
	word := plainWord(h.name)
	switch {
	case meanWords[word]:
		return "it is drawn from the runs"
	case h.unit != "" || h.better != "":
		return ""
	case remarkWords[word]:
		return "it holds remarks"
	case isChange(h.name):
		return "it compares"
	}
	return ""
}

// isChange reports whether a header announces a comparison of others, such as Δ % or
// vs. factory.
func isChange(name string) bool {
	word := plainWord(name)
	first, _, _ := strings.Cut(strings.Trim(word, " %+/±"), " ")
	return changeWords[word] || changeWords[first] || strings.ContainsAny(name, "%Δ")
}

// look tells from a cell what its column holds, or that it holds both numbers
// and text.
func (w *wideReader) look(c *wideColumn, cell string) error {
	n, err := w.number(c.index, cell)
	var wrong *numberError
	isText := errors.As(err, &wrong) && wrong.text || n.unit == "%"
	switch {
	case c.holds == textContent && (isText || c.refused):
		return nil
	case c.holds == textContent:
		c.refused = true
		return placed(c.textAt, "found %s in column %q, which holds numbers too (%s in line %d); leave the cell empty where there is no "+
			"result, or keep words and numbers in separate columns",
			excerpt(c.firstText), w.head[c.index], excerpt(cell), w.place(c.index).Line)
	}
	w.open--
	c.holds = textContent
	if err := w.mistyped(c, isText); err != nil {
		c.refused = true
		return err
	}
	if isText {
		c.firstText, c.textAt, c.percent = strings.Clone(cell), w.place(c.index), n.unit == "%"
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
			SetAside: row.setAside, Reason: row.reason, At: compare.Place{File: row.at.File, Sheet: row.at.Sheet, Line: row.at.Line}}
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
			what := "text"
			if c.percent {
				what = "per cent of something"
			}
			w.note("column %q skipped: it holds %s", w.head[c.index], what)
		default:
			w.note("column %q skipped: it is empty", w.head[c.index])
		}
	}
	if metrics == 0 && len(w.faults) == 0 {
		return w.failHead(0, "found no column of numbers below this line; expected %s", headerExamples)
	}
	return nil
}

func (w *wideReader) describe() (string, bool) { return w.described(nil, wideShape) }
