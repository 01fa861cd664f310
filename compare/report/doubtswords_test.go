package report

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/doubts"
)

// Every check has a sentence with the values of its evidence.
func TestEvidenceText(t *testing.T) {
	for _, c := range []struct {
		check string
		found doubts.Evidence
		want  string
	}{
		{doubts.CheckFewRuns, doubts.Evidence{Count: 3, Of: 4, Replication: compare.BySession},
			"3 sessions; below 4 a side nothing can be settled"},
		{doubts.CheckNoSessions, doubts.Evidence{}, "no session recorded: valid for this sitting only"},
		{doubts.CheckApart, doubts.Evidence{Gap: 9 * 24 * time.Hour}, "all runs of one were made at least 9 days before those of the other"},
		{doubts.CheckApart, doubts.Evidence{Gap: 130 * time.Minute}, "all runs of one were made at least 2 hours before those of the other"},
		{doubts.CheckApart, doubts.Evidence{Gap: 90 * time.Second}, "all runs of one were made at least 1 minute before those of the other"},
		{doubts.CheckCopies, doubts.Evidence{Copies: &doubts.Copies{Runs: 6, P: 3e-7, Sides: [2]doubts.Sitting{
			{Profile: "factory", Session: "s1", File: "a.csv", Lines: []int{2, 3, 4, 5, 6, 7}},
			{Profile: "factory", Session: "s2", File: "b.csv", Lines: []int{2, 3, 4, 5, 6, 7}}}}},
			"6 runs of factory session s2 (b.csv, lines 2 to 7) stand in factory session s1 (a.csv, lines 2 to 7) as well, " +
				"more than chance explains (p = 3e-07)"},
		{doubts.CheckCoarse, doubts.Evidence{Value: 0.1 + 0.2, Unit: "s", Spread: 0.123}, "readings in steps of 0.3 s spread by 0.12"},
		{doubts.CheckNoSpread, doubts.Evidence{Count: 4, Value: 60, Unit: "s"}, "all 4 readings are 60 s"},
		{doubts.CheckNoSpread, doubts.Evidence{Count: 4, Value: 60}, "all 4 readings are 60"},
		{doubts.CheckCopied, doubts.Evidence{Count: 1, P: 0.00123},
			"1 pair of equal readings, more than readings this fine repeat by chance (p = 0.0012)"},
		{doubts.CheckCopied, doubts.Evidence{Count: 2, P: 0.001},
			"2 pairs of equal readings, more than readings this fine repeat by chance (p = 0.001)"},
		{doubts.CheckCopied, doubts.Evidence{InARow: true, Count: 5, P: 0.004}, "5 readings in a row occur a second time (p = 0.004)"},
		{doubts.CheckDrift, doubts.Evidence{Statistic: 0.714, P: 0.0021}, "values rise from run to run (Mann-Kendall, tau 0.71, p = 0.0021)"},
		{doubts.CheckDrift, doubts.Evidence{Statistic: -0.5, P: 0.007}, "values fall from run to run (Mann-Kendall, tau -0.50, p = 0.007)"},
		{doubts.CheckDependence, doubts.Evidence{P: 0.01},
			"each run resembles the one before it more than runs in another order would (lag-1 correlation, p = 0.01)"},
		{doubts.CheckOutlier, doubts.Evidence{Value: 120.5, Unit: "W", Statistic: 7.25, P: 0.0101},
			"120.5 W lies beyond the tail of the others (modified z-score 7.2, p = 0.01)"},
		{doubts.CheckModes, doubts.Evidence{Count: 5, Of: 20, P: 0.003}, "5 of 20 runs form a group of their own (p = 0.003)"},
		{doubts.CheckSessions, doubts.Evidence{Statistic: 31.44, P: 0.0002},
			"sessions differ far more than runs of one session do (F = 31.4, p = 0.0002)"},
		{doubts.CheckConditions, doubts.Evidence{Key: "driver",
			Recorded: []doubts.Recorded{{Value: "", Profiles: []string{"cool-curve", "factory"}}},
			Without:  []string{"boost-lift"}}, "driver: empty in cool-curve, factory; not recorded in boost-lift"},
		{doubts.CheckConditions, doubts.Evidence{Key: "room",
			Recorded: []doubts.Recorded{{Value: "24 °C", Profiles: []string{"boost-lift"}}, {Value: "21 °C", Profiles: []string{"factory"}}}},
			"room: 24 °C in boost-lift; 21 °C in factory"},
	} {
		if got := evidenceText(doubts.Finding{Check: c.check, Evidence: c.found}); got != c.want {
			t.Errorf("%s: %q, want %q", c.check, got, c.want)
		}
	}
}

// The one-line summary leaves out what a comparison states anyway, and counts
// several findings of one check.
func TestDoubtsSummary(t *testing.T) {
	found := []doubts.Finding{
		{Check: doubts.CheckFewRuns, Profile: "factory", Series: "tile-render"},
		{Check: doubts.CheckDrift, Profile: "factory", Series: "tile-render"},
		{Check: doubts.CheckModes, Profile: "factory", Series: "tile-render"},
		{Check: doubts.CheckNoSessions, Profile: "factory", Series: doubts.AllSeries},
		{Check: doubts.CheckModes, Profile: "boost-lift", Series: "tile-render"},
		{Check: doubts.CheckApart, Profile: "factory and boost-lift", Series: doubts.AllSeries},
	}
	commands := Commands{Doubts: "the check"}
	want := []Note{{"doubts", "check the data first: drift in factory tile-render; two modes in 2 series; sides at different " +
		"times in factory and boost-lift (the check has the evidence)"}}
	if d := cmp.Diff(want, commands.doubtsNotes(&doubts.Report{Findings: found})); d != "" {
		t.Error(d)
	}
	if got := commands.doubtsNotes(&doubts.Report{Findings: found[:1]}); got != nil {
		t.Errorf("what a comparison states anyway: %q", got)
	}
	if got := commands.doubtsNotes(nil); got != nil {
		t.Errorf("nobody looked: %q", got)
	}
}
