package report

import (
	"bytes"
	"math"
	"slices"
	"testing"

	"github.com/xuri/excelize/v2"

	"tunegate/compare"
	"tunegate/compare/advice"
)

// The workbook has the rows of the CSV, labels as texts and runs as numbers; a value on
// a ratio scale has to be above zero, a temperature need not.
func TestSheetBook(t *testing.T) {
	rows, err := advice.Sheet(advice.SheetPlan{Profiles: []string{"factory", "=lift"}, Blocks: 2, Spells: 1, Runs: 1, WarmUps: 1, Seed: 1,
		Metrics: []compare.Metric{{Benchmark: "tile-render", Metric: "score", Unit: "s"},
			{Benchmark: "tile-render", Metric: "temperature", Unit: "°C"}}})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := SheetBook(&b, rows); err != nil {
		t.Fatal(err)
	}
	x, err := excelize.OpenReader(&b)
	if err != nil {
		t.Fatal(err)
	}
	got, err := x.GetRows("Runs")
	if err != nil || len(got) != len(rows)+1 {
		t.Fatalf("%d rows, want %d (%v)", len(got), len(rows)+1, err)
	}
	at := func(name string) int { return slices.Index(got[0], name) }
	for i, r := range rows {
		line := got[i+1]
		if line[at("session")] != r.Session || line[at("profile")] != r.Profile || line[at("run")] != r.Run || line[at("unit")] != r.Metric.Unit {
			t.Errorf("row %d is %q, want %+v", i+1, line, r)
		}
	}
	for cell, text := range map[string]bool{"B2": true, "C2": true, "H4": false} { // session, profile, run 1
		kind, err := x.GetCellType("Runs", cell)
		if err != nil || (kind == excelize.CellTypeSharedString) != text {
			t.Errorf("%s is of type %v, text %v (%v)", cell, kind, text, err)
		}
	}
	rules, err := x.GetDataValidations("Runs")
	if err != nil || len(rules) != 4 || rules[0].Operator != "greaterThan" || rules[1].Operator != "between" {
		t.Errorf("rules %+v, %v", rules, err)
	}
}

// A value far from the pilot's is asked about: beyond what they spread by once more, or
// by a tenth where they hardly do. A value that was made cannot be changed.
func TestSheetBookAsksAboutUnusualValues(t *testing.T) {
	m := compare.Metric{Benchmark: "tile-render", Metric: "score", Unit: "s"}
	var rows []advice.SheetRow
	for _, v := range []float64{412, 408, 415} {
		rows = append(rows, advice.SheetRow{Session: "S1", Profile: "factory", Metric: m, Run: "1", Value: &v})
	}
	rows = append(rows, advice.SheetRow{Step: 1, Session: "S2", Profile: "factory", Metric: m, Run: "1"})
	inputs := valueInputs(rows, nil)
	if len(inputs) != 1 || !slices.Equal(inputs[0].Rows, []int{3}) || inputs[0].Usual == nil {
		t.Fatalf("%+v", inputs)
	}
	// (408 + 415)/20 = 41.15 is more than 415 - 408.
	if got := *inputs[0].Usual; math.Abs(got[0]-366.85) > 1e-9 || math.Abs(got[1]-456.15) > 1e-9 {
		t.Errorf("usual are %v", got)
	}
}
