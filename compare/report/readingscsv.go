package report

import (
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"tunegate/compare/readings"
	"tunegate/compare/report/table"
)

// ReadingsCSV writes the runs of monitoring logs as a long CSV that compare
// reads.
func ReadingsCSV(w io.Writer, found *readings.Result, as table.Separation) error {
	out := table.NewWriter(w, as)
	header := []string{"benchmark", "metric", "unit", "better", "profile", "session", "run", "time", "valid", "reason", "value"}
	machines := slices.ContainsFunc(found.Runs, func(r readings.Run) bool { return r.Machine != "" })
	if machines {
		header = append(header, "machine")
	}
	out.Texts(header...)
	for _, r := range found.Runs {
		for _, v := range r.Metrics {
			var valid, value table.Cell
			excluded := r.ExcludedAs(v)
			if excluded != nil {
				valid = table.Text("no")
			}
			if v.Value != nil {
				value = table.Num(sevenDigits(*v.Value), table.General)
			}
			row := []table.Cell{table.Text(r.Benchmark), table.Text(v.Metric), table.Text(v.Unit), table.Text(string(v.Better)),
				table.Text(r.Profile), table.Text(r.Session), table.Text(r.LabelOf(v)), table.Text(zonedTime(r.Start)), valid,
				table.Text(exclusionText(excluded)), value}
			if machines {
				row = append(row, table.Text(r.Machine))
			}
			out.Row(row...)
		}
	}
	return out.Close()
}

// sevenDigits rounds a value to seven significant digits: more than any sensor has,
// and not the noise of binary numbers.
func sevenDigits(v float64) float64 {
	if f, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 7, 64), 64); err == nil {
		return f
	}
	return v
}

// zonedTime is the start of a run where it can order runs: with date and zone.
func zonedTime(start string) string {
	start = strings.ToUpper(start)
	if _, err := time.Parse(time.RFC3339, start); err != nil {
		return ""
	}
	return start
}
