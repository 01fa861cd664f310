package table

import (
	"bytes"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// A form is locked but for its inputs, says of each what belongs there, and has its head
// on every page.
func TestFormWorkbook(t *testing.T) {
	f := Form{Table: Table{Name: "Runs", Columns: []Column{{Name: "run", Kind: Number}, {Name: "value", Kind: Number}, {Name: "reason", Kind: Words}},
		Rows: [][]Cell{{Int(1), {}, {}}, {Int(2), {}, {}}, {Int(3), {}, {}}, {Int(4), Num(5, General), {}}}},
		Inputs: []Input{
			{Column: "value", Rows: []int{0, 2, 3}, Title: "tile-render", Help: "in s", Number: true, Above: new(float64)},
			{Column: "value", Rows: []int{1}, Number: true, Usual: &[2]float64{400, 420.5}},
			{Column: "reason", Choices: []string{"crashed", "throttled"}, Free: true},
		}}
	var b, again bytes.Buffer
	if err := FormWorkbook(&b, f, nil); err != nil {
		t.Fatal(err)
	}
	if err := FormWorkbook(&again, f, nil); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("other bytes, %v", err)
	}
	x, err := excelize.OpenReader(&b)
	if err != nil {
		t.Fatal(err)
	}
	rules, err := x.GetDataValidations("Runs")
	if err != nil {
		t.Fatal(err)
	}
	var got [][]string
	for _, v := range rules {
		style := "none"
		if v.ErrorStyle != nil && v.ShowErrorMessage {
			style = *v.ErrorStyle
		}
		got = append(got, []string{v.Sqref, v.Type, v.Operator, v.Formula1, v.Formula2, style})
	}
	if diff := cmp.Diff([][]string{
		{"B2:B2 B4:B5", "decimal", "greaterThan", "0", "0", "stop"},
		{"B3:B3", "decimal", "between", "400", "420.5", "warning"},
		{"C2:C5", "list", "", `"crashed,throttled"`, "", "none"},
	}, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	for cell, locked := range map[string]bool{"A2": true, "B2": false, "C5": false} {
		id, err := x.GetCellStyle("Runs", cell)
		if err != nil {
			t.Fatal(err)
		}
		s, err := x.GetStyle(id)
		if open := s.Protection != nil && !s.Protection.Locked; err != nil || open == locked {
			t.Errorf("%s is locked: %v, want %v (%v)", cell, !open, locked, err)
		}
	}
	protection, err := x.GetSheetProtection("Runs")
	if err != nil || !protection.SelectUnlockedCells || protection.Password != "" {
		t.Errorf("protection %+v, %v", protection, err)
	}
	if names := x.GetDefinedName(); len(names) != 1 || names[0].RefersTo != "'Runs'!$1:$1" {
		t.Errorf("printed on every page: %+v", names)
	}
	if rows, err := x.GetRows("Runs"); err != nil || len(rows) != 5 || rows[4][1] != "5" {
		t.Errorf("rows %q, %v", rows, err)
	}
}
