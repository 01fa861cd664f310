package intake

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestWideCSV(t *testing.T) {
	mixed := func(place, found, column, number, line string) string {
		return "runs.csv:" + place + ": found " + found + " in column " + column + ", which holds numbers too (" + number + " in line " + line +
			"); leave the cell empty where there is no result, or keep words and numbers in separate columns"
	}
	runCases(t, []readCase{
		{name: "score, power and direction", in: "tile-render [s],tile-render power [W],\"latency [ns, lower]\",points " +
			"[higher]\n412.3,240,81,7\n",
			values: []string{"2:1 tile-render=412.3 s", "2:7 tile-render/power=240 W", "2:11 latency=81 ns better=lower",
				"2:14 points=7 better=higher"}},
		{name: "reserved headers", in: "Run,session,block,profile,time,valid,reason,a [s]\n7,evening,b1,factory,2026-03-01T14:05:00Z,no,fan,5\n",
			values: []string{`2:50 a=5 s profile=factory session=evening block=b1 run=7 time=2026-03-01T14:05:00Z aside="fan"`}},
		{name: "empty cells keep the count", in: "a [s],a power [W]\n1,2\n,3\n4,\n",
			values: []string{"2:1 a=1 s", "2:3 a/power=2 W", "3:1 a=? s", "3:2 a/power=3 W", "4:1 a=4 s", "4:3 a/power=? W"}},
		{name: "empty cells before the first number", in: "a,b,session\n,1,x\n,2,y\n5,3,z\n6,4,z\n",
			values: []string{"2:2 b=1 session=x", "3:2 b=2 session=y", "2:0 a=? session=x", "3:0 a=? session=y", "4:1 a=5 session=z",
				"4:3 b=3 session=z", "5:1 a=6 session=z", "5:3 b=4 session=z"}},
		{name: "set aside before the first number", in: "a,b,valid,reason\n,1,no,crash\n5,3,,\n",
			values: []string{`2:2 b=1 aside="crash"`, `2:0 a=? aside="crash"`, "3:1 a=5", "3:3 b=3"}},
		{name: "no number at all under a unit", in: "a [s],b\n,1\n", values: []string{"2:1 a=? s", "2:2 b=1"}},
		{name: "no number at all, no unit", in: "a,b\n,1\n", values: []string{"2:2 b=1"}, notes: []string{`column "a" skipped: it is empty`}},
		{name: "text", in: "notes,a\n,1\nwarm room,2\n,3\n", values: []string{"2:2 a=1", "3:11 a=2", "4:2 a=3"},
			notes: []string{`column "notes" skipped: it holds remarks`}},
		{name: "text with a line break", in: "notes,a\n\"x\ny\",1\n", values: []string{"3:4 a=1"},
			notes: []string{`column "notes" skipped: it holds remarks`}},
		{name: "first number, then text", in: "a,b\n1,1\nslower,2\n", values: []string{"2:1 a=1", "2:3 b=1", "3:8 b=2"},
			err: `runs.csv:3:1: found "slower", expected a number; ` + acceptedNumbers + "; " + leaveEmpty},
		{name: "first text, then number", in: "a,b\nlow,1\n,2\n5,3\n", values: []string{"2:5 b=1", "3:2 b=2", "4:3 b=3"},
			err: mixed("2:1", `"low"`, `"a"`, `"5"`, "4")},
		{name: "no result at the head of a column", in: "a,b\nn/a,1\ncrash,2\n5,3\n",
			values: []string{"2:5 b=1", "3:7 b=2", "2:0 a=?", `3:0 a=? aside="crash"`, "4:1 a=5", "4:3 b=3"}},
		{name: "benchmarks down, metrics across", in: "scene,time [s],power [W]\na,1,2\nb,3,4\n",
			values: []string{"2:3 a/time=1 s", "2:5 a/power=2 W", "3:3 b/time=3 s", "3:5 b/power=4 W"},
			notes:  []string{`the header is in line 1: one row a run; "scene" is benchmark`}},
		{name: "benchmarks down, profiles across", in: "scene,factory,boost\na,1,2\n",
			err: `runs.csv:1:1: found the columns "factory", "boost", which say neither a run nor a unit; where they are profiles, write value ` +
				`below each of them, in a row of its own; where they are what was measured, write the unit behind each, as in "time [s]"`},
		{name: "a row of means without a label", in: "run,a [s],b [s]\n1,1,5\n2,2,7\n,1.5,6\n",
			values: []string{"2:3 a=1 s run=1", "2:5 b=5 s run=1", "3:3 a=2 s run=2", "3:5 b=7 s run=2"},
			err: `runs.csv:4:1: found a row without "run", which is the mean of the rows above; delete it, or write mean or sum there, or the ` +
				`number of the run`},
		{name: "runs that were spoilt", in: "run,a [s],throttled\n1,1,no\n2,2,yes\n", values: []string{"2:3 a=1 s run=1",
			`3:3 a=2 s run=2 aside="throttled = yes"`}, notes: []string{`column "throttled": runs where it says yes are set aside`}},
		{name: "first text, then a number with a unit", in: "a,b\nlow,1\n5 s,3\n", values: []string{"2:5 b=1", "3:5 b=3"},
			err: mixed("2:1", `"low"`, `"a"`, `"5 s"`, "3")},
		{name: "text under a unit", in: "a [s]\nlow\n",
			err: `runs.csv:2:1: found "low", expected a number; ` + acceptedNumbers + "; " + leaveEmpty},
		{name: "units in cells", in: "a,a power\n412 s,95W\n", values: []string{"2:1 a=412 s", "2:7 a/power=95 W"}},
		{name: "no unit in a cell", in: "a\n412 runs\n",
			err: `runs.csv:2:1: found "412 runs", expected a number alone; put the unit into the column "unit", or into the header as [s]`},
		{name: "line break in a number", in: "a,b\n\"1\n\",2\n", values: []string{"3:3 b=2"},
			err: `runs.csv:2:1: found a line break inside "1\n", expected one only in a reason; write it on one line`},
		{name: "row of averages", in: "run,a [s]\n1,5\nAverage,5\n2,6\nMean,5\n", values: []string{"2:3 a=5 s run=1", "4:3 a=6 s run=2"},
			notes: []string{`row "Average" skipped: it is the mean of the rows above, no run`,
				`row "Mean" skipped: it is the mean of the rows above, no run`}},
		{name: "column of averages", in: "a [s],Average [s]\n5,5\n", values: []string{"2:1 a=5 s"},
			notes: []string{`column "Average [s]" skipped: it is drawn from the runs`}},
		{name: "best is a name here", in: "best [s]\n5\n", values: []string{"2:1 best=5 s"}},

		{name: "mistyped session", in: "a,sessoin\n1,1\n", values: []string{"2:1 a=1"},
			err: `runs.csv:1:3: column "sessoin" is unknown and close to "session"; write "session" if that is meant, else rename it to ` +
				`something less alike`},
		{name: "mistyped reason", in: "reasn,a\nfan,1\n", values: []string{"2:5 a=1"},
			err: `runs.csv:1:1: column "reasn" is unknown and close to "reason"; write "reason" if that is meant, else rename it to ` +
				`something less alike`},
		{name: "numbers are no time", in: "tile\n5\n", values: []string{"2:1 tile=5"}},
		{name: "a unit makes it a metric", in: "clock [MHz]\n4700\n", values: []string{"2:1 clock=4700 MHz"}},

		{name: "same metric twice", in: "a [s],a [ms]\n1,2\n",
			err: `runs.csv:1:7: column 2 "a [ms]" and column 1 "a [s]" are the same metric; rename or delete one of the two`},
		{name: "same metric twice, one forced", in: "a [s],a power [W],a: power [W]\n1,2,3\n",
			err: `runs.csv:1:19: column 3 "a: power [W]" and column 2 "a power [W]" are the same metric; rename or delete one of the two`},
		{name: "reserved twice", in: "session,a,Session\n1,2,3\n",
			err: `runs.csv:1:11: column 3 "Session" is named like column 1 "session"; rename or delete one of the two`},
		{name: "unit alone", in: "a,[s]\n1,2\n", err: `runs.csv:1:3: found the header "[s]" without a name, expected one such as ` +
			`"tile-render [s]"`},
		{name: "number as header", in: "a,5\n1,2\n",
			err: `runs.csv:1:3: found the number "5" in the header line, expected ` + wantHeader + "; put one above"},
		{name: "nothing behind the colon", in: "a,b: [s]\n1,2\n",
			err: `runs.csv:1:3: found the header "b:", expected a benchmark before the colon and a metric behind it, as in ` +
				`"tile-render: power [W]"`},
		{name: "direction unclear", in: "\"a [s, faster]\"\n1\n",
			err: `runs.csv:1:1: in the header "a [s, faster]": found "faster", expected higher or lower, or nothing; write it as in "latency ` +
				`[ns, lower]"`},
		{name: "header cut at its comma", in: "latency [ns, lower],a [s]\n1,2\n",
			err: `runs.csv:1:1: found [ without ] in the header "latency [ns"; write the unit as in "tile-render [s]", and put a header with ` +
				`a comma in quotes, as in "latency [ns, lower]" (and 2 more faults)`},
		{name: "header cut at its comma, second half first", in: "lower],a [s]\n1,2\n",
			err: `runs.csv:1:1: found ] without [ in the header "lower]"; write the unit as in "tile-render [s]", and put a header with a ` +
				`comma in quotes, as in "latency [ns, lower]"`},
		{name: "unit in the middle", in: "a [s] power\n1\n",
			err: `runs.csv:1:1: found the header "a [s] power", expected one unit in brackets at its end, as in "tile-render power [W]"`},
		{name: "semicolons need no quotes", in: "latency [ns, lower];a [s]\n1,5;2\n",
			values: []string{"2:1 latency=1.5 ns better=lower", "2:5 a=2 s"}},
	})
}

