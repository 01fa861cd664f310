package report

import (
	"io"
	"slices"
	"strconv"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/report/table"
)

// usualReasons are why runs are set aside, to pick from; others can be typed.
var usualReasons = []string{"crashed", "computation error", "throttled", "interrupted", "another program ran"}

// SheetBook writes a run sheet as a workbook, which compare reads as it is once its
// values are filled in. Values, valid and reason can be typed into, and nothing else.
func SheetBook(w io.Writer, rows []advice.SheetRow) error {
	columns := sheetColumns(rows)
	f := table.Form{Table: table.Table{Name: "Runs"}}
	for _, c := range columns {
		kind := table.Words
		if slices.Contains([]string{"value", "run", "look"}, c.name) {
			kind = table.Number
		}
		f.Columns = append(f.Columns, table.Column{Name: c.name, Kind: kind})
	}
	for _, r := range rows {
		line := make([]table.Cell, len(columns))
		for i, c := range columns {
			line[i] = table.Text(c.cell(r))
			if f.Columns[i].Kind == table.Number {
				line[i] = numberOrText(c.cell(r))
			}
		}
		f.Rows = append(f.Rows, line)
	}
	f.Inputs = append(valueInputs(rows),
		table.Input{Column: "valid", Title: "valid", Help: "no sets the run aside; leave it empty otherwise", Choices: []string{"no"}},
		table.Input{Column: "reason", Title: "reason", Help: "why the run is set aside; pick one, or write your own", Choices: usualReasons,
			Free: true})
	return table.FormWorkbook(w, f)
}

// numberOrText keeps a spreadsheet from marking a number as a text. Labels of sessions
// and blocks stay texts: 1.1 and 1.10 are not the same.
func numberOrText(s string) table.Cell {
	if v, err := strconv.ParseFloat(s, 64); err == nil {
		return table.Num(v, table.General)
	}
	return table.Text(s)
}

// valueInputs say of each metric what its values may be.
func valueInputs(rows []advice.SheetRow) []table.Input {
	var out []table.Input
	at := map[compare.MetricID]int{}
	for i, r := range rows {
		id := r.Metric.ID()
		k, known := at[id]
		if !known {
			k = len(out)
			at[id] = k
			in := table.Input{Column: "value", Title: Clean(id.Name()), Help: "a number", Number: true}
			if r.Metric.Unit != "" {
				in.Help += " in " + Clean(r.Metric.Unit)
			}
			if compare.TraitsOf(r.Metric.Unit).Scale == compare.Ratio {
				in.Above = new(float64)
				in.Help += ", above zero"
			}
			out = append(out, in)
		}
		out[k].Rows = append(out[k].Rows, i)
	}
	return out
}
