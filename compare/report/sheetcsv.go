package report

import (
	"encoding/csv"
	"io"
	"strconv"

	"tunegate/compare/advice"
)

// SheetCSV writes a run sheet as a long CSV with empty values, which compare
// reads once they are filled in.
func SheetCSV(w io.Writer, rows []advice.SheetRow) error {
	c := csv.NewWriter(w)
	header := []string{"block", "session", "profile", "benchmark", "metric", "unit", "better", "run", "value", "valid", "reason"}
	looks := len(rows) > 0 && rows[0].Look > 0
	if looks {
		header = append(header, "look")
	}
	if err := c.Write(header); err != nil {
		return err
	}
	for _, r := range rows {
		m := r.Metric
		row := []string{r.Block, r.Session, r.Profile, m.Benchmark, m.Metric, m.Unit, string(m.Better), r.Run, "", "", ""}
		if looks {
			row = append(row, strconv.Itoa(r.Look))
		}
		if err := c.Write(guarded(row)); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}
