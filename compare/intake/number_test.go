package intake

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestNumbersAccepted(t *testing.T) {
	for _, c := range []struct {
		cell  string
		comma bool
		want  float64
	}{
		{"412.3", false, 412.3}, {"412.3", true, 412.3}, {"412,3", true, 412.3},
		{"0", false, 0}, {"-5", false, -5}, {"+5", false, 5}, {".5", false, 0.5}, {"5.", false, 5}, {",5", true, 0.5},
		{"1e3", false, 1000}, {"1.5E-3", false, 0.0015}, {"1,5e+2", true, 150}, {"007", false, 7},
		{"0e999", false, 0}, {"1234567890", false, 1234567890}, {"1.234", true, 1.234}, {"1,234", true, 1.234},
	} {
		n, err := parseNumber(c.cell, c.comma)
		if err != nil || n.value != c.want || n.clock {
			t.Errorf("parseNumber(%q, %v) = %+v, %v, want %v", c.cell, c.comma, n, err, c.want)
		}
	}
}

func TestNumbersRefused(t *testing.T) {
	const (
		group  = "found %q, which has a thousands separator or reads as if it had; write it without one; " + acceptedNumbers
		unit   = `found %q, expected a number alone; put the unit into the column "unit", or into the header as [s]`
		plain  = "found %q, expected a plain decimal number; " + acceptedNumbers
		none   = "found %q, expected a number; " + leaveEmpty
		text   = "found %q, expected a number; " + acceptedNumbers + "; " + leaveEmpty
		marks  = "found %q, expected one number with at most one decimal mark; " + acceptedNumbers
		comma  = "found %q, a decimal comma; it is accepted only where ; or tab separates the columns; write a decimal point"
		large  = "found %q, which is too large for a number here; use a larger unit"
		small  = "found %q, which is too small for a number here; use a smaller unit"
		dash   = "found %q with a long minus sign; write a plain -"
		sixty  = "found the time %q, expected minutes and seconds below 60 behind a colon; write it as 6:52.3 or 1:02:03.5"
		two    = "found the time %q, expected two digits between and behind the colons; write it as 6:52.3 or 1:02:03.5"
		parts  = "found the time %q, expected at most hours, minutes and seconds; write it as 6:52.3 or 1:02:03.5"
		behind = "found the time %q, expected digits behind one decimal mark; write it as 6:52.3 or 1:02:03.5"
		cc     = "found the time %q, but a decimal comma is accepted only where ; or tab separates the columns; write it as 6:52.3 or 1:02:03.5"
	)
	for _, c := range []struct {
		cell  string
		comma bool
		want  string
	}{
		{"1,234.5", false, group}, {"1,234.5", true, group}, {"1.234,5", true, group}, {"1.234,5", false, group},
		{"1,234", false, group}, {"1 234", false, group}, {"1'234", true, group}, {"1’234", true, group},
		{"1\u00a0234", true, group}, {"1\u202f234,5", true, group}, {"1.234.567", true, group}, {"1,234,567", false, group},
		{"-1,234,567.25", false, group},
		{"1,23,456", true, marks}, {"1.2.3", false, marks},
		{"412,3", false, comma}, {"412,", false, comma}, {"1,5e3", false, comma},
		{"NaN", false, none}, {"nan", true, none}, {"inf", false, none}, {"-Inf", false, none}, {"+Infinity", false, none},
		{"0x1F", false, plain}, {"-0xFp2", false, plain}, {"1_000", false, plain}, {"1_000.5", false, plain},
		{"412.3 s", false, unit}, {"240W", false, unit}, {"5 %", false, unit}, {"5%", true, unit}, {"41,5 °C", true, unit},
		{"7\u00a0ms", false, unit}, {"980 MB/s", false, unit}, {"6:52 min", false, unit}, {"12e", false, unit},
		{"1e999", false, large}, {"-1e400", false, large}, {"1e-999", false, small}, {"0.5e-400", false, small}, {"-2e100", false, large},
		{"1e-101", false, small},
		{"\u22125", false, dash}, {"–5,5", true, dash},
		{"fast", false, text}, {"-", false, text}, {"n/a", false, text}, {"#DIV/0!", false, text}, {"e5", false, text}, {"+-5", false, text},
		{"--", false, text}, {".", false, text}, {"2026-03-01", false, text}, {"5 runs failed", false, text}, {"１２", false, text},
		{"a:b", false, text}, {"=1+2", false, text},
		{"6:62.3", false, sixty}, {"1:75:03", false, sixty}, {"6:5.3", false, two}, {"6:", false, two}, {":30", false, two},
		{"6:523", false, two}, {"1234567:00", false, two}, {"1:02:03:04", false, parts},
		{"6:52.", false, behind}, {"6:52.3.1", false, behind}, {"6.5:30", false, behind}, {"6:52,3", false, cc},
	} {
		n, err := parseNumber(c.cell, c.comma)
		if err == nil {
			t.Errorf("parseNumber(%q, %v) = %+v, want an error", c.cell, c.comma, n)
			continue
		}
		if want := fmt.Sprintf(c.want, c.cell); err.Error() != want {
			t.Errorf("parseNumber(%q, %v):\n%s\nwant\n%s", c.cell, c.comma, err, want)
		}
	}
}

