package intake

import (
	"bufio"
	"strings"
	"testing"

	"tunegate/compare"
)

func TestLongCSV(t *testing.T) {
	runCases(t, []readCase{
		{name: "least", in: "benchmark,value\ntile-render,412.3\ntile-render,409\n",
			values: []string{"2:13 tile-render=412.3", "3:13 tile-render=409"}},
		{name: "every column, any order, any case",
			in: "Value,RUN,block,Session,profile,better,unit,metric,Benchmark,reason,valid,time\n" +
				"7,2,monday,evening,cool-curve,Lower,degC,heat,tile-render,fan stuck,No,2026-03-01T14:05:00+01:00\n",
			values: []string{`2:1 tile-render/heat=7 °C better=lower profile=cool-curve session=evening block=monday run=2 ` +
				`time=2026-03-01T14:05:00+01:00 aside="fan stuck"`}},
		{name: "outer white space", in: " benchmark , value \n  tile-render  ,  1.5  \n", values: []string{"2:19 tile-render=1.5"}},
		{name: "blank before a quote", in: "benchmark, value\n\"a, b\", \"1.5\"\n", values: []string{"2:9 a, b=1.5"}},
		{name: "control characters in a name are kept", in: "benchmark,value\na\x1b[31mb,1\n", values: []string{"2:9 a\x1b[31mb=1"}},
		{name: "empty value", in: "benchmark,value\na,\na, \n", values: []string{"2:3 a=?", "3:4 a=?"}},
		{name: "zero and negative pass", in: "benchmark,value\na,0\na,-4\na,-0.0\n", values: []string{"2:3 a=0", "3:3 a=-4", "4:3 a=-0"}},
		{name: "blank rows", in: "benchmark,value\n\na,1\n , \n,,,,\na,2\n\n", values: []string{"3:3 a=1", "6:3 a=2"}},
		{name: "title rows that are blank", in: ";;\nbenchmark;value;\na;1;\n", values: []string{"3:3 a=1"}},
		{name: "no line end at the end", in: "benchmark,value\na,1", values: []string{"2:3 a=1"}},
		// RFC 4180, section 2, rules 5 to 7: quoted cells, doubled quotes.
		{name: "quotes", in: "\"benchmark\",\"value\"\r\n\"b \"\"bb\"\", x\",\"1\"\r\n", values: []string{`2:15 b "bb", x=1`}},
		{name: "columns count characters", in: "benchmark,unit,value\n猫é,°C,x\n",
			err: `runs.csv:2:7: found "x", expected a number; ` + acceptedNumbers + "; " + leaveEmpty},
		{name: "columns count from the last line break", in: "reason,benchmark,value\n\"é\né\",猫,x\n",
			err: `runs.csv:3:6: found "x", expected a number; ` + acceptedNumbers + "; " + leaveEmpty},

		{name: "unknown column", in: "benchmark,value,remarks\na,1,x\n", values: []string{"2:3 a=1"},
			notes: []string{`column "remarks" skipped: its name is none of those known`}},
		{name: "mistyped column", in: "benchmark,value,sessoin\na,1,2\n",
			err: `runs.csv:1:17: column "sessoin" is unknown and close to "session"; write "session" if that is meant, else rename it to ` +
				`something less alike`},
		{name: "column like one that is there", in: "benchmark,value,block,clock\na,1,b,4700\n", values: []string{"2:3 a=1 block=b"},
			notes: []string{`column "clock" skipped: its name is none of those known`}},
		{name: "empty column without name", in: "benchmark,value,\na,1,\n", values: []string{"2:3 a=1"}},
		{name: "cell under no name", in: "benchmark,value,\na,1, x\n",
			err: `runs.csv:2:6: found "x" in column 3, which has no name; name it in the header or empty it`},

		{name: "no benchmark", in: "benchmark,value\na,1\n ,2\n", values: []string{"2:3 a=1"},
			err: "runs.csv:3:2: found no benchmark, expected its name; write it in every row"},
		{name: "too many cells", in: "benchmark,value\na,412,3\n",
			err: "runs.csv:2:7: found 3 cells, expected 2 as in the header; delete the separators too many, or put a cell that holds one in " +
				"quotes; for decimal commas separate the columns by ; or tab"},
		{name: "too many cells, semicolons", in: "benchmark;value\na;1;;2\n",
			err: "runs.csv:2:5: found 4 cells, expected 2 as in the header; delete the separators too many, or put a cell that holds one in quotes"},
		{name: "too few cells", in: "benchmark,unit,value\n\na,s\n",
			err: "runs.csv:3:3: found 2 cells, expected 3 as in the header; write a separator for each empty cell too"},

		{name: "line break in a name", in: "benchmark,value\n\"a\nb\",1\n",
			err: `runs.csv:2:1: found a line break inside "a\nb", expected one only in a reason; write it on one line`},
		{name: "line break at the end of a name", in: "benchmark,value\n\"a\n\",1\n",
			err: `runs.csv:2:1: found a line break inside "a\n", expected one only in a reason; write it on one line`},
		{name: "line break in a value", in: "benchmark,value\na,\"1\r\n\"\n",
			err: `runs.csv:2:3: found a line break inside "1\n", expected one only in a reason; write it on one line`},
		{name: "line break in a reason", in: "benchmark,valid,reason,value\na,no,\"crash\nand burn\",2\na,yes,,x\n",
			values: []string{`3:11 a=2 aside="crash\nand burn"`},
			err:    `runs.csv:4:8: found "x", expected a number; ` + acceptedNumbers + "; " + leaveEmpty},
		{name: "line break in a skipped column", in: "benchmark,value,remarks\na,1,\"x\ny\"\n", values: []string{"2:3 a=1"},
			notes: []string{`column "remarks" skipped: its name is none of those known`}},
	})
}

