package intake

import (
	"cmp"
	"errors"
	"math"
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
	clock     bool // it holds times of day
	refused   bool // a fault of it was told
	total     total
	counted   total // of runs that are not set aside, where one is
	anyAside  bool
	digits    int // the most decimals of a cell
}

// add keeps a value for the totals.
func (c *wideColumn) add(v *compare.Value) {
	if v.SetAside && !c.anyAside {
		c.anyAside, c.counted = true, c.total
	}
	c.total.add(v.Value)
	if c.anyAside && !v.SetAside {
		c.counted.add(v.Value)
	}
}

// totalIs says what a value is of the rows above, of all or of those that count; ""
// for nothing.
func (c *wideColumn) totalIs(value, tolerance float64) string {
	return cmp.Or(c.total.is(value, tolerance), c.counted.is(value, tolerance))
}

// wideRow keeps the labels of a row while some column has shown no content
// yet: if that column turns out a metric, its empty cells are runs not done
// yet and keep the count of those behind them.
type wideRow struct {
	profile, benchmark, machine, session, block, run, reason string
	time                                                     time.Time
	setAside                                                 bool
	failed                                                   []failedCell
	at                                                       compare.Place
}

// failedCell is a cell that says that its run failed, in a column without content so
// far.
type failedCell struct {
	index  int
	reason string
}

// wideReader reads a wide CSV: one row is one run, each column of numbers a
// metric. Rows carry no run label but their own: each metric gets one value a
// row, an empty cell included, so the k-th values belong together.
type wideReader struct {
	*table
	columns   []wideColumn
	apart     variants
	open      int // columns without content so far
	waiting   []wideRow
	value     compare.Value // of the row in hand
	benchmark string        // of the row in hand, where it states one
}

func (t *table) wideReader(h *headings) (*wideReader, error) {
	w := &wideReader{table: t, apart: variants{rows: true}}
	for c := colValue; c < colProfile; c++ {
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
		if name := strings.TrimSpace(w.cells[i]); isStatisticRow(name) && !w.isValue(i) {
			return w.checkTotals(name)
		}
	}
	if err := w.checkUnlabelled(); err != nil {
		return err
	}
	w.value = compare.Value{}
	w.benchmark = w.given[colBenchmark]
	if w.has(colBenchmark) {
		var err error
		if w.benchmark, err = w.label(colBenchmark); err != nil {
			return err
		}
		if w.benchmark == "" {
			return w.fail(w.at[colBenchmark], errNoBenchmark)
		}
	}
	if err := w.rowLabels(&w.value); err != nil {
		return err
	}
	if len(w.apart.columns) > 0 {
		w.apart.look(w.table, keyOf(w.benchmark, w.value.Profile, w.value.Machine))
	}
	return w.readMetrics()
}

// restart forgets the rows above.
func (w *wideReader) restart() {
	for k := range w.columns {
		w.columns[k].total, w.columns[k].counted = total{}, total{}
	}
}

// checkUnlabelled refuses a row without the label of a run that all above have, where it
// holds the means or the sums of the rows above.
func (w *wideReader) checkUnlabelled() error {
	i := w.at[colRun]
	if i < 0 || w.gaps[colRun].label == "" || strings.TrimSpace(w.cells[i]) != "" {
		return nil
	}
	what, differ := "", false
	for k := range w.columns {
		c := &w.columns[k]
		value, _, ok := w.derivedValue(c.index, c.digits)
		if !ok || c.holds != numberContent {
			continue
		}
		found := c.totalIs(value, 0.5*math.Pow10(-w.decimalsOf(c.index)))
		if c.total.n < 2 || found == "" || what != "" && found != what {
			return nil
		}
		what, differ = found, differ || c.total.least < c.total.greatest
	}
	if !differ {
		return nil
	}
	return w.fail(i, "found a row without %q, which is %s; delete it, or write mean or sum there, or the number of the run", w.head[i], what)
}

