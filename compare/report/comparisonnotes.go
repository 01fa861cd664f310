package report

import (
	"cmp"
	"fmt"
	"strings"

	"tunegate/compare"
)

// Note is a sentence that a reader should know, and its kind, as JSON has it.
type Note struct {
	Kind string
	Text string
}

// ComparisonNote words a note on a comparison, a metric or a suite. Why there is
// no suite is one kind in JSON, and so are the reasons for which runs are left
// out.
func ComparisonNote(n compare.Note) Note {
	kind := string(n.Kind)
	switch n.Kind {
	case compare.NoteUnitsDiffer, compare.NoteNoCommonBlock, compare.NoteSomeBlocks, compare.NoteSomeLabels:
		kind = "no-suite"
	case compare.NoteBlocksOut, compare.NoteOutsideBlocks:
		kind = "left-out"
	case compare.NoteConstantShare:
		kind = string(compare.NoteConstant)
	}
	return Note{kind, comparisonNoteText(n)}
}

func comparisonNoteText(n compare.Note) string {
	say := fmt.Sprintf
	switch n.Kind {
	case compare.NoteNoValidRun:
		return "no valid run on either side yet: " + compare.List(n.Names, 12)
	case compare.NoteNoSessions:
		which := "no sessions are recorded"
		if n.Count < n.Of {
			which += say(" for %d of %d metrics", n.Count, n.Of)
		}
		return which + ": each run counts as its own session, so a verdict holds for this sitting only; " +
			"a reboot can move every run of a sitting together (add a column `session`)"
	case compare.NoteSharedLabels:
		return "both sides use the same session labels; if each label was one sitting with both profiles in it, " +
			"say so in a column `block` and the comparison is made within each sitting"
	case compare.NoteNotRun:
		return say("empty cells, not yet run: %d", n.Count)
	case compare.NoteWarmUp:
		return say("%d warm-up runs left out", n.Count)
	case compare.NoteAbsent:
		return say("named in the policy, but missing on one side or both: %s; still counted in the correction, for %d in all",
			compare.List(n.Names, 6), n.Of)
	case compare.NoteNotInPolicy:
		return "shown but not judged, since the policy does not name it: " + compare.List(n.Names, 6)

	case compare.NoteUnitsDiffer:
		return say("no mean of %s: it is measured in different units", n.Suite)
	case compare.NoteNoCommonBlock:
		return say("no %s: no block holds every score on both sides", compare.SuiteWord(n.Suite))
	case compare.NoteNoCommonSession:
		return say("no %s: on a side no session holds every score; run all of them in each session, under one label",
			compare.SuiteWord(n.Suite))
	case compare.NoteNoCommonPass:
		return say("no %s: on a side no pass holds every score; run all of them in each pass", compare.SuiteWord(n.Suite))
	case compare.NoteSomeBlocks:
		return say("no %s: some scores are compared in blocks and some are not; the two are never mixed", compare.SuiteWord(n.Suite))
	case compare.NoteSomeLabels:
		return say("no %s: some of its runs have a session label and some have none, "+
			"so nobody knows which of them share a reboot's luck; label all", compare.SuiteWord(n.Suite))
	}
	if text := metricNoteText(n); text != "" {
		return text
	}
	return suiteNoteText(n)
}

// metricNoteText words a note on a metric; empty for others.
func metricNoteText(n compare.Note) string {
	say := fmt.Sprintf
	switch n.Kind {
	case compare.NoteUnitOneSide:
		return say("no unit is stated %s; taken to be in %s there, too: state it on both sides", n.Side, n.Unit)
	case compare.NoteBlocksOut:
		return say("left out: %d of %d runs, those in blocks, because the runs outside blocks can settle more; the two are never mixed",
			n.Count, n.Of)
	case compare.NoteOutsideBlocks:
		return say("left out: %d of %d runs, those outside complete blocks; blocked and unblocked runs are never mixed", n.Count, n.Of)
	case compare.NoteNoBlock:
		return "no block holds both sides, so runs are compared as sessions; a block is one sitting in which both sides were measured"
	case compare.NoteNormal:
		return "p from the normal approximation: the exact distribution is too large for these sizes"
	case compare.NotePlacements:
		return say("interval without resampling: with more than %d values the bootstrap and its limit agree", n.Count)
	case compare.NoteStudent:
		return say("the interval assumes normal differences; %d blocks cannot settle anything, %d could", n.Count, n.Of)
	case compare.NoteConstant:
		if n.Side == "" {
			return "every run gave the same value on each side: the readings are too coarse to tell how far apart the sides are; " +
				"record more digits"
		}
		return say("every run %s gave the same value: record more digits", n.Side)
	case compare.NoteConstantShare:
		return "on a side the limit was always, or never, passed"
	case compare.NoteCoarse:
		return say("readings in steps of %s are coarse for their spread; the interval allows for it",
			strings.TrimSpace(sixDigits(n.Value)+" "+n.Unit))
	case compare.NoteSessionsOneSide:
		return "only one side has sessions recorded; the other side's runs count as a session each"
	case compare.NoteSessionsPartly:
		return "some runs have no session label; each of them counts as a session of its own"
	case compare.NoteUnequalRuns:
		return say("runs a session: usually %s before and %s after; medians of different numbers of skewed runs differ by themselves; "+
			"record the same odd number", compare.Decimal(n.Values[0], 12), compare.Decimal(n.Values[1], 12))
	case compare.NoteFewOnASide:
		return say("%d %ss on one side hardly show how far they scatter: should they scatter more than the other side's, "+
			"the interval is too narrow; measure both sides alike", n.Count, n.Replication)
	case compare.NoteDependentRuns:
		return say("runs %s depend on the run before them (lag-1 correlation %.2f): the interval is too narrow; record sessions",
			n.Side, n.Value)
	case compare.NoteRealAlone:
		return say("real alone, not among %d tests: of so many one looks real now and then by luck", n.Count)
	case compare.NoteTestAlone:
		return "the test calls this real but the interval holds 0: counted as not settled"
	case compare.NoteLevel:
		return say("equivalent within the tolerance: each side of the interval excludes a larger change at %s %%",
			compare.Decimal(100*n.Value, 1))
	}
	return ""
}

