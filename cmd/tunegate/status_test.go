package main

import (
	"errors"
	"fmt"
	"testing"

	"tunegate/compare"
	"tunegate/compare/claims"
	"tunegate/compare/gate"
	"tunegate/compare/intake"
	"tunegate/compare/report"
)

// The worst claim says the exit status, and not settled is 3 where nothing
// fails.
func TestClaimsStatus(t *testing.T) {
	for _, tt := range []struct {
		verdicts []claims.Verdict
		want     int
	}{
		{[]claims.Verdict{claims.Supported, claims.Understated}, 0},
		{[]claims.Verdict{claims.NotSettled, claims.Supported}, 3},
		{[]claims.Verdict{claims.Overstated, claims.NotSettled}, 1},
		{[]claims.Verdict{claims.NotSettled, claims.Contradicted}, 1},
		{[]claims.Verdict{claims.WrongArithmetic}, 1},
		{[]claims.Verdict{claims.SentenceDiffers, claims.Supported}, 1},
		{nil, 0}, // a page alone: nothing was judged
	} {
		p := &claims.Page{}
		for _, v := range tt.verdicts {
			p.Held = append(p.Held, &claims.Held{Verdict: v})
		}
		if got := claimsStatus(report.ClaimsPage{Page: p}); got != tt.want {
			t.Errorf("%v: %d, want %d", tt.verdicts, got, tt.want)
		}
	}
	// A percentage in no claim leaves the page open; another number does not.
	for percent, want := range map[bool]int{true: 3, false: 0} {
		p := report.ClaimsPage{Page: &claims.Page{Held: []*claims.Held{{Verdict: claims.Supported}}},
			Coverage: []*claims.Coverage{{Open: []claims.OpenNumber{{Percent: percent}}}}}
		if got := claimsStatus(p); got != want {
			t.Errorf("a percentage in no claim is %v: %d, want %d", percent, got, want)
		}
	}
}

func TestGateStatus(t *testing.T) {
	for outcome, want := range map[gate.Outcome]int{gate.Passed: 0, gate.Failed: 1, gate.Undecided: 3} {
		if got := gateStatus(&gate.Gate{Outcome: outcome}); got != want {
			t.Errorf("%s: %d, want %d", outcome, got, want)
		}
	}
}

// A remedy is found behind whatever an error is wrapped in, and only where there
// is one.
func TestRemedies(t *testing.T) {
	direction := error(&compare.NoDirectionError{Metric: compare.MetricID{Benchmark: "tile-render"}, Unit: "MB"})
	for _, c := range []struct {
		err  error
		want string
	}{
		{fmt.Errorf("boost-lift: %w", compare.ErrorAt(compare.Place{File: "runs.csv", Line: 2}, "%w", direction)),
			`boost-lift: runs.csv:2: tile-render is in "MB", which does not say whether more is better: ` +
				"say --better higher or --better lower, add a column `better`, or state better in the policy"},
		{&intake.NoResultsError{Root: "studio", Commit: "HEAD (1a2b3c4)"},
			"studio: found neither tunegate.toml nor profiles/NAME/settings.toml in HEAD (1a2b3c4); " +
				"expected a results repository: run this in its folder, or start one with tunegate init"},
		{&typedNumbersError{&compare.NoDirectionError{}}, "the numbers have no unit: " +
			"say --unit, such as --unit s, or --better higher or --better lower"},
		{&typedNumbersError{&compare.NoDirectionError{Unit: "MB"}}, `the unit "MB" does not say whether more is better: ` +
			"say --better higher or --better lower"},
		{errors.New("no such file"), "no such file"},
	} {
		got := withRemedy(c.err)
		if got.Error() != c.want || !errors.Is(got, c.err) {
			t.Errorf("%q\nwant %q", got, c.want)
		}
	}
}
