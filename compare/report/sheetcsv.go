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
		out.Texts(each(columns, func(c sheetColumn) string { return c.cell(r) })...)
	}
	return out.Close()
}

// sheetColumn is a column of a run sheet.
type sheetColumn struct {
	name string
	cell func(advice.SheetRow) string
}

// sheetColumns are those of a run sheet. Looks have one where there are any.
func sheetColumns(rows []advice.SheetRow) []sheetColumn {
	empty := func(advice.SheetRow) string { return "" }
	columns := []sheetColumn{
		{"block", func(r advice.SheetRow) string { return r.Block }},
		{"session", func(r advice.SheetRow) string { return r.Session }},
		{"profile", func(r advice.SheetRow) string { return r.Profile }},
		{"benchmark", func(r advice.SheetRow) string { return r.Metric.Benchmark }},
		{"metric", func(r advice.SheetRow) string { return r.Metric.Metric }},
		{"unit", func(r advice.SheetRow) string { return r.Metric.Unit }},
		{"better", func(r advice.SheetRow) string { return string(r.Metric.Better) }},
		{"run", func(r advice.SheetRow) string { return r.Run }},
		{"value", empty}, {"valid", empty}, {"reason", empty},
		{"look", sheetLook},
	}
	return slices.DeleteFunc(columns, func(c sheetColumn) bool {
		return c.name == "look" && !slices.ContainsFunc(rows, func(r advice.SheetRow) bool { return c.cell(r) != "" })
	})
}

func sheetLook(r advice.SheetRow) string {
	if r.Look == 0 {
		return ""
	}
	return strconv.Itoa(r.Look)
}