// checkTotals holds a row of means or sums to the rows above it.
func (w *wideReader) checkTotals(name string) error {
	what := ""
	for k := range w.columns {
		c := &w.columns[k]
		value, tolerance, ok := w.derivedValue(c.index, c.digits)
		if !ok || c.holds != numberContent || spreadWords[plainWord(name)] {
			continue
		}
		if extremeWords[plainWord(name)] {
			if what = "the smallest or the largest of the rows above"; !c.total.isExtreme(value, tolerance) {
				return w.fail(c.index, "found the row %q, but %s is neither the smallest nor the largest of the rows above; correct or delete it",
					name, excerpt(strings.TrimSpace(w.cells[c.index])))
			}
			continue
		}
		if what = c.totalIs(value, tolerance); what == "" {
			return w.fail(c.index, "found the row %q, but %s is neither the sum nor the mean of the rows above; rename the row if it is "+
				"a run, else correct or delete it", name, excerpt(strings.TrimSpace(w.cells[c.index])))
		}
	}
	for k := range w.columns {
		w.columns[k].total.begin()
		w.columns[k].counted.begin()
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
		if h.unit == "" && h.better == "" && w.at[colRun] < 0 && strongRunWords[plainWord(h.name)] && err == nil {
			w.at[colRun] = i
			continue
		}
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
		if w.has(colBenchmark) || w.given[colBenchmark] != "" {
			c.metric = c.name
			if columnWords[plainWord(c.name)] == colValue || strings.EqualFold(c.name, columnNames[colValue]) {
				c.metric = ""
			}
		} else if c.benchmark, c.metric, err = metricOf(c.name, names); err != nil {
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
			w.apart.watch(c.index, of.heads[c.index])
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
	setAside, reason := v.SetAside, v.Reason // a cell may say that its run failed
	var failures []failedCell
	for k := range w.columns {
		c := &w.columns[k]
		if c.holds != numberContent {
			cell := strings.TrimSpace(w.cells[c.index])
			if c.holds == unknownContent && cell != "" && w.hasFailed(cell) {
				failures = append(failures, failedCell{c.index, w.pool.keep(cell)})
			}
			if cell != "" && !w.isReason(cell) {
				if err := w.fault(w.look(c, cell)); err != nil {
					return err
				}
			}
			if c.holds != numberContent {
				continue
			}
		}
		v.Benchmark, v.Metric, v.Unit, v.Better = cmp.Or(c.benchmark, w.benchmark), c.metric, c.unit, c.better
		v.Value, v.Missing, v.SetAside, v.Reason = 0, false, setAside, reason
		w.spelled = c.spelled
		read, err := w.takeCell(v, c.index)
		w.spelled = false
		if err == nil && !c.spelled && !w.mute && c.benchmark != "" {
			c.benchmark, c.metric, c.spelled = v.Benchmark, v.Metric, true
		}
		if err := w.fault(err); err != nil {
			return err
		}
		if read {
			c.add(v)
			c.digits = max(c.digits, w.decimalsOf(c.index))
		}
	}
	if w.open == 0 {
		w.waiting = nil
		return nil
	}
	w.waiting = append(w.waiting, wideRow{v.Profile, w.benchmark, v.Machine, v.Session, v.Block, v.Run, reason, v.Time, setAside, failures,
		w.place(0)})
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
	if n.clock && timeOfDayWords[plainWord(w.head[c.index])] {
		c.holds, c.refused, c.clock = textContent, true, true
		return nil
	}
	if c.benchmark == "" && n.unit == "" && !n.clock {
		c.holds, c.refused = textContent, true
		return w.failHead(c.index, "column %q holds numbers and states no unit; write it, as in %q, or delete the column", w.head[c.index],
			w.head[c.index]+" [s]")
	}
	c.holds = numberContent
	if n.clock {
		w.note("column %q holds times such as %s, read as durations in s; head it %q if that is right, else delete it", w.head[c.index], cell,
			w.head[c.index]+" [s]")
	}
	for _, row := range w.waiting {
		v := compare.Value{Profile: row.profile, Benchmark: cmp.Or(c.benchmark, row.benchmark), Metric: c.metric,
			Machine: row.machine, Session: row.session, Block: row.block, Run: row.run, Time: row.time, Missing: true,
			SetAside: row.setAside, Reason: row.reason, At: compare.Place{File: row.at.File, Sheet: row.at.Sheet, Line: row.at.Line}}
		for _, f := range row.failed {
			if f.index == c.index && !v.SetAside {
				v.SetAside, v.Reason = true, f.reason
			}
		}
		if err := w.put(&v); err != nil {
			return err
		}
	}
	return nil
}

// hasFailed reports whether a cell says that its run failed.
func (w *wideReader) hasFailed(cell string) bool {
	_, failed := w.reasonIn(cell)
	return failed && len(cell) <= 40
}

// isReason reports whether a cell says why there is no result, which tells nothing of
// what its column holds.
func (w *wideReader) isReason(cell string) bool {
	if first := cell[0]; first >= '0' && first <= '9' || len(cell) > 40 {
		return false
	}
	none, failed := w.reasonIn(cell)
	return none || failed
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
	if err := w.apart.fault(w.table); err != nil {
		return err
	}
	metrics := 0
	for _, c := range w.columns {
		switch c.holds {
		case numberContent:
			metrics++
		case textContent:
			what := "text"
			if isYesNo(c.firstText) {
				what = "yes or no; where one of the two spoils a run, head it throttled or crashed"
			} else if c.clock {
				what = "times of day"
			} else if c.percent {
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
