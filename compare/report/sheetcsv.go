package report

import (
	"io"
	"slices"
	"strconv"

	"tunegate/compare/advice"
	"tunegate/compare/report/table"
)

// SheetCSV writes a run sheet as a long CSV, which compare reads once its empty values
// are filled in.
func SheetCSV(w io.Writer, rows []advice.SheetRow, as table.Separation) error {
	out := table.NewWriter(w, as)
	columns := sheetColumns(rows)
	out.Texts(each(columns, func(c sheetColumn) string { return c.name })...)
	for _, r := range rows {
		out.Row(each(columns, func(c sheetColumn) table.Cell { return c.cell(r) })...)
	}
	return out.Close()
}

// sheetColumn is a column of a run sheet.
type sheetColumn struct {
	name string
	cell func(advice.SheetRow) table.Cell
}

// sheetColumns are those of a run sheet. A machine, blocks and looks have columns where
// there are any.
func sheetColumns(rows []advice.SheetRow) []sheetColumn {
	text := func(of func(advice.SheetRow) string) func(advice.SheetRow) table.Cell {
		return func(r advice.SheetRow) table.Cell { return table.Label(of(r)) }
	}
	empty := func(advice.SheetRow) table.Cell { return table.Cell{} }
	columns := []sheetColumn{
		{"machine", text(func(r advice.SheetRow) string { return r.Machine })},
		{"block", text(func(r advice.SheetRow) string { return r.Block })},
		{"session", text(func(r advice.SheetRow) string { return r.Session })},
		{"profile", text(func(r advice.SheetRow) string { return r.Profile })},
		{"benchmark", text(func(r advice.SheetRow) string { return r.Metric.Benchmark })},
		{"metric", text(func(r advice.SheetRow) string { return r.Metric.Metric })},
		{"unit", text(func(r advice.SheetRow) string { return r.Metric.Unit })},
		{"better", text(func(r advice.SheetRow) string { return string(r.Metric.Better) })},
		{"run", func(r advice.SheetRow) table.Cell { return numberOrText(r.Run) }},
		{"value", func(r advice.SheetRow) table.Cell { return table.Opt(r.Value, table.General) }},
		{"valid", empty}, {"reason", empty},
		{"look", func(r advice.SheetRow) table.Cell {
			if r.Look == 0 {
				return table.Cell{}
			}
			return table.Int(r.Look)
		}},
	}
	return slices.DeleteFunc(columns, func(c sheetColumn) bool {
		return slices.Contains([]string{"machine", "block", "look"}, c.name) &&
			!slices.ContainsFunc(rows, func(r advice.SheetRow) bool { return c.cell(r) != table.Cell{} })
	})
}

// numberOrText keeps a spreadsheet from marking a number as a text. A number that is
// not written as numbers are, such as 01, stays a text.
func numberOrText(s string) table.Cell {
	if n, err := strconv.Atoi(s); err == nil && strconv.Itoa(n) == s {
		return table.Int(n)
	}
	return table.Label(s)
}
