package intake

import (
	"strings"

	"tunegate/compare"
)

// label returns a name from a known column, "" where the file has none.
func (t *table) label(c column) (string, error) {
	i := t.at[c]
	if i < 0 {
		return "", nil
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
		last.raw, last.label = raw, label
	}
	return last.label, nil
}

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
	}
	if v.Look, err = parseRowLook(t.cell(colLook)); err != nil {
		return t.fail(t.at[colLook], "%w", err)
	}
	if s := t.cell(colTime); s != "" {
		if v.Time, err = parseTime(s); err != nil {
			return t.fail(t.at[colTime], "%w", err)
		}
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
	return nil
}

// rowMetric fills in what a row says about its metric.
func (t *table) rowMetric(v *compare.Value) error {
	var err error
	if v.Benchmark, err = t.label(colBenchmark); err != nil {
		return err
	}
	if v.Benchmark == "" {
		return t.fail(t.at[colBenchmark], "found no benchmark, expected its name; write it in every row")
	}
	if v.Metric, err = t.label(colMetric); err != nil {
		return err
	}
	unit, err := t.label(colUnit)
	if err != nil {
		return err
	}
	v.Unit = t.pool.unit(unit)
	if v.Better, err = parseBetter(t.cell(colBetter)); err != nil {
		return t.fail(t.at[colBetter], "%w", err)
	}
	return nil
}

// putCell hands on the value in a cell; an empty one is a run not done yet.
func (t *table) putCell(v compare.Value, i int) error {
	v.At = t.place(i)
	if strings.IndexByte(t.cells[i], '\n') >= 0 {
		return placed(v.At, "%s", errLineBreak(t.cells[i]))
	}
	cell := strings.TrimSpace(t.cells[i])
	if cell == "" {
		v.Missing = true
		return t.put(&v)
	}
	n, err := parseNumber(cell, t.numbers.comma)
	if err != nil {
		return placed(v.At, "%s", err)
	}
	if err := t.numbers.agree(n, cell, v.At); err != nil {
		return err
	}
	if n.clock {
		if v.Unit, err = secondsUnit(v.Unit); err != nil {
			return placed(v.At, "%s", err)
		}
	}
	v.Value = n.value
	return t.put(&v)
}
