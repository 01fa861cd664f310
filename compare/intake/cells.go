package intake

import (
	"cmp"
	"errors"
	"fmt"
	"strings"
	"time"

	"tunegate/compare"
	"tunegate/compare/intake/internal/workbook"
	"tunegate/compare/internal/pattern"
)

// label returns a name from a known column, "" where the file has none.
func (t *table) label(c column) (string, error) {
	i := t.at[c]
	if i < 0 {
		return "", nil
	}
	if t.cells[i] == "" || strings.TrimSpace(t.cells[i]) == "" {
		return t.emptyLabel(c, i)
	}
	last := &t.last[c]
	if raw := t.cells[i]; raw != last.raw {
		raw = t.pool.keep(raw)
		label := unguarded(strings.TrimSpace(raw))
		if c != colReason {
			if err := checkName(label); err != nil {
				return "", t.fail(i, "%w", err)
			}
		}
		if c == colSession {
			label = dayOf(label)
		}
		last.raw, last.label = raw, label
		return label, t.keepLabel(c, label)
	}
	return last.label, nil
}

// dayOf is a session without the time of day behind its date: runs of one day are not
// each a session.
func dayOf(label string) string {
	if at := datePattern().FindStringIndex(label); at != nil && clockBehind().MatchString(label[at[1]:]) {
		return label[:at[1]]
	}
	return label
}

var clockBehind = pattern.Lazy(`^[ T,]+[0-9]{1,2}:[0-9]{2}`)

// unguarded is a label without the apostrophe that a written CSV has before a
// text that a spreadsheet would run: one that begins with = + - @, a tab or a
// carriage return, behind any number of apostrophes (report.guarded). So has one
// that a log would obey.
func unguarded(label string) string {
	if rest := strings.TrimLeft(label, "'"); len(rest) < len(label) && rest != "" && strings.ContainsRune("=+-@:\t\r", rune(rest[0])) {
		return label[1:]
	}
	return label
}

// cell returns what stands in a known column, "" where the file has none.
func (t *table) cell(c column) string {
	if i := t.at[c]; i >= 0 {
		return strings.TrimSpace(t.cells[i])
	}
	return ""
}

// rowLabels fills in what a row says about its run.
func (t *table) rowLabels(v *compare.Value) error {
	var err error
	for _, to := range [...]struct {
		c     column
		label *string
	}{{colProfile, &v.Profile}, {colMachine, &v.Machine}, {colSession, &v.Session}, {colBlock, &v.Block}, {colRun, &v.Run}} {
		if *to.label, err = t.label(to.c); err != nil {
			return err
		}
		if *to.label == "" {
			*to.label = t.given[to.c]
		}
	}
	if t.has(colLook) {
		if v.Look, err = parseRowLook(t.cell(colLook)); err != nil {
			return t.fail(t.at[colLook], "%w", err)
		}
	}
	if s := t.cell(colTime); s != "" {
		if v.Time, err = t.time(t.at[colTime], s); err != nil {
			return t.fail(t.at[colTime], "%w", err)
		}
	}
	if !t.has(colValid) {
		return t.spoilt(v)
	}
	valid, err := parseValid(t.cell(colValid))
	if err != nil {
		return t.fail(t.at[colValid], "%w", err)
	}
	if !valid {
		v.SetAside = true
		if v.Reason, err = t.label(colReason); err != nil {
			return err
		}
		if v.Reason == "" {
			return t.fail(t.at[colValid], "%w", errNoReason)
		}
	}
	return t.spoilt(v)
}

// time reads the time of a run. A date in a workbook has no zone; it says the order of
// runs, and is taken to be UTC.
func (t *table) time(i int, cell string) (time.Time, error) {
	if t.typed != nil && t.typed[i].Kind == workbook.Date {
		t.note("dates in column %q have no zone; they say the order of the runs", t.head[i])
		if !strings.Contains(cell, "T") {
			cell += "T00:00:00"
		}
		cell += "Z"
	}
	return parseTime(cell)
}

const errNoBenchmark = "found no benchmark, expected its name; write it in every row"

