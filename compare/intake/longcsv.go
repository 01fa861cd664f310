package intake

import (
	"slices"

	"tunegate/compare"
)

// longReader reads a table in which one row is one value.
type longReader struct {
	*table
	reduced reducedColumns
	value   compare.Value // of the row in hand
}

func (t *table) longReader() (*longReader, error) {
	reduced := t.reducedColumns()
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
	}
	return &longReader{table: t, reduced: reduced}, nil
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
	var err error
	if v.Reduced, err = r.reduction(r.reduced); err != nil {
		return err
	}
	_, err = r.takeCell(v, r.at[colValue])
	return err
}

func (r *longReader) finish() error { return nil }

func (r *longReader) describe() (string, bool) { return r.described(nil, longShape) }
