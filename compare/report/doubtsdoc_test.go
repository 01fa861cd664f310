package report

import (
	"testing"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/report/doc"
)

// Findings are printed worst first, each grade in its colour.
func TestDoubtsDocument(t *testing.T) {
	finding := func(grade doubts.Grade, check string) doubts.Finding {
		return doubts.Finding{Grade: grade, Check: check, Profile: "factory", Series: "tile-render",
			Evidence: doubts.Evidence{Count: 3, Of: 4, Replication: compare.ByRun}}
	}
	d := DoubtsDocument(DoubtsPage{Report: &doubts.Report{Grade: doubts.GradeStop, Series: 2, Findings: []doubts.Finding{
		finding(doubts.GradeCheck, doubts.CheckOutlier), finding(doubts.GradeStop, doubts.CheckFewRuns)}}, Commands: typed})
	got := textOf(t, d, doc.TextOptions{Width: 200, Color: true})
	checkOrder(t, got,
		"\x1b[1;38;5;166mstop: "+doubts.CheckFewRuns+"\x1b[0m\n  factory tile-render: 3 runs; below 4 a side nothing can be settled\n  why: ",
		"\n  do: make more runs, best in new sessions; <reruns> says how many\n\n",
		"\x1b[1;38;5;244mcheck: "+doubts.CheckOutlier+"\x1b[0m\n",
		"\n\n\x1b[1mStop: a verdict on 2 series would not be safe. Nothing was judged.\x1b[0m\n",
	)
}