// Later rows and earlier cells of a row are counted anew.
func TestPlacesInAnyOrder(t *testing.T) {
	src := newText(strings.NewReader("é,b,ü,d\né,猫,ü,d\n"), "f")
	lines := bufio.NewReader(src)
	h, err := readHead(lines, src)
	if err != nil {
		t.Fatal(err)
	}
	table, err := newTable(newCSVGrid(src, lines, h), "f", "", &sink{noted: map[string]bool{}, pool: newPool(), names: newNames(),
		options: &options{}})
	if err != nil {
		t.Fatal(err)
	}
	if err := table.row(); err != nil {
		t.Fatal(err)
	}
	for _, i := range []int{3, 1, 2, 0, 3} {
		if got, want := table.place(i), (compare.Place{File: "f", Line: 2, Column: 1 + 2*i}); got != want {
			t.Errorf("cell %d stands at %v, want %v", i, got, want)
		}
	}
}

func TestLabels(t *testing.T) {
	runCases(t, []readCase{
		{name: "valid, all spellings",
			in: "benchmark,value,valid,reason\na,1,YES,\na,2,y,\na,3,True,\na,4,1,\na,5,,\n" +
				"a,6,no,r\na,7,N,r\na,8,FALSE,r\na,9,0,r\n",
			values: []string{"2:3 a=1", "3:3 a=2", "4:3 a=3", "5:3 a=4", "6:3 a=5", `7:3 a=6 aside="r"`, `8:3 a=7 aside="r"`, `9:3 a=8 aside="r"`,
				`10:3 a=9 aside="r"`}},
		{name: "reason of a valid run", in: "benchmark,value,valid,reason\na,1,yes,warm\n", values: []string{"2:3 a=1"}},
		{name: "set aside without a number", in: "benchmark,value,valid,reason\na,,no,crash\n", values: []string{`2:3 a=? aside="crash"`}},
		{name: "no without reason", in: "benchmark,value,valid,reason\na,1,no, \n",
			err: `runs.csv:2:5: valid = no needs a reason, found none; say in "reason" why the run does not count`},
		{name: "no without a reason column", in: "benchmark,value,valid\na,1,no\n",
			err: `runs.csv:2:5: valid = no needs a reason, found none; say in "reason" why the run does not count`},
		{name: "valid unclear", in: "benchmark,value,valid\na,1,maybe\n",
			err: `runs.csv:2:5: found "maybe", expected yes or no, or nothing for yes`},
		{name: "valid long", in: "benchmark,value,valid\na,1,definitely not\n",
			err: `runs.csv:2:5: found "definitely not", expected yes or no, or nothing for yes`},
		{name: "better", in: "benchmark,value,better\na,1,HIGHER\na,1,lower\na,1,\n",
			values: []string{"2:3 a=1 better=higher", "3:3 a=1 better=lower", "4:3 a=1"}},
		{name: "better unclear", in: "benchmark,value,better\na,1,up\n", err: `runs.csv:2:5: found "up", expected higher or lower, or nothing`},
		{name: "line break in valid", in: "benchmark,value,valid\na,1,\"yes\n\"\n",
			err: `runs.csv:2:5: found a line break inside "yes\n", expected one only in a reason; write it on one line`},
		{name: "long name", in: "benchmark,value,session\na,1," + strings.Repeat("x", maxName+1) + "\n",
			err: "runs.csv:2:5: found a name of 1001 bytes, expected at most 1000; shorten it"},
		{name: "long metric", in: "benchmark,value,metric\na,1," + strings.Repeat("x", maxName+1) + "\n",
			err: "runs.csv:2:5: found a name of 1001 bytes, expected at most 1000; shorten it"},
		{name: "long unit", in: "benchmark,value,unit\na,1," + strings.Repeat("x", maxName+1) + "\n",
			err: "runs.csv:2:5: found a name of 1001 bytes, expected at most 1000; shorten it"},
		{name: "unit spellings", in: "benchmark,unit,value\na,C,1\na,degF,1\na,\u03bcs,1\na,MB/s,1\n",
			values: []string{"2:5 a=1 °C", "3:8 a=1 °F", "4:6 a=1 \u00b5s", "5:8 a=1 MB/s"}},
	})
}

