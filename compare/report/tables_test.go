package report

import (
	"bytes"
	"encoding/json"
	"os"
	"slices"
	"testing"

	"tunegate/compare/report/table"
)

// columnsOfCSV are the columns of each command's CSV.
var columnsOfCSV = []struct {
	Command string         `json:"command"`
	Columns []table.Column `json:"columns"`
}{
	{"compare", resultColumns},
	{"ladder", slices.Concat(stepColumns, resultColumns)},
	{"gate", slices.Concat(judgedColumns, resultColumns)},
	{"history", historyColumns},
	{"claims", claimColumns},
	{"doubts", doubtsColumns},
	{"reruns", rerunsColumns},
}

// The schema of columns is what the tables have, in their order.
func TestColumnsAreThoseOfTheSchema(t *testing.T) {
	want, err := json.MarshalIndent(map[string]any{"format": "tunegate-columns-1", "tables": columnsOfCSV}, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	want = append(want, '\n')
	const file = "schema/columns.json"
	if *update {
		if err := os.WriteFile(file, want, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(file)
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("%s does not list the columns (%v); go test ./compare/report -run Columns -update writes it", file, err)
	}
	for _, c := range columnsOfCSV {
		seen := map[string]bool{}
		for _, column := range c.Columns {
			if seen[column.Name] || column.Meaning == "" || column.Kind == "" {
				t.Errorf("%s: column %q stands twice, or says nothing", c.Command, column.Name)
			}
			seen[column.Name] = true
		}
	}
}
