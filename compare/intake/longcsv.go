package intake

import (
	"io"
	"slices"

	"tunegate/compare"
)

// readLong reads a long CSV: one row is one value.
func (t *table) readLong() error {
	reduced := t.reducedColumns()
	for i, name := range t.head {
		if _, known := columnNamed(name); known || name == "" || slices.Contains(reduced, i) {
			continue
		}
		if c, near := mistypedColumn(name, t.has); near {
			return t.failHead(i, "%w", errMistyped("column", name, c))
		}
		t.note("column %q skipped: its name is none of those known", name)
	}
	value := t.at[colValue]
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
		var v compare.Value
		if err := t.rowMetric(&v); err != nil {
			return err
		}
		if err := t.rowLabels(&v); err != nil {
			return err
		}
		if v.Reduced, err = t.reduction(reduced); err != nil {
			return err
		}
		if err := t.putCell(v, value); err != nil {
			return err
		}
	}
}
