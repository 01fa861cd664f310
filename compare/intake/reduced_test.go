package intake

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
)

func TestReducedRows(t *testing.T) {
	const header = "benchmark,value,Runs,sessions,mean,spread,smallest,largest\n"
	var got []*compare.Reduction
	tally, err := Read(strings.NewReader(header+"a,10,3,,10.1,0.02,9,11.5\na,10,6,2,,,,\na,10,,,,,,\na,,3,,,,,\n"), "runs.csv",
		func(v compare.Value) error { got = append(got, v.Reduced); return nil })
	if err != nil || len(tally.Notes) > 0 {
		t.Fatal(err, tally.Notes)
	}
	want := []*compare.Reduction{{Runs: 3, Mean: 10.1, Spread: 0.02, Smallest: 9, Largest: 11.5},
		{Runs: 6, Sessions: 2, Mean: 10, Smallest: 10, Largest: 10, NoLargest: true}, nil, nil}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	runCases(t, []readCase{
		{name: "no runs", in: "benchmark,value,spread,mean\na,1,2,3\n", values: []string{"2:3 a=1"},
			notes: []string{`column "spread" skipped: its name is none of those known`, `column "mean" skipped: its name is none of those known`}},
		{name: "a share of a run", in: header + "a,1,2.5,,,,,\n",
			err: `runs.csv:2:5: found "2.5" under "runs", expected how many runs the value stands for`},
		{name: "no number of runs", in: header + "a,1,0,,,,,\n",
			err: `runs.csv:2:5: found "0" under "runs", expected how many runs the value stands for`},
		{name: "more sessions than runs", in: header + "a,1,2,3,,,,\n",
			err: `runs.csv:2:7: found "3" under "sessions", expected of how many sessions the runs are`},
		{name: "negative spread", in: header + "a,1,2,,,-1,,\n", err: `runs.csv:2:9: found "-1" under "spread", expected a standard deviation`},
		{name: "smallest above", in: header + "a,1,2,,,,1.5,\n", err: `runs.csv:2:10: found "1.5" under "smallest", expected at most the value`},
		{name: "largest below", in: header + "a,1,2,,,,,0.5\n", err: `runs.csv:2:11: found "0.5" under "largest", expected at least the value`},
		{name: "no number", in: header + "a,1,2,,NaN,,,\n",
			err: `runs.csv:2:8: found "NaN", expected a number such as 412.3, as an engine writes it`},
		{name: "no number of an engine", in: "benchmark;value;runs\na;1,5;2\n",
			err: `runs.csv:2:3: found "1,5", expected a number such as 412.3, as an engine writes it`},
	})
}
