package intake

import (
	"io"

	"tunegate/compare"
)

// readLong reads a long CSV: one row is one value.
func (t *table) readLong() error {
	for i, name := range t.head {
		if _, known := columnNamed(name); known || name == "" {
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
		if err := t.putCell(v, value); err != nil {
			return err
		}
	}
}
