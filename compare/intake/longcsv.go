package intake

import (
	"slices"

	"tunegate/compare"
)

// longReader reads a table in which one row is one value.
type longReader struct {
	*table
	reduced reducedColumns
	apart   variants
	value   compare.Value // of the row in hand
}

func (t *table) longReader(h *headings) (*longReader, error) {
	reduced := t.reducedColumns()
	watched := variants{rows: true}
	for i, name := range t.head {
		if t.isUsed(i) || name == "" || slices.Contains(reduced, i) {
			continue
		}
		if c, near := mistypedColumn(name, t.has); near {
			if err := t.fault(t.failHead(i, "%w", errMistyped("column", name, c))); err != nil {
				return nil, err
			}
			continue
		}
		t.note("column %q skipped: its name is none of those known", name)
		watched.watch(i, h.heads[i])
	}
	return &longReader{table: t, reduced: reduced, apart: watched}, nil
}

func (r *longReader) isValue(i int) bool { return i == r.at[colValue] }

func (r *longReader) readRow() error {
	r.value = compare.Value{}
	v := &r.value
	if err := r.rowMetric(v); err != nil {
		return err
	}
	if err := r.rowLabels(v); err != nil {
		return err
	}
	if len(r.apart.columns) > 0 {
		r.apart.look(r.table, keyOf(v.Benchmark, v.Metric, v.Unit, v.Profile, v.Machine))
	}
	var err error
	if v.Reduced, err = r.reduction(r.reduced); err != nil {
		return err
	}
	_, err = r.takeCell(v, r.at[colValue])
	return err
}

func (r *longReader) restart() {}

func (r *longReader) finish() error { return r.apart.fault(r.table) }

func (r *longReader) describe() (string, bool) { return r.described(nil, longShape) }
