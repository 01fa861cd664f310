package report

import (
	"fmt"
	"testing"

	"github.com/jedib0t/go-pretty/v6/text"

	"tunegate/compare"
	"tunegate/compare/doubts"
)

// fields are what a test says about a result that it makes by hand.
type fields struct {
	Metric      compare.Metric
	Change      float64
	Interval    *[2]float64
	Replication compare.Replication
	Replicates  [2]int
	Verdict     *compare.Verdict
	Decides     bool
	CanSettle   bool
	BlindSpot   *float64
	Needed      *int
}

// result puts a result together as the stages would.
func (f fields) result() *compare.Result {
	return &compare.Result{
		Measurement: &compare.Measurement{Pair: &compare.Pair{Metric: f.Metric},
			Change: f.Change, Interval: f.Interval, Replication: f.Replication, Replicates: f.Replicates},
		Judgement: compare.Judgement{Verdict: f.Verdict, Decides: f.Decides},
		Outlook:   compare.Outlook{CanSettle: f.CanSettle, BlindSpot: f.BlindSpot, Needed: f.Needed},
	}
}

// typed are commands in words that no program has, so that a test sees where
// they come from.
var typed = Commands{Init: "<init>", Compare: "<compare>", Gate: "<gate>", Doubts: "<doubts>", Reruns: "<reruns>",
	Sheet:      func(blocks, spells int) string { return fmt.Sprintf("<sheet %d %d>", blocks, spells) },
	JudgeLook:  func(look, looks int) string { return fmt.Sprintf("<look %d of %d>", look, looks) },
	LookOption: "<look>", ChangeOption: "<change>", CommitsOption: "<commits>", Uncorrected: "<alone>",
	Explain: func(err error) string { return err.Error() + " <remedy>" },
}

// compared judges two profiles of runs, and looks at their data first, as the
// program does.
func compared(t testing.TB, runs *compare.Runs, names [2]string, policy compare.Policy) ComparisonPage {
	t.Helper()
	before, after := runs.Profile(names[0]), runs.Profile(names[1])
	c, err := compare.Compare(before, after, names, policy, compare.Options{Resamples: 1000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	found, err := doubts.OfComparison(c, before, after, policy, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return ComparisonPage{Comparison: c, Doubts: found, Commands: typed}
}

// columns is the width of a printed line, colours aside.
func columns(line string) int { return text.StringWidthWithoutEscSequences(line) }

// longName is the name of a benchmark that cannot be wrapped at a blank.
const longName = "a-name-without-any-blank-that-goes-on-and-on-for-ever-and-a-day"
