package report

import (
	"bytes"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/intake"
	"tunegate/compare/report/table"
)

// No text of a CSV begins as a formula does, or as a command to a log, and intake
// reads back what was written.
func TestCSVCellsAreGuarded(t *testing.T) {
	var rows []advice.SheetRow
	var want []string
	for _, name := range []string{"=1+1", "+1", "-rf", "@SUM(A1)", "::error::x", "'=1", "''-a", "'quoted'", "plain", "a=b"} {
		want = append(want, name)
		rows = append(rows, advice.SheetRow{Profile: name, Block: "1", Session: "1", Run: "1",
			Metric: compare.Metric{Benchmark: name, Metric: "score", Unit: "s"}})
	}
	var b bytes.Buffer
	if err := SheetCSV(&b, rows, table.Separation{}); err != nil {
		t.Fatal(err)
	}
	for _, line := range bytes.Split(b.Bytes(), []byte("\n")) {
		for _, cell := range bytes.Split(line, []byte(",")) {
			if len(cell) > 0 && bytes.ContainsAny(cell[:1], "=+-@:\t\r") {
				t.Errorf("%q begins as a formula does", cell)
			}
		}
	}
	var benchmarks, profiles []string
	_, err := intake.Read(&b, "sheet.csv", func(v compare.Value) error {
		benchmarks, profiles = append(benchmarks, v.Benchmark), append(profiles, v.Profile)
		return nil
	})
	if diff := cmp.Diff(want, benchmarks); err != nil || diff != "" || !cmp.Equal(want, profiles) {
		t.Errorf("%v %q (-want +got):\n%s", err, profiles, diff)
	}
}