// suiteNoteText words a note on a suite.
func suiteNoteText(n compare.Note) string {
	say := fmt.Sprintf
	switch n.Kind {
	case compare.NoteTogether:
		return "together these scores settle what none of them settles alone"
	case compare.NoteIncompleteBlocks:
		return say("%d of %d blocks hold every score of it; the others are left out", n.Count, n.Of)
	case compare.NoteIncompleteSessions:
		return say("%d of %d sessions lack a score and are left out of it; run every score in each session", n.Count, n.Of)
	case compare.NotePasses:
		return "without sessions the first runs of all scores are taken for one pass, and so on; label each pass in a column `session`"
	case compare.NoteIncompletePasses:
		return say("%d of %d passes lack a score and are left out of it", n.Count, n.Of)
	case compare.NoteFewPasses:
		return say("below %d passes a side its interval assumes normal noise, so it gets no verdict", n.Count)
	case compare.NoteArithmetic:
		return say("the average of the scores' percentages is %+.*f %%, their geometric mean %+.*f %%: ratios multiply, "+
			"and an average of percentages changes its answer with the side that counts as 100 %%",
			n.Places, 100*n.Values[0], n.Places, 100*n.Values[1])
	}
	return string(n.Kind)
}

// onlyOn names the metrics of which only one side, "before" or "after", has a
// valid run.
func onlyOn(side string, unpaired []compare.Omission) []string {
	names := []string{}
	for _, o := range unpaired {
		switch {
		case o.OnlySide() != side:
		case o.Why == compare.MissingBefore, o.Why == compare.MissingAfter:
			names = append(names, o.Name)
		default:
			names = append(names, omissionText(o))
		}
	}
	return names
}

// omissionText is a metric that is left out, and why.
func omissionText(o compare.Omission) string {
	why := string(o.Why)
	if o.Why == compare.NoRatio {
		why = fmt.Sprintf("a difference in %s is no ratio", cmp.Or(o.Unit, "its unit"))
	}
	return fmt.Sprintf("%s (%s)", o.Name, why)
}

// comparisonNotes lists everything a reader should know besides verdicts: metrics
// without a partner, runs set aside, notes of the comparison and of its
// metrics, the same sentence once.
func comparisonNotes(p ComparisonPage) []string {
	c := p.Comparison
	var lines []string
	for _, side := range []string{"before", "after"} {
		if names := onlyOn(side, c.Unpaired); len(names) > 0 {
			lines = append(lines, "only "+side+": "+Clean(compare.List(names, 12)))
		}
	}
	lines = append(lines, each(c.SetAside, excludedRunText)...)
	for _, n := range p.notes() {
		lines = append(lines, Clean(n.Text))
	}
	if c.Suite != nil && len(c.Suite.LeftOut) > 0 {
		lines = append(lines, "not in the suite: "+Clean(compare.List(each(c.Suite.LeftOut, omissionText), 12)))
	}
	var by sentences
	judgedCosts := true
	for _, r := range c.Judged() {
		for _, n := range r.Notes {
			by.add(ComparisonNote(n).Text, Clean(r.Name()))
		}
		judgedCosts = judgedCosts && (r.Role != compare.Cost || r.Decides)
	}
	lines = append(lines, by.lines()...)
	if !judgedCosts {
		lines = append(lines, "a cost without a stated tolerance never changes the exit status")
	}
	return lines
}

// excludedRunText is a run that does not count, and why.
func excludedRunText(a compare.ExcludedRun) string {
	where := ""
	if a.Session != "" {
		where += ", session " + a.Session
	}
	if a.Run != "" {
		where += ", run " + a.Run
	}
	return Clean(fmt.Sprintf("set aside: %s, %s%s: %s", a.Profile, a.Benchmark, where, a.Reason))
}
