package intake

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// Inputs of a MiB at most that are hard to read: how long each takes is logged, and grows
// with the size, not with its square. The number of values and the error show that a case
// got as far as it means to.
func TestHardInputs(t *testing.T) {
	comparetest.FullTier(t, "large inputs")
	const columns = 16000
	var head, words, keys strings.Builder
	head.WriteString("é [s]")
	for i := range columns - 1 {
		fmt.Fprintf(&head, ",m%x [s]", i)
	}
	words.WriteString("w")
	for i := range 900 {
		fmt.Fprintf(&words, ",%s%d", strings.Repeat("w ", 450), i)
	}
	for i := range 20000 {
		fmt.Fprintf(&keys, `,"k%d":1`, i)
	}
	row := strings.Repeat(",1"+strings.Repeat(" ", 60), columns)[1:] + "\n"
	for _, c := range []struct {
		name, in string
		values   int
		err      string // how it begins
	}{
		{"many columns", head.String() + "\n" + row, columns, ""},
		{"many words in a header", words.String() + "\n" + strings.Repeat("1,", 900) + "1\n", 901, ""},
		{"many unknown keys", `{"benchmark":"é","value":1` + keys.String() + "}\n", 1, ""},
		{"deep unknown value", `{"benchmark":"é","value":1,"x":` + strings.Repeat("[", 9000) + strings.Repeat("]", 9000) + "}\n", 1, ""},
		{"many blank lines", "benchmark,value\n" + strings.Repeat("\n", maxLine/8) + "a,1\n", 1, ""},
		{"column that stays empty", "a,b\n" + strings.Repeat(",1\n", 60000), 60000, ""},
		{"column empty for long", "a,b\n" + strings.Repeat(",1\n", 60000) + "1,1\n", 120002, ""},
		{"long number", "benchmark,value\na," + strings.Repeat("1", maxLine/8) + "\n", 0, `f:2:3: found "1111`},
		{"many groups of digits", "benchmark;value\na;1" + strings.Repeat(".234", maxLine/32) + "x\n", 0, `f:2:3: found "1.234`},
	} {
		n := 0
		start := time.Now()
		_, err := Read(strings.NewReader(c.in), "f", func(compare.Value) error { n++; return nil })
		t.Logf("%-24s %8d bytes %8d values %10v", c.name, len(c.in), n, time.Since(start).Round(time.Microsecond))
		if n != c.values || (err == nil) != (c.err == "") || err != nil && !strings.HasPrefix(err.Error(), c.err) {
			t.Errorf("%s: %d values, want %d; error %.200v", c.name, n, c.values, err)
		}
	}
	values, err := ParseNumbers(strings.Repeat("412,3;", 50000), "--before")
	if err != nil || len(values) != 50000 {
		t.Errorf("%d typed numbers, %v", len(values), err)
	}
}