// rowMetric fills in what a row says about its metric.
func (t *table) rowMetric(v *compare.Value) error {
	var err error
	if v.Benchmark, err = t.label(colBenchmark); err != nil {
		return err
	}
	if v.Benchmark == "" {
		return t.fail(t.at[colBenchmark], errNoBenchmark)
	}
	if v.Metric, err = t.label(colMetric); err != nil {
		return err
	}
	v.Metric = cmp.Or(v.Metric, t.given[colMetric])
	unit, err := t.label(colUnit)
	if err != nil {
		return err
	}
	v.Unit = t.unit(unit)
	if v.Better, err = betterIn(t.cell(colBetter)); err != nil {
		return t.fail(t.at[colBetter], "%w", err)
	}
	return nil
}

// unit is a unit as it is spelled here.
func (t *table) unit(text string) string {
	unit := t.pool.unit(t.options.mapped(text))
	if unit != "" && unit != text && mendMojibake(text) != text {
		t.noteMended(text, unit)
	}
	return unit
}

func (t *table) noteMended(text, mended string) {
	t.note("%q is read as %q: somebody saved the file in another encoding than it was opened in", text, mended)
}

// number reads a cell without outer white space that is not empty. It does not
// settle which mark is which: decimals.settle does.
func (t *table) number(i int, cell string) (number, error) {
	if t.typed == nil {
		return t.numbers.read(cell)
	}
	switch c := &t.typed[i]; c.Kind {
	case workbook.Number:
		unit, _ := knownUnit(c.Suffix)
		return number{value: c.Number, unit: unit}, checkMagnitude(c.Number, cell)
	case workbook.Percent:
		return number{value: c.Number, unit: "%"}, nil
	case workbook.Duration:
		return number{value: c.Number, clock: true}, nil
	case workbook.Date:
		return number{}, &numberError{what: "found the date " + excerpt(cell) + ", expected a number",
			todo: "a spreadsheet program makes dates of numbers such as 1.2; type the number anew in a cell formatted as a number", text: true}
	case workbook.Yes, workbook.No:
		return number{}, &numberError{what: "found " + map[workbook.Kind]string{workbook.Yes: "TRUE", workbook.No: "FALSE"}[c.Kind] +
			", expected a number", todo: leaveEmpty, text: true}
	case workbook.Fault:
		return number{}, &numberError{what: "found the error " + excerpt(cell) + ", expected a number",
			todo: "correct the formula, or empty the cell"}
	}
	return t.numbers.read(cell)
}

// takeCell hands on the value in a cell; an empty one is a run not done yet, and ok is
// false.
func (t *table) takeCell(v *compare.Value, i int) (ok bool, err error) {
	v.At = t.place(i)
	if (t.typed != nil || t.rows.row.lines > 1) && strings.IndexByte(t.cells[i], '\n') >= 0 {
		return false, placed(v.At, "%s", errLineBreak(t.cells[i]))
	}
	cell := strings.TrimSpace(t.cells[i])
	if cell == "" {
		if t.typed != nil && t.typed[i].Kind == workbook.Formula {
			return false, placed(v.At, "found a formula whose value is not stored; open the workbook in a spreadsheet program and save it")
		}
		v.Missing = true
		return false, t.put(v)
	}
	if t.typed == nil {
		if value, ok := t.numbers.plain(cell, v.At); ok {
			v.Value = value
			return true, t.put(v)
		}
	}
	n, err := t.number(i, cell)
	if err != nil {
		var wrong *numberError
		if errors.As(err, &wrong) && wrong.text && t.noResult(v, cell) {
			return false, t.put(v)
		}
		return false, placed(v.At, "%s", err)
	}
	if (t.typed == nil || t.typed[i].Kind == workbook.Text) && !t.numbers.isSettled(n) {
		if n.value, err = t.numbers.settle(n, cell, v.At, v.ID()); err != nil {
			return false, err
		}
	}
	if n.clock {
		t.numbers.times.add(n.value, cell, v.At)
	}
	if v.Unit, err = unitOf(n, v.Unit, cell); err != nil {
		return false, placed(v.At, "%s", err)
	}
	v.Value = n.value
	return true, t.put(v)
}

// unitOf is the unit of a number: the one that stands with it has to be that of its
// row or column.
func unitOf(n number, unit, cell string) (string, error) {
	if n.clock {
		return secondsUnit(unit)
	}
	if n.unit != "" && unit != "" && n.unit != unit {
		return "", fmt.Errorf("found %s, but the unit here is %s; write all runs of a metric in one unit", excerpt(cell), excerpt(unit))
	}
	if unit == "" {
		return n.unit, nil
	}
	return unit, nil
}
