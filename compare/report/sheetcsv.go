package report

import (
	"encoding/csv"
	"io"
	"slices"
	"strconv"

	"tunegate/compare/advice"
)

// SheetCSV writes a run sheet as a long CSV, which compare reads once its empty values
// are filled in. A machine, blocks and looks have columns where there are any.
func SheetCSV(w io.Writer, rows []advice.SheetRow) error {
	c := csv.NewWriter(w)
	columns := []sheetColumn{
		{"machine", func(r advice.SheetRow) string { return r.Machine }},
		{"block", func(r advice.SheetRow) string { return r.Block }},
		{"session", func(r advice.SheetRow) string { return r.Session }},
		{"profile", func(r advice.SheetRow) string { return r.Profile }},
		{"benchmark", func(r advice.SheetRow) string { return r.Metric.Benchmark }},
		{"metric", func(r advice.SheetRow) string { return r.Metric.Metric }},
		{"unit", func(r advice.SheetRow) string { return r.Metric.Unit }},
		{"better", func(r advice.SheetRow) string { return string(r.Metric.Better) }},
		{"run", func(r advice.SheetRow) string { return r.Run }},
		{"value", sheetValue},
		{"valid", func(advice.SheetRow) string { return "" }},
		{"reason", func(advice.SheetRow) string { return "" }},
		{"look", sheetLook},
	}
	columns = slices.DeleteFunc(columns, func(column sheetColumn) bool {
		return slices.Contains([]string{"machine", "block", "look"}, column.name) &&
			!slices.ContainsFunc(rows, func(r advice.SheetRow) bool { return column.cell(r) != "" })
	})
	line := make([]string, len(columns))
	for i, column := range columns {
		line[i] = column.name
	}
	if err := c.Write(line); err != nil {
		return err
	}
	for _, r := range rows {
		for i, column := range columns {
			line[i] = column.cell(r)
		}
		if err := c.Write(guarded(line)); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

type sheetColumn struct {
	name string
	cell func(advice.SheetRow) string
}

func sheetValue(r advice.SheetRow) string {
	if r.Value == nil {
		return ""
	}
	return strconv.FormatFloat(*r.Value, 'f', -1, 64)
}

func sheetLook(r advice.SheetRow) string {
	if r.Look == 0 {
		return ""
	}
	return strconv.Itoa(r.Look)
}
