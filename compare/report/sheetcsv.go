package report

import (
	"io"
	"strconv"

	"tunegate/compare/advice"
	"tunegate/compare/report/table"
)

// SheetCSV writes a run sheet as a long CSV with empty values, which compare
// reads once they are filled in.
func SheetCSV(w io.Writer, rows []advice.SheetRow, as table.Separation) error {
	out := table.NewWriter(w, as)
	header := []string{"block", "session", "profile", "benchmark", "metric", "unit", "better", "run", "value", "valid", "reason"}
	looks := len(rows) > 0 && rows[0].Look > 0
	if looks {
		header = append(header, "look")
	}
	out.Texts(header...)
	for _, r := range rows {
		m := r.Metric
		row := []string{r.Block, r.Session, r.Profile, m.Benchmark, m.Metric, m.Unit, string(m.Better), r.Run, "", "", ""}
		if looks {
			row = append(row, strconv.Itoa(r.Look))
		}
		out.Texts(row...)
	}
	return out.Close()
}
