package report

import (
	"bytes"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/report/table"
)

// rerunsCSV is the table of a plan as CSV: by row, what stands under each name.
func rerunsCSV(t *testing.T, p RerunsPage) (rows []map[string]string) {
	t.Helper()
	var b bytes.Buffer
	if err := table.CSV(&b, RerunsTable(p), table.Separation{NoMark: true}); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(b.String()), "\n")
	head := strings.Split(lines[0], ",")
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, cell := range strings.Split(line, ",") {
			row[head[i]] = cell
		}
		rows = append(rows, row)
	}
	return rows
}

// A row says of a score what the plan does: what is settled has no chance, what is open
// has a row for each budget.
func TestRerunsTable(t *testing.T) {
	page := pilotPlan(t, "")
	settled := rerunsCSV(t, page)
	if len(settled) != 1 || settled[0]["open"] != "no" || settled[0]["chance"] != "" || settled[0]["needed"] == "" {
		t.Errorf("settled: %v", settled)
	}
	page = openPlan(t)
	page.Metrics[0].Measurement = page.Next.Open[0].Measurement
	more := *page.Next.Choices[0]
	more.Budget, more.Sessions, more.More = advice.Budget{Sessions: 9}, 9, map[string]int{}
	more.Chances = []float64{0}
	page.Next.Choices = append(page.Next.Choices, &more)
	rows := rerunsCSV(t, page)
	if len(rows) != 2 {
		t.Fatalf("%d rows, want one a budget", len(rows))
	}
	for name, want := range map[string][2]string{"benchmark": {"tile-render", "tile-render"}, "verdict": {"hint", "hint"},
		"open":         {"yes", "yes"},
		"budget_hours": {"6", ""}, "budget_count": {"", "9"}, "chance": {"21", "0"}, "more": {"3", "0"}, "runs_each": {"1", ""},
		"plan_hours": {"5.2", "5.2"}, "alone_more": {"40", "40"}, "alone_hours": {"31.4", "31.4"}, "before_count": {"6", "6"}} {
		if got := [2]string{rows[0][name], rows[1][name]}; got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	page.Profiles, page.Next = nil, nil
	if of := rerunsCSV(t, page)[0]; of["verdict"]+of["open"]+of["change"]+of["before_count"] != "" || of["spread"] == "" {
		t.Errorf("of a stated spread: %v", of)
	}
}

// The workbook of a plan begins with the sheet that is to be filled in.
func TestRerunsBook(t *testing.T) {
	page := openPlan(t)
	page.Sheet = []advice.SheetRow{{Session: "F7", Profile: "factory", Run: "1", Metric: compare.Metric{Benchmark: "tile-render",
		Metric: "score", Unit: "s"}}}
	var b bytes.Buffer
	if err := RerunsBook(&b, page); err != nil {
		t.Fatal(err)
	}
	x, err := excelize.OpenReader(&b)
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(x.GetSheetList(), ", "); got != "Runs, Summary, Figures, Columns" {
		t.Errorf("sheets are %s", got)
	}
	rows, err := x.GetRows("Summary")
	if err != nil {
		t.Fatal(err)
	}
	said := ""
	for _, row := range rows {
		said += strings.Join(row, " | ") + "\n"
	}
	checkContains(t, said, "What to run next, for factory → boost-lift", "21 %", "31 h")
}