func TestMetricOf(t *testing.T) {
	for _, c := range []struct{ headers, want string }{
		{"tile-render|tile-render power", "tile-render, / tile-render,power"},
		{"tile-render power|tile-render", "tile-render,power / tile-render,"},
		// A whole word, not any prefix.
		{"tile|tile-render|tiles power", "tile, / tile-render, / tiles power,"},
		// The longest.
		{"mesh|mesh solve|mesh solve power", "mesh, / mesh,solve / mesh solve,power"},
		{"mesh|mesh: solve power|mesh solve", "mesh, / mesh,solve power / mesh,solve"},
		// The colon forces the split, and names the benchmark for others.
		{"tile-render: score|tile-render power", "tile-render,score / tile-render,power"},
		{"ratio 1:1 copy", "ratio 1:1 copy,"},
		{"tile-render   power|tile-render", "tile-render,power / tile-render,"},
	} {
		headers := strings.Split(c.headers, "|")
		names := map[string]bool{}
		for _, h := range headers {
			if b, _, forced := forcedSplit(h); forced {
				names[b] = true
			} else {
				names[h] = true
			}
		}
		var got []string
		for _, h := range headers {
			b, m, err := metricOf(h, names)
			if err != nil {
				t.Errorf("%q: %v", h, err)
			}
			got = append(got, b+","+m)
		}
		if diff := cmp.Diff(c.want, strings.Join(got, " / ")); diff != "" {
			t.Errorf("%q (-want +got):\n%s", c.headers, diff)
		}
	}
}

func TestDoubtfulSplitIsSaid(t *testing.T) {
	runCases(t, []readCase{{name: "three levels", in: "a [s],a b [W],a b c [W]\n1,2,3\n",
		values: []string{"2:1 a=1 s", "2:3 a/b=2 W", "2:5 a b/c=3 W"},
		notes:  []string{`column "a b c [W]" is read as metric "c" of benchmark "a b"; write "a: b c" if that is meant`}}})
}
