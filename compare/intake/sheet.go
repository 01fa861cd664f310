package intake

import (
	"io"
	"strings"

	"tunegate/compare"
)

// runColumn is a column of a sheet that holds one run of each row's metric.
type runColumn struct {
	index int
	heading
}

// readSheet reads a sheet: benchmarks down, runs across. One row is one metric
// of one benchmark in one session. The runs carry no label: the k-th run
// column is run k of its row, an empty cell keeps its count, and a second
// session in a row below counts on.
func (t *table) readSheet() error {
	columns, err := t.runColumns()
	if err != nil {
		return err
	}
	for rows := 0; ; rows++ {
		err := t.row()
		if err == io.EOF {
			if rows == 0 {
				return t.errNoRows()
			}
			return nil
		}
		if err != nil {
			return err
		}
		if name := t.cell(colBenchmark); isAverage(name) {
			t.note("row %q skipped: an average is no benchmark", name)
			continue
		}
		var v compare.Value
		if err := t.rowMetric(&v); err != nil {
			return err
		}
		if err := t.rowLabels(&v); err != nil {
			return err
		}
		for _, run := range columns {
			of := v
			if err := t.underHeading(&of, run); err != nil {
				return err
			}
			if err := t.putCell(of, run.index); err != nil {
				return err
			}
		}
	}
}

// underHeading lets a run column state the unit or the direction of a row that
// does not; two that disagree are an error.
func (t *table) underHeading(v *compare.Value, run runColumn) error {
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

// runColumns sorts out the header of a sheet.
func (t *table) runColumns() ([]runColumn, error) {
	var columns []runColumn
	numbered := map[int]int{}
	for i, name := range t.head {
		h, err := parseHeading(name)
		if err != nil {
			return nil, t.failHead(i, "%w", err)
		}
		c, known := columnNamed(name)
		n, _, isRun := runHeading(h.name)
		switch {
		case isRun:
			if first, twice := numbered[n]; twice {
				return nil, t.failHead(i, "column %d %q and column %d %q are both run %d; number the runs 1, 2, 3", i+1, name, first+1,
					t.head[first], n)
			}
			numbered[n] = i
			columns = append(columns, runColumn{i, h})
		case known && (c == colRun || c == colTime):
			t.note("column %q skipped: a row here holds several runs", name)
			t.at[c] = -1
		case known || name == "":
		case isStatistic(h.name):
			t.note("column %q skipped: it is drawn from the runs", name)
		default:
			if err := t.skipInSheet(i, name); err != nil {
				return nil, err
			}
		}
	}
	return columns, nil
}

func (t *table) skipInSheet(i int, name string) error {
	if c, near := mistypedColumn(name, t.has); near && c != colRun && c != colTime && c != colValue {
		return t.failHead(i, "%w", errMistyped("column", name, c))
	}
	lower := strings.ToLower(name)
	if lower == "runs" || strings.HasPrefix(lower, "run ") || strings.HasPrefix(lower, "run_") || strings.HasPrefix(lower, "run-") {
		return t.failHead(i, `found column %q, expected a number for a run, as in "Run 1"; number it, or rename it to something that does `+
			`not begin with "run"`, name)
	}
	t.note("column %q skipped: it is no run, and its name is none of those known", name)
	return nil
}
