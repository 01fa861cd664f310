package report

import (
	"fmt"
	"io"
	"math"
	"slices"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/report/table"
)

// usualReasons are why runs are set aside, to pick from; others can be typed.
var usualReasons = []string{"crashed", "computation error", "throttled", "interrupted", "another program ran"}

// SheetBook writes a run sheet as a workbook, which compare reads as it is once its
// values are filled in. Values, valid and reason can be typed into, and nothing else.
func SheetBook(w io.Writer, rows []advice.SheetRow) error {
	return table.FormWorkbook(w, sheetForm(rows, nil), nil)
}

// RerunsBook writes a plan of further runs as a workbook: its run sheet, as SheetBook
// does, the plan as it is printed, and its figures.
func RerunsBook(w io.Writer, p RerunsPage) error {
	return table.FormWorkbook(w, sheetForm(p.Sheet, p.Reruns), &table.Book{Document: RerunsDocument(p), Tables: []table.Table{RerunsTable(p)}})
}

// sheetForm is a run sheet to be filled in. plan says what the pilot measured; nil
// where there is none.
func sheetForm(rows []advice.SheetRow, plan *advice.Reruns) table.Form {
	columns := sheetColumns(rows)
	f := table.Form{Table: table.Table{Name: "Runs"}}
	for _, c := range columns {
		kind := table.Words
		if c.name == "value" || c.name == "run" || c.name == "look" {
			kind = table.Number
		}
		f.Columns = append(f.Columns, table.Column{Name: c.name, Kind: kind})
	}
	for _, r := range rows {
		line := make([]table.Cell, len(columns))
		for i, c := range columns {
			line[i] = c.cell(r)
		}
		f.Rows = append(f.Rows, line)
	}
	f.Inputs = append(valueInputs(rows, plan),
		table.Input{Column: "valid", Title: "valid", Help: "no sets the run aside; leave it empty otherwise", Choices: []string{"no"}},
		table.Input{Column: "reason", Title: "reason", Help: "why the run is set aside; pick one, or write your own", Choices: usualReasons,
			Free: true})
	return f
}

// valueInputs say of each metric what the values that are missing may be.
func valueInputs(rows []advice.SheetRow, plan *advice.Reruns) []table.Input {
	var out []table.Input
	made := map[compare.MetricID][]float64{}
	for _, r := range rows {
		if r.Value != nil {
			made[r.Metric.ID()] = append(made[r.Metric.ID()], *r.Value)
		}
	}
	if plan != nil {
		for _, m := range plan.Metrics {
			made[m.ID()] = append(made[m.ID()], slices.Concat(m.Before.Raw, m.After.Raw)...)
		}
	}
	at := map[compare.MetricID]int{}
	for i, r := range rows {
		if r.Value != nil {
			continue
		}
		id := r.Metric.ID()
		k, known := at[id]
		if !known {
			k = len(out)
			at[id] = k
			out = append(out, valueInput(r.Metric, made[id]))
		}
		out[k].Rows = append(out[k].Rows, i)
	}
	return out
}

// valueInput is that of one metric; made are its values until now.
func valueInput(m compare.Metric, made []float64) table.Input {
	in := table.Input{Column: "value", Title: Clean(m.ID().Name()), Help: "a number", Number: true}
	if m.Unit != "" {
		in.Help += " in " + Clean(m.Unit)
	}
	if compare.TraitsOf(m.Unit).Scale == compare.Ratio {
		in.Above = new(float64)
		in.Help += ", above zero"
	}
	if len(made) >= 3 {
		lo, hi := slices.Min(made), slices.Max(made)
		in.Help += fmt.Sprintf("; until now %s to %s", compare.Decimal(lo, 4), compare.Decimal(hi, 4))
		far := math.Max(hi-lo, math.Abs(lo+hi)/20) // as far again as they spread, or a tenth of their middle
		in.Usual = &[2]float64{lo - far, hi + far}
	}
	return in
}
