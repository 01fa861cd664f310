package report

import (
	"encoding/csv"
	"io"

	"tunegate/compare/advice"
)

// SheetCSV writes a run sheet as a long CSV with empty values, which compare
// reads once they are filled in.
func SheetCSV(w io.Writer, rows []advice.SheetRow) error {
	c := csv.NewWriter(w)
	header := []string{"block", "session", "profile", "benchmark", "metric", "unit", "better", "run", "value", "valid", "reason"}
	if err := c.Write(header); err != nil {
		return err
	}
	for _, r := range rows {
		m := r.Metric
		err := c.Write(guarded([]string{r.Block, r.Session, r.Profile, m.Benchmark, m.Metric, m.Unit, string(m.Better), r.Run, "", "", ""}))
		if err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}
