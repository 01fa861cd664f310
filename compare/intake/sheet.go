package intake

import (
	"fmt"
	"math"
	"strings"

	"tunegate/compare"
)

// runColumn is a column of a sheet that holds one run of each row's metric.
type runColumn struct {
	index int
	heading
	total total // of the rows so far
}

// sheetReader reads a sheet: benchmarks down, runs across. One row is one metric
// of one benchmark in one session. The runs carry no label: the k-th run
// column is run k of its row, an empty cell keeps its count, and a second
// session in a row below counts on.
type sheetReader struct {
	*table
	runs    []runColumn
	derived []derivedColumn
	values  []float64 // of the row in hand
	digits  int       // the most decimals among them
	value   compare.Value
	label   string // the last one that is no total
	apart   variants
}

func (t *table) sheetReader(h *headings) (*sheetReader, error) {
	r := &sheetReader{table: t}
	numbered := map[string]int{}
	for i, cell := range h.heads {
		err := cell.err
		switch {
		case err != nil:
			err = t.failHead(i, "%w", err)
		case h.runs[i]:
			key := fmt.Sprint(cell.run.number)
			if first, twice := numbered[key]; twice {
				err = t.failHead(i, "column %s %q and column %s %q are both run %d; number the runs 1, 2, 3", t.columnName(i), cell.text,
					t.columnName(first), t.head[first], cell.run.number)
			}
			numbered[key] = i
			r.runs = append(r.runs, runColumn{index: i, heading: cell.heading})
		case t.isUsed(i) && (cell.column == colRun || cell.column == colTime) && i != t.at[colBenchmark]:
			t.note("column %q skipped: a row here holds several runs", cell.text)
			t.at[cell.column] = -1
		case t.isUsed(i) || cell.text == "":
		case isStatistic(cell.name):
			r.derived = append(r.derived, derivedColumn{index: i, kind: derivedKindOf(cell.name)})
		default:
			r.apart.watch(i, cell)
			err = t.skipInSheet(i, cell)
		}
		if err := t.fault(err); err != nil {
			return nil, err
		}
	}
	return r, nil
}

func (r *sheetReader) isValue(i int) bool {
	for _, run := range r.runs {
		if run.index == i {
			return true
		}
	}
	return false
}

func (r *sheetReader) readRow() error {
	if name := r.cell(colBenchmark); name != r.label {
		if isTotal(name) {
			return r.checkTotals(name)
		}
		if r.isSum() {
			return r.checkTotals(name)
		}
		r.label = strings.Clone(name)
	}
	var v compare.Value
	if err := r.rowMetric(&v); err != nil {
		return err
	}
	if n := len(v.Benchmark); v.Unit == "" && n > 0 && (v.Benchmark[n-1] == ']' || v.Benchmark[n-1] == ')') {
		r.unitOfName(&v)
	}
	if err := r.rowLabels(&v); err != nil {
		return err
	}
	if len(r.apart.columns) > 0 {
		r.apart.look(r.table, keyOf(v.Benchmark, v.Metric, v.Unit, v.Profile, v.Machine, v.Session, v.Block))
	}
	r.values, r.digits = r.values[:0], 0
	for k := range r.runs {
		run := &r.runs[k]
		of, read := &r.value, false
		*of = v
		err := r.underHeading(of, run)
		if err == nil {
			read, err = r.takeCell(of, run.index)
		}
		if err := r.fault(err); err != nil {
			return err
		}
		if read {
			r.values, r.digits = append(r.values, of.Value), max(r.digits, r.decimalsOf(run.index))
			run.total.add(of.Value)
		}
	}
	for k := range r.derived {
		if err := r.fault(r.derived[k].check(r.table, r.values, r.digits)); err != nil {
			return err
		}
	}
	return nil
}

