package report

import (
	"fmt"
	"strings"
	"testing"

	"tunegate/compare"
	"tunegate/compare/advice"
)

// A long sheet is printed whole: every run that is to be written down has room for
// each of its values.
func TestSheetMarkdownIsWhole(t *testing.T) {
	plan := advice.SheetPlan{Profiles: []string{"factory", "boost-lift"}, Blocks: 60, Spells: 2, Runs: 3, WarmUps: 1}
	for i := range 12 {
		for _, unit := range []string{"s", "W"} {
			name := map[string]string{"s": compare.DefaultMetric, "W": "power"}[unit]
			plan.Metrics = append(plan.Metrics, compare.Metric{Benchmark: fmt.Sprintf("scene-%02d", i), Metric: name, Unit: unit})
		}
	}
	rows, err := advice.Sheet(plan)
	if err != nil {
		t.Fatal(err)
	}
	page := markdownOf(t, SheetDocument(rows, 120))
	const sessions = 60 * 2 * 2
	for part, want := range map[string]int{
		"\n### block ": sessions,
		"| ............ s, power ............ W |\n": sessions * 12 * 3,
		"| warm-up | not written down |\n":           sessions * 12,
		"Caution: ":                                  1,
	} {
		if n := strings.Count(page, part); n != want {
			t.Errorf("%q is there %d times, want %d", part, n, want)
		}
	}
	if !strings.HasPrefix(page, "## Run sheet\n\n8640 runs and 2880 warm-ups, about 2.0 hours. Work from top") ||
		strings.Index(page, "Caution: ") > strings.Index(page, "### ") {
		t.Errorf("begins with %q", page[:500])
	}
}
