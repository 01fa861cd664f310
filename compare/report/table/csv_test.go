package table

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"tunegate/compare/report/doc"
)

func csvOf(t *testing.T, rows [][]Cell, as Separation) string {
	t.Helper()
	var b bytes.Buffer
	table := Table{Name: "t", Columns: make([]Column, len(rows[0])), Rows: rows}
	for i := range table.Columns {
		table.Columns[i].Name = string(rune('a' + i))
	}
	if err := CSV(&b, table, as); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestCSV(t *testing.T) {
	rows := [][]Cell{{Num(0.01452459409, Format{Places: 2, Percent: true}), Text("a, b; c"), Toned("uplift", doc.BigGain)},
		{Num(-1234.5, General), Flag(true), Int(3)}, {Num(math.NaN(), General), Opt(nil, General), Num(math.Inf(1), General)}}
	for _, c := range []struct {
		as   Separation
		want string
	}{
		{Separation{}, "\uFEFFa,b,c\n1.452459409,\"a, b; c\",uplift\n-1234.5,yes,3\n,,\n"},
		{Separation{NoMark: true}, "a,b,c\n1.452459409,\"a, b; c\",uplift\n-1234.5,yes,3\n,,\n"},
		{Separation{Comma: ';', NoMark: true}, "a;b;c\n1,452459409;\"a, b; c\";uplift\n-1234,5;yes;3\n;;\n"},
		{Separation{Comma: '\t', NoMark: true}, "a\tb\tc\n1.452459409\ta, b; c\tuplift\n-1234.5\tyes\t3\n\t\t\n"},
	} {
		if got := csvOf(t, rows, c.as); got != c.want {
			t.Errorf("%+v: %q, want %q", c.as, got, c.want)
		}
	}
}

// Numbers are written to ten digits, in a form that every spreadsheet reads.
func TestNumbersOfCSV(t *testing.T) {
	for v, want := range map[float64]string{
		0: "0", 0.1 + 0.2: "0.3", 1.0 / 3: "0.3333333333", 123456.789: "123456.789", 2e-9: "0.000000002", 1.5e-12: "1.5e-12", 4e18: "4e+18",
		-0.5: "-0.5", math.Copysign(0, -1): "0",
	} {
		if got := (Separation{}).cell(Num(v, General)); got != want {
			t.Errorf("%v is written %q, want %q", v, got, want)
		}
	}
}

// A text that a spreadsheet would run is guarded; a negative number is none.
func TestGuard(t *testing.T) {
	for text, want := range map[string]string{
		"=1+1": "'=1+1", "+1": "'+1", "-rf": "'-rf", "@SUM(A1)": "'@SUM(A1)", "::error::x": "'::error::x", "'=1": "''=1", "''-a": "'''-a",
		"'quoted'": "'quoted'", "plain": "plain", "a=b": "a=b", "": "", "'": "'",
	} {
		if got := Guard(text); got != want {
			t.Errorf("%q becomes %q, want %q", text, got, want)
		}
	}
	got := csvOf(t, [][]Cell{{Text("=HYPERLINK(1)"), Num(-2, General)}}, Separation{NoMark: true})
	if !strings.HasSuffix(got, "\n'=HYPERLINK(1),-2\n") {
		t.Errorf("%q", got)
	}
}

// A row of another length than the head would stand under the wrong names.
func TestCSVRefusesRowsOfAnotherLength(t *testing.T) {
	err := CSV(&bytes.Buffer{}, Table{Name: "t", Columns: []Column{{Name: "a"}}, Rows: [][]Cell{{Int(1), Int(2)}}}, Separation{})
	if err == nil || !strings.Contains(err.Error(), "row 1 of table t has 2 cells, expected 1") {
		t.Errorf("%v", err)
	}
}