// unitOfName takes a known unit off the name of a benchmark: tile-render [s].
func (r *sheetReader) unitOfName(v *compare.Value) {
	h, err := parseHeading(v.Benchmark)
	if err != nil {
		return
	}
	if h = unitInWords(h); h.unit == "" || h.name == "" {
		return
	}
	if unit, known := knownUnit(h.unit); known {
		v.Benchmark, v.Unit = h.name, r.pool.unit(unit)
	}
}

// isSum reports whether a row holds the sums of the rows above, in two columns or more,
// whatever it is called.
func (r *sheetReader) isSum() bool {
	columns := 0
	for k := range r.runs {
		run := &r.runs[k]
		if run.total.n < 2 {
			return false
		}
		value, tolerance, ok := r.derivedValue(run.index, r.digits)
		if !ok {
			continue
		}
		if what := run.total.is(value, tolerance); what != "the sum of the rows above" && what != "the sum of some rows above" {
			return false
		}
		columns++
	}
	return columns > 1
}

// checkTotals holds a row of means or sums to the rows above it.
func (r *sheetReader) checkTotals(name string) error {
	what := ""
	for k := range r.runs {
		run := &r.runs[k]
		value, tolerance, ok := r.derivedValue(run.index, 0)
		if !ok {
			continue
		}
		if what = run.total.is(value, tolerance+0.5*math.Pow10(-r.digits)); what == "" {
			return r.fail(run.index, "found the row %q, but %s is neither the sum nor the mean of the rows above; rename the row if it is "+
				"a benchmark, else correct or delete it", name, excerpt(strings.TrimSpace(r.cells[run.index])))
		}
	}
	for k := range r.runs {
		r.runs[k].total.begin()
	}
	if what == "" {
		what = "drawn from the runs"
	}
	r.note("row %q skipped: it is %s, no benchmark", name, what)
	return nil
}

// underHeading lets a run column state the unit or the direction of a row that
// does not; two that disagree are an error.
func (t *table) underHeading(v *compare.Value, run *runColumn) error {
	switch {
	case v.Unit == "":
		v.Unit = run.unit
	case run.unit != "" && run.unit != v.Unit:
		return t.fail(run.index, "the row is in %q, but its header %q says %q; state the unit in one place", v.Unit, t.head[run.index], run.unit)
	}
	switch {
	case v.Better == "":
		v.Better = run.better
	case run.better != "" && run.better != v.Better:
		return t.fail(run.index, "the row says better = %s, but its header %q says %s; state the direction in one place", v.Better,
			t.head[run.index], run.better)
	}
	return nil
}

func (t *table) skipInSheet(i int, cell headCell) error {
	if c, near := mistypedColumn(cell.text, t.has); near && c != colRun && c != colTime && c != colValue {
		return t.failHead(i, "%w", errMistyped("column", cell.text, c))
	}
	lower := strings.ToLower(cell.text)
	if lower == "runs" || strings.HasPrefix(lower, "run ") || strings.HasPrefix(lower, "run_") || strings.HasPrefix(lower, "run-") {
		return t.failHead(i, `found column %q, expected a number for a run, as in "Run 1"; number it, or rename it to something that does `+
			`not begin with "run"`, cell.text)
	}
	t.note("column %q skipped: it is no run, and its name is none of those known", cell.text)
	return nil
}

// restart forgets the rows above.
func (r *sheetReader) restart() {
	for k := range r.runs {
		r.runs[k].total = total{}
	}
}

func (r *sheetReader) finish() error {
	if err := r.apart.fault(r.table); err != nil {
		return err
	}
	for _, d := range r.derived {
		r.note("column %q skipped: it is %s", r.head[d.index], d.found())
	}
	return nil
}

func (r *sheetReader) describe() (string, bool) {
	var runs []int
	plain := true
	for _, run := range r.runs {
		runs = append(runs, run.index)
		stem := runHeadOf(run.name).stem
		plain = plain && (stem == "run" || stem == "r" || stem == "#" || stem == "")
	}
	text, also := r.described(runs, sheetShape)
	return text, plain && also
}
