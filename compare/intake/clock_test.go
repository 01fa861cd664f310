package intake

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"
)

func TestClock(t *testing.T) {
	for _, c := range []struct {
		cell  string
		comma bool
		want  float64
	}{
		{"6:52.3", false, 412.3}, {"6:52,3", true, 412.3}, {"1:02:03.5", false, 3723.5}, {"0:00", false, 0},
		{"06:52", false, 412}, {"90:00", false, 5400}, {"100:00:00", false, 360000}, {"0:00.001", false, 0.001},
	} {
		n, err := parseNumber(c.cell, c.comma)
		if err != nil || n.value != c.want || !n.clock {
			t.Errorf("parseNumber(%q, %v) = %+v, %v, want %v s", c.cell, c.comma, n, err, c.want)
		}
	}
	runCases(t, []readCase{
		{name: "unit empty", in: "benchmark,value\na,6:52.3\n", values: []string{"2:3 a=412.3 s"}},
		{name: "unit s", in: "benchmark,unit,value\na,s,1:02:03.5\n", values: []string{"2:5 a=3723.5 s"}},
		{name: "unit min", in: "benchmark,unit,value\na,min,6:52.3\n",
			err: `runs.csv:2:7: found a time in minutes and seconds, which comes out in seconds, but the unit here is "min"; write the unit s`},
		{name: "unit ms in a wide header", in: "a [ms]\n6:52.3\n",
			err: `runs.csv:2:1: found a time in minutes and seconds, which comes out in seconds, but the unit here is "ms"; write the unit s`},
		{name: "wide without unit", in: "begin\n14:05\n", values: []string{"2:1 begin=845 s"},
			notes: []string{`column "begin" holds times such as 14:05, read as durations in s; head it "begin [s]" if that is right, ` +
				`else delete it`}},
		{name: "unit h in JSON", in: `{"benchmark":"a","unit":"h","value":"6:52.3"}`,
			err: `runs.csv:1:37: found a time in minutes and seconds, which comes out in seconds, but the unit here is "h"; write the unit s`},
	})
}

// A time is the same number as the seconds it stands for, to the last bit.
func TestClockIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, m, s := rapid.IntRange(0, 99).Draw(t, "h"), rapid.IntRange(0, 59).Draw(t, "m"), rapid.IntRange(0, 59).Draw(t, "s")
		ms := rapid.IntRange(0, 999).Draw(t, "ms")
		clock, err := parseNumber(fmt.Sprintf("%d:%02d:%02d.%03d", h, m, s, ms), false)
		if err != nil {
			t.Fatal(err)
		}
		plain, err := parseNumber(fmt.Sprintf("%d.%03d", h*3600+m*60+s, ms), false)
		if err != nil || clock.value != plain.value {
			t.Fatalf("%v is not %v, %v", clock.value, plain.value, err)
		}
	})
}
