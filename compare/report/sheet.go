package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"strings"

	"tunegate/compare"
	"tunegate/compare/advice"
)

// SheetCSV writes a run sheet as a long CSV with empty values, which compare
// reads once they are filled in.
func SheetCSV(w io.Writer, rows []advice.SheetRow) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"block", "session", "profile", "benchmark", "metric", "unit", "better", "run", "value", "valid", "reason"}); err != nil {
		return err
	}
	for _, r := range rows {
		m := r.Metric
		if err := c.Write([]string{r.Block, r.Session, r.Profile, m.Benchmark, m.Metric, m.Unit, string(m.Better), r.Run, "", "", ""}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// SheetMarkdown writes a run sheet to print: a heading a session, a line a run,
// a column a metric. minutes is how long all of it takes; 0 where it is not
// known.
func SheetMarkdown(w io.Writer, rows []advice.SheetRow, minutes float64) error {
	var b strings.Builder
	runs := 0
	if len(rows) > 0 {
		runs = rows[len(rows)-1].Step
	}
	fmt.Fprintf(&b, "# Run sheet\n\n%s", plural(runs, "run"))
	if minutes > 0 {
		fmt.Fprintf(&b, ", about %s hours", compare.Decimal(minutes/60, 1))
	}
	b.WriteString(". Work from top to bottom; apply the profile anew for every session. A warm-up is run and not written down. " +
		"A run that crashed, throttled or computed wrongly is crossed out with its reason, never left out in silence.\n\n")
	fmt.Fprintf(&b, "> %s\n", Caution)
	session := ""
	for i := 0; i < len(rows); {
		r := rows[i]
		if key := r.Block + "\x00" + r.Session; key != session {
			session = key
			fmt.Fprintf(&b, "\n## %s, session %s: %s\n\n| run | benchmark | | write down |\n|--:|---|---|---|\n", escape(r.Block), escape(r.Session), escape(r.Profile))
		}
		var cells []string
		j := i
		for ; j < len(rows) && rows[j].Step == r.Step; j++ {
			m := rows[j].Metric
			name := m.Metric
			if name == compare.DefaultMetric {
				name = ""
			}
			cells = append(cells, strings.TrimSpace(fmt.Sprintf("%s ________ %s", escape(name), escape(m.Unit))))
		}
		blank := strings.Join(cells, " , ")
		if r.Run == compare.WarmUp {
			blank = "not written down"
		}
		fmt.Fprintf(&b, "| %d | %s | %s | %s |\n", r.Step, escape(r.Metric.Benchmark), escape(r.Run), blank)
		i = j
	}
	_, err := io.WriteString(w, b.String())
	return err
}