func TestLongCellsAreCut(t *testing.T) {
	_, err := parseNumber(strings.Repeat("é", 100), false)
	if want := `found "` + strings.Repeat("é", 40) + `"..., expected a number`; err == nil || !strings.HasPrefix(err.Error(), want) {
		t.Errorf("%v, want it to begin with %s", err, want)
	}
}

func TestDecimalMarks(t *testing.T) {
	runCases(t, []readCase{
		{name: "semicolon and comma", in: "benchmark;value\na;412,3\na;409\n", values: []string{"2:3 a=412.3", "3:3 a=409"}},
		{name: "tab and comma", in: "benchmark\tvalue\na\t412,3\n", values: []string{"2:3 a=412.3"}},
		{name: "tab and point", in: "benchmark\tvalue\na\t412.3\n", values: []string{"2:3 a=412.3"}},
		{name: "both", in: "benchmark;value\na;412\na;1,5\na;2.5\n", values: []string{"2:3 a=412", "3:3 a=1.5"},
			err: `runs.csv:4:3: found "2.5", but "1,5" at runs.csv:3:3 has the other decimal mark, so one of the two may be a thousands ` +
				`separator; write all numbers of a file with the same mark and without thousands separators`},
		{name: "both, one in a time", in: "benchmark;Run 1;Run 2\na;6:52.3;1,5\n", values: []string{"2:3 a=412.3 s"},
			err: `runs.csv:2:10: found "1,5", but "6:52.3" at runs.csv:2:3 has the other decimal mark, so one of the two may be a thousands ` +
				`separator; write all numbers of a file with the same mark and without thousands separators`},
		{name: "a column that is skipped has no say", in: "benchmark;Run 1;StDev\na;1,5;2.5\n", values: []string{"2:3 a=1.5"},
			notes: []string{`column "StDev" skipped: it is drawn from the runs`}},
		{name: "quoted comma in a comma file", in: "benchmark,value\na,\"1,234\"\n",
			err: `runs.csv:2:3: found "1,234", which is 1234 if the comma stands between thousands, and 1.234 if it is the decimal mark: ` +
				`nothing before it in the file says which; write it without a mark between thousands, and with the decimal mark of the file`},
	})
}

// What is read without strconv is, to the bit, what strconv reads.
func TestPlainDecimalIsStrconvs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringMatching(`[0-9]{0,9}(\.[0-9]{0,9})?`).Draw(t, "cell")
		want, err := strconv.ParseFloat(cell, 64)
		got, decimals, ok := plainDecimal(cell, '.')
		if short := len(strings.Replace(cell, ".", "", 1)) < 16; ok != (err == nil && short) || ok && got != want {
			t.Fatalf("%q: %v, %v; want %v, %v", cell, got, ok, want, err)
		}
		if at := strings.IndexByte(cell, '.'); ok && at >= 0 && decimals != len(cell)-1-at || ok && at < 0 && decimals != -1 {
			t.Errorf("%q: %d decimals", cell, decimals)
		}
		comma := strings.Replace(cell, ".", ",", 1)
		if again, _, same := plainDecimal(comma, ','); same != ok || again != got {
			t.Errorf("%q: %v, %v", comma, again, same)
		}
	})
}
