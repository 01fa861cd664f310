package report

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
)

// Every kind of note has a sentence with the values of its fields.
func TestComparisonNotes(t *testing.T) {
	var thirty []string
	for i := range 30 {
		thirty = append(thirty, fmt.Sprint("scene-", i))
	}
	for _, c := range []struct {
		note       compare.Note
		kind, want string
	}{
		{compare.Note{Kind: compare.NoteNoValidRun, Names: []string{"tile-render", "mesh-solve"}}, "no-valid-run",
			"no valid run on either side yet: tile-render, mesh-solve"},
		{compare.Note{Kind: compare.NoteNoSessions, Count: 2, Of: 2}, "sessions-not-recorded",
			"no sessions recorded: valid for this sitting only, since a reboot can shift all runs. Record a " +
				"`session` column."},
		{compare.Note{Kind: compare.NoteNoSessions, Count: 1, Of: 2}, "sessions-not-recorded",
			"no sessions recorded for 1 of 2 metrics: valid for this sitting only, since a reboot can shift " +
				"all runs. Record a `session` column."},
		{compare.Note{Kind: compare.NoteSharedLabels}, "shared-labels",
			"both sides share session labels. If both profiles ran in each sitting, name the column `block`."},
		{compare.Note{Kind: compare.NoteNotRun, Count: 1}, "not-run", "not run yet: 1 cell"},
		{compare.Note{Kind: compare.NoteWarmUp, Count: 3}, "warm-up", "warm-up runs left out: 3"},
		{compare.Note{Kind: compare.NoteAbsent, Names: []string{"mesh-solve"}}, "absent",
			"not measured though the policy names it: mesh-solve"},
		{compare.Note{Kind: compare.NoteAbsent, Names: thirty}, "absent",
			"not measured though the policy names them: scene-0, scene-1, scene-2, scene-3, scene-4, scene-5 and 24 more"},
		{compare.Note{Kind: compare.NoteNotInPolicy, Names: []string{"tile-render"}}, "not-in-policy",
			"shown but not judged, since the policy does not name it: tile-render"},

		{compare.Note{Kind: compare.NoteUnitsDiffer, Suite: "ambient"}, "no-suite",
			"no mean of ambient: it is measured in different units"},
		{compare.Note{Kind: compare.NoteNoCommon, Replication: compare.ByBlock, Suite: compare.WholeSuite}, "no-suite",
			"no suite: no block holds every score on both sides"},
		{compare.Note{Kind: compare.NoteSomeBlocks, Suite: "rendering"}, "no-suite",
			"no suite of rendering: some scores are compared in blocks and some are not; the two are never mixed"},
		{compare.Note{Kind: compare.NoteSomeLabels, Suite: compare.WholeSuite}, "no-suite",
			"no suite: some of its runs have a session label and some have none, so it is not known which " +
				"of them share a reboot's luck; label all"},

		{compare.Note{Kind: compare.NoteUnitOneSide, Side: "after", Unit: "s"}, "unit-one-side",
			"no unit is stated after; taken to be in s there, too: state it on both sides"},
		{compare.Note{Kind: compare.NoteBlocksOut, Count: 12, Of: 20}, "left-out",
			"left out: 12 of 20 runs, those in blocks, because the runs outside blocks can settle more; the two are never mixed"},
		{compare.Note{Kind: compare.NoteOutsideBlocks, Count: 1, Of: 13}, "left-out",
			"left out: 1 of 13 runs, those outside complete blocks; blocked and unblocked runs are never mixed"},
		{compare.Note{Kind: compare.NoteNoBlock}, "no-complete-block",
			"no block holds both sides, so runs are compared as sessions; a block is one sitting in which both sides were measured"},
		{compare.Note{Kind: compare.NoteNormal}, "normal-approximation",
			"p from the normal approximation: the exact distribution is too large for these sizes"},
		{compare.Note{Kind: compare.NotePlacements, Count: 200}, "placements",
			"interval without resampling: with more than 200 values the bootstrap and its limit agree"},
		{compare.Note{Kind: compare.NoteStudent, Replication: compare.ByBlock, Count: 5, Of: 6}, "student",
			"test and interval rest on normal noise: with 5 blocks, Student's; from 6 on ranks need no shape of noise"},
		{compare.Note{Kind: compare.NoteConstant}, "constant",
			"every run gave the same value on each side: the readings are too coarse to tell how far apart the sides are; record more digits"},
		{compare.Note{Kind: compare.NoteConstant, Side: "after"}, "constant", "every run after gave the same value: record more digits"},
		{compare.Note{Kind: compare.NoteConstantShare}, "constant", "one side was always above the limit, or never"},
		{compare.Note{Kind: compare.NoteCoarse, Value: 0.1 + 0.2, Unit: "°C"}, "coarse",
			"readings in steps of 0.3 °C are coarse for their spread; the interval allows for it"},
		{compare.Note{Kind: compare.NoteCoarse, Value: 1}, "coarse",
			"readings in steps of 1 are coarse for their spread; the interval allows for it"},
		{compare.Note{Kind: compare.NoteSessionsOneSide}, "sessions-one-side",
			"only one side has sessions recorded; the other side's runs count as a session each"},
		{compare.Note{Kind: compare.NoteSessionsPartly}, "sessions-partly",
			"some runs have no session label; each of them counts as a session of its own"},
		{compare.Note{Kind: compare.NoteUnequalRuns, Values: [2]float64{3, 2.5}}, "unequal-runs",
			"usually 3 runs a session before, 2.5 after: each session counts by as many of its first runs as one of the other side. " +
				"Use the same odd number."},
		{compare.Note{Kind: compare.NoteFewOnASide, Count: 3, Replication: compare.BySession}, "few-on-one-side",
			"3 sessions show too little of their spread; the interval may be too narrow. Measure both sides " +
				"equally often."},
		{compare.Note{Kind: compare.NoteFewAreNoisier, Replication: compare.ByRun}, "few-are-noisier",
			"the side with fewer runs spreads further: false alarms are more likely than stated. Measure both sides equally often."},
		{compare.Note{Kind: compare.NoteDependentRuns, Side: "before", Value: 0.748}, "dependent-runs",
			"runs before depend on the run before them (lag-1 correlation 0.75): the interval is too narrow; record sessions"},
		{compare.Note{Kind: compare.NoteRealAlone, Count: 1}, "real-alone",
			"the rank test says real, Welch's test of the means does not: not settled"},
		{compare.Note{Kind: compare.NoteRealAlone, Count: 8}, "real-alone",
			"real on its own, not after correction for 8 tests"},
		{compare.Note{Kind: compare.NoteTestAlone}, "test-alone", "the test says real, the interval includes 0: not settled"},
		{compare.Note{Kind: compare.NoteLevel, Value: 0.975}, "level",
			"equivalent within the tolerance: each side of the interval excludes a larger change at 97.5 %"},
		{compare.Note{Kind: compare.NoteLevel, Value: 0.95}, "level",
			"equivalent within the tolerance: each side of the interval excludes a larger change at 95.0 %"},

		{compare.Note{Kind: compare.NoteTogether}, "together", "together these scores settle what none of them settles alone"},
		{compare.Note{Kind: compare.NoteIncompleteBlocks, Count: 5, Of: 6}, "incomplete-blocks",
			"5 of 6 blocks hold every score of it; the others are left out"},
		{compare.Note{Kind: compare.NoteIncompleteSessions, Count: 2, Of: 12}, "incomplete-sessions",
			"2 of 12 sessions lack a score and are left out of it; run every score in each session"},
		{compare.Note{Kind: compare.NotePasses}, "passes",
			"the first runs of all scores count as one round, and so on; label each round in `session`"},
		{compare.Note{Kind: compare.NoteIncompletePasses, Count: 1, Of: 9}, "incomplete-passes",
			"1 of 9 rounds lacks a score and is left out of it"},
		{compare.Note{Kind: compare.NoteFewPasses, Count: 5}, "few-passes",
			"below 5 rounds a side its interval assumes normal noise, so it gets no verdict"},
		{compare.Note{Kind: compare.NoteArithmetic, Values: [2]float64{0.125, -0.0321}, Places: 1}, "arithmetic",
			"averaged percentages would give +12.5 % instead of -3.2 %; that depends on which side is 100 %"},
	} {
		if d := cmp.Diff(Note{c.kind, c.want}, ComparisonNote(c.note)); d != "" {
			t.Errorf("%s: %s", c.note.Kind, d)
		}
	}
}

