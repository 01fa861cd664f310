package report

import (
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"tunegate/compare/readings"
)

// ReadingsCSV writes the runs of monitoring logs as a long CSV that compare
// reads.
func ReadingsCSV(w io.Writer, found *readings.Result) error {
	c := csv.NewWriter(w)
	header := []string{"benchmark", "metric", "unit", "better", "profile", "session", "run", "time", "valid", "reason", "value"}
	machines := slices.ContainsFunc(found.Runs, func(r readings.Run) bool { return r.Machine != "" })
	if machines {
		header = append(header, "machine")
	}
	if err := c.Write(header); err != nil {
		return err
	}
	for _, r := range found.Runs {
		for _, v := range r.Metrics {
			valid, value := "", ""
			excluded := r.ExcludedAs(v)
			if excluded != nil {
				valid = "no"
			}
			if v.Value != nil {
				value = readingValue(*v.Value)
			}
			row := append(guarded([]string{
				Clean(r.Benchmark), Clean(v.Metric), Clean(v.Unit), string(v.Better), Clean(r.Profile), Clean(r.Session),
				Clean(r.LabelOf(v)), zonedTime(r.Start), valid, Clean(exclusionText(excluded)),
			}), value)
			if machines {
				row = append(row, guarded([]string{Clean(r.Machine)})...)
			}
			if err := c.Write(row); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// readingValue writes a value to seven significant digits: more than any sensor
// has, and not the noise of binary numbers.
func readingValue(v float64) string {
	s := strconv.FormatFloat(v, 'g', 7, 64)
	if f, err := strconv.ParseFloat(s, 64); err == nil {
		return strconv.FormatFloat(f, 'f', -1, 64)
	}
	return s
}

// zonedTime is the start of a run where it can order runs: with date and zone.
func zonedTime(start string) string {
	start = strings.ToUpper(start)
	if _, err := time.Parse(time.RFC3339, start); err != nil {
		return ""
	}
	return start
}