func TestTimes(t *testing.T) {
	bad := func(found string) string {
		return `runs.csv:2:5: found the time "` + found +
			`", expected RFC 3339 with a zone, such as 2026-03-01T14:05:00Z or 2026-03-01T15:05:00+01:00; correct it or leave it empty`
	}
	year := func(found string) string {
		return `runs.csv:2:5: found the time "` + found + `", expected a year from 1971 to 2261; was the clock set? correct it or leave it empty`
	}
	runCases(t, []readCase{
		// RFC 3339, section 5.8, examples.
		{name: "zulu", in: "benchmark,value,time\na,1,1985-04-12T23:20:50.52Z\n", values: []string{"2:3 a=1 time=1985-04-12T23:20:50.52Z"}},
		{name: "offset", in: "benchmark,value,time\na,1,1996-12-19T16:39:57-08:00\n", values: []string{"2:3 a=1 time=1996-12-19T16:39:57-08:00"}},
		// RFC 3339, section 5.6, note: T and Z may be in lower case.
		{name: "lower case", in: "benchmark,value,time\na,1,1985-04-12t23:20:50.52z\n", values: []string{"2:3 a=1 time=1985-04-12T23:20:50.52Z"}},
		{name: "empty", in: "benchmark,value,time\na,1, \n", values: []string{"2:3 a=1"}},
		{name: "a word", in: "benchmark,value,time\na,1,yesterday\n", err: bad("yesterday")},
		{name: "no zone", in: "benchmark,value,time\na,1,2026-03-01T14:05:00\n", err: bad("2026-03-01T14:05:00")},
		{name: "blank for T", in: "benchmark,value,time\na,1,2026-03-01 14:05:00Z\n", err: bad("2026-03-01 14:05:00Z")},
		{name: "date alone", in: "benchmark,value,time\na,1,2026-03-01\n", err: bad("2026-03-01")},
		{name: "hour of one digit", in: "benchmark,value,time\na,1,2026-03-01T4:05:00Z\n", err: bad("2026-03-01T4:05:00Z")},
		{name: "comma before the fraction", in: "benchmark;value;time\na;1;2026-03-01T14:05:00,5Z\n", err: bad("2026-03-01T14:05:00,5Z")},
		{name: "offset of a day", in: "benchmark,value,time\na,1,2026-03-01T14:05:00+24:00\n", err: bad("2026-03-01T14:05:00+24:00")},
		{name: "no such day", in: "benchmark,value,time\na,1,2026-02-29T14:05:00Z\n", err: bad("2026-02-29T14:05:00Z")},
		{name: "clock never set", in: "benchmark,value,time\na,1,1970-01-01T00:03:00Z\n", err: year("1970-01-01T00:03:00Z")},
		{name: "beyond nanoseconds", in: "benchmark,value,time\na,1,2262-01-01T00:00:00Z\n", err: year("2262-01-01T00:00:00Z")},
	})
}