// A metric that is left out is listed with the reason. One that a side does not
// have at all is listed for that side without a reason.
func TestOmissions(t *testing.T) {
	unpaired := []compare.Omission{
		{Name: "a", Why: compare.MissingAfter}, {Name: "b", Why: compare.NoValidRunBefore}, {Name: "c", Why: compare.NoValidRunAfter},
		{Name: "d", Why: compare.MissingBefore}, {Name: "e", Why: compare.NoValidRun},
	}
	if d := cmp.Diff([]string{"a", "c (no valid run after)"}, onlyOn("before", unpaired)); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"b (no valid run before)", "d"}, onlyOn("after", unpaired)); d != "" {
		t.Error(d)
	}
	leftOut := append(unpaired, compare.Omission{Name: "f", Why: compare.MissingBoth},
		compare.Omission{Name: "hum", Why: compare.NoRatio, Unit: "dB"}, compare.Omission{Name: "glow", Why: compare.NoRatio})
	want := []string{"a (missing after)", "b (no valid run before)", "c (no valid run after)", "d (missing before)", "e (no valid run)",
		"f (missing on both sides)", "hum (a difference in dB is no ratio)", "glow (a difference in its unit is no ratio)"}
	if d := cmp.Diff(want, each(leftOut, omissionText)); d != "" {
		t.Error(d)
	}
	// Lists in JSON are empty, never null.
	if none := onlyOn("before", nil); none == nil {
		t.Error("no metric is no list")
	}
}

// Numbers of the command line have no columns, so that none is asked for.
func TestTypedNumbersHaveNoColumns(t *testing.T) {
	c := &compare.Comparison{Notes: []compare.Note{{Kind: compare.NoteNoSessions, Count: 1, Of: 1}, {Kind: compare.NoteWarmUp, Count: 1}}}
	typed := ComparisonPage{Comparison: c, Typed: true}.notes()
	read := ComparisonPage{Comparison: c}.notes()
	if !strings.Contains(read[0].Text, "Record a `session` column") || strings.Contains(typed[0].Text, "Record a") {
		t.Errorf("%q and %q", read[0].Text, typed[0].Text)
	}
	if typed[0].Kind != read[0].Kind || typed[1] != read[1] {
		t.Errorf("%v and %v", typed, read)
	}
}
