package intake

import "testing"

func TestSheet(t *testing.T) {
	runCases(t, []readCase{
		{name: "runs across", in: "benchmark,unit,Run 1,Run 2,Run 3,Average\ntile-render,s,412.3,409,415,412.1\nray-preview,fps,61,,60,\n",
			values: []string{"2:15 tile-render=412.3 s", "2:21 tile-render=409 s", "2:25 tile-render=415 s", "3:17 ray-preview=61 fps",
				"3:20 ray-preview=? fps", "3:21 ray-preview=60 fps"},
			notes: []string{`column "Average" skipped: it is the mean of the runs`}},
		{name: "run headers", in: "benchmark,Run 1,run2,R3,#4,5,Run #6,run_7,RUN 08\na,1,2,3,4,5,6,7,8\n",
			values: []string{"2:3 a=1", "2:5 a=2", "2:7 a=3", "2:9 a=4", "2:11 a=5", "2:13 a=6", "2:15 a=7", "2:17 a=8"}},
		{name: "all optional columns", in: "metric,better,profile,session,block,valid,reason,Benchmark,Run " +
			"1\npower,lower,factory,evening,b1,no,fan,a,240\n",
			values: []string{`2:41 a/power=240 better=lower profile=factory session=evening block=b1 aside="fan"`}},
		{name: "statistics are skipped", in: "benchmark,Run 1,Avg.,MEAN,Median [s],Min,max,Best,worst,StDev,Std. Dev. " +
			"(s),SD,spread,%,Total\na,1,2,2,2,2,2,2,2,2,2,2,2,2,2\n",
			values: []string{"2:3 a=1"},
			notes: []string{`column "Avg." skipped: it is the mean of the runs`, `column "MEAN" skipped: it is the mean of the runs`,
				`column "Median [s]" skipped: it is the mean of the runs`,
				`column "Min" skipped: it is the smallest of the runs`, `column "max" skipped: it is the smallest of the runs`,
				`column "Best" skipped: it is the smallest of the runs`, `column "worst" skipped: it is the smallest of the runs`,
				`column "StDev" skipped: it is drawn from the runs`, `column "Std. Dev. (s)" skipped: it is drawn from the runs`,
				`column "SD" skipped: it is drawn from the runs`,
				`column "spread" skipped: it is drawn from the runs`, `column "%" skipped: it is drawn from the runs`, `column "Total" skipped: ` +
					`it is the sum of the runs`}},
		{name: "first header empty", in: ",unit,Run 1,Average\na,s,5,5\n", values: []string{"2:5 a=5 s"},
			notes: []string{`column "Average" skipped: it is the mean of the runs`}},
		{name: "first header empty, runs numbered", in: ";1;2;3\na;1,5;2;3\n", values: []string{"2:3 a=1.5", "2:7 a=2", "2:9 a=3"}},
		{name: "first header empty, numbers that are no count", in: ",412,409\na,1,2\n",
			err: `runs.csv:1:2: found the number "412" in the header line, expected ` + wantHeader + "; put one above (and 1 more fault)"},
		{name: "first header empty, one other column", in: ",place,Run 1\na,x,5\n", values: []string{"2:5 a=5"},
			notes: []string{`column "place" skipped: it is no run, and its name is none of those known`}},
		{name: "empty columns at the end", in: "benchmark,Run 1,,\na,5,,\n,,,\n", values: []string{"2:3 a=5"}},
		{name: "row of averages", in: "benchmark,Run 1\na,5\nAverage,5\n", values: []string{"2:3 a=5"},
			notes: []string{`row "Average" skipped: it is the mean of the rows above, no benchmark`}},
		{name: "run and time columns", in: "benchmark,run,time,Run 1\na,x,y,5\n", values: []string{"2:7 a=5"},
			notes: []string{`column "run" skipped: a row here holds several runs`, `column "time" skipped: a row here holds several runs`}},
		{name: "other columns", in: "benchmark,remarks,Run 1\na,cold,5\n", values: []string{"2:8 a=5"},
			notes: []string{`column "remarks" skipped: it is no run, and its name is none of those known`}},
		{name: "unit in the run headers", in: "benchmark,Run 1 [s],\"Run 2 [s, lower]\"\na,5,6\n",
			values: []string{"2:3 a=5 s", "2:5 a=6 s better=lower"}},
		{name: "a session a row", in: "benchmark,session,Run 1,Run 2\na,monday,5,6\na,tuesday,7,8\n",
			values: []string{"2:10 a=5 session=monday", "2:12 a=6 session=monday", "3:11 a=7 session=tuesday", "3:13 a=8 session=tuesday"}},

		{name: "no benchmark", in: "benchmark,unit,Run 1\n,s,5\n",
			err: "runs.csv:2:1: found no benchmark, expected its name; write it in every row"},
		{name: "text in a run", in: "benchmark,Run 1\na,slow\n",
			err: `runs.csv:2:3: found "slow", expected a number; ` + acceptedNumbers + "; " + leaveEmpty},
		{name: "run twice", in: "benchmark,Run 1,r1\na,1,2\n",
			err: `runs.csv:1:17: column 3 "r1" and column 2 "Run 1" are both run 1; number the runs 1, 2, 3`},
		{name: "run without number", in: "benchmark,Run X,Run 1\na,1,2\n",
			err: `runs.csv:1:11: found column "Run X", expected a number for a run, as in "Run 1"; number it, or rename it to something that ` +
				`does not begin with "run"`},
		{name: "runs by letters", in: "benchmark,Run A,Run B\na,1,2\n", values: []string{"2:3 a=1", "2:5 a=2"}},
		{name: "no result, and a run that failed", in: "benchmark,Run 1,Run 2,Run 3,Run 4\na,1,n/a,CRASH!,-\n",
			values: []string{"2:3 a=1", "2:5 a=?", `2:9 a=? aside="CRASH!"`, "2:16 a=?"},
			notes: []string{`"n/a" in the cell of a run is read as no result`, `"CRASH!" in the cell of a run: the run is set aside`,
				`"-" in the cell of a run is read as no result`}},
		{name: "another variant of a benchmark", in: "benchmark,size,Run 1\na,1080,1\nb,1080,2\na,2160,4\n",
			values: []string{"2:8 a=1", "3:8 b=2", "4:8 a=4"},
			notes:  []string{`column "size" skipped: it is no run, and its name is none of those known`},
			err: `runs.csv:4:3: found "2160" in column "size", and "1080" in an earlier row of the same benchmark: this column is not read, and ` +
				`may tell the two apart; put it into the names of the benchmarks, or say what it is, such as metric, session, machine or remark`},
		{name: "a session in one row only", in: "session,benchmark,Run 1\nMon,a,1\nTue,a,3\n,b,2\n",
			values: []string{"2:7 a=1 session=Mon", "3:7 a=3 session=Tue"},
			err:    `runs.csv:4:1: found no session in this row, and a row above names "Tue"; write it in every row`},
		{name: "mistyped unit", in: "benchmark,unti,Run 1\na,s,2\n",
			err: `runs.csv:1:11: column "unti" is unknown and close to "unit"; write "unit" if that is meant, else rename it to ` +
				`something less alike`},
		{name: "two units", in: "benchmark,unit,Run 1 [s]\na,ms,1\n",
			err: `runs.csv:2:6: the row is in "ms", but its header "Run 1 [s]" says "s"; state the unit in one place`},
		{name: "two directions", in: "benchmark,better,Run 1 [higher]\na,lower,1\n",
			err: `runs.csv:2:9: the row says better = lower, but its header "Run 1 [higher]" says higher; state the direction in one place`},
		{name: "broken bracket", in: "benchmark,Run 1,power [W\na,1,2\n",
			err: `runs.csv:1:17: found [ without ] in the header "power [W"; write the unit as in "tile-render [s]", and put a header with a ` +
				`comma in quotes, as in "latency [ns, lower]"`},
		{name: "too few cells", in: "benchmark,Run 1,Run 2\na,1\n",
			err: "runs.csv:2:3: found 2 cells, expected 3 as in the header; write a separator for each empty cell too"},
	})
}
