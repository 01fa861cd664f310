package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
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
	case compare.NoteUnitsDiffer, compare.NoteNoCommon, compare.NoteSomeBlocks, compare.NoteSomeMachines, compare.NoteSomeLabels:
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
		which := "no sessions recorded"
		if n.Count < n.Of {
			which += say(" for %d of %s", n.Count, english.Count(n.Of, "metric"))
		}
		return which + ": " + oneSitting + " Record a `session` column."
	case compare.NoteMachines:
		text := "each machine counts once: " + say("%d and %s", n.Count, english.Count(n.Of, "machine"))
		if n.Names != nil {
			text += "; runs that state none are taken to be of one machine more"
		}
		return text
	case compare.NoteOneMachine:
		if named := strings.Join(n.Names, ""); n.Names[0] == "" || n.Names[1] == "" {
			return say("only one side states its machine (%s): if the other was measured on another, "+
				"machine and profile cannot be told apart", named)
		}
		return say("before is machine %s, after is machine %s: machine and profile cannot be told apart; measure both profiles on each machine",
			n.Names[0], n.Names[1])
	case compare.NoteSharedLabels:
		return "both sides share session labels. If both profiles ran in each sitting, name the column `block`."
	case compare.NoteNotRun:
		return "not run yet: " + english.Count(n.Count, "cell")
	case compare.NoteWarmUp:
		return say("warm-up runs left out: %d", n.Count)
	case compare.NoteAbsent:
		return say("not measured though the policy names %s: %s", english.Verb(len(n.Names), "it", "them"), compare.List(n.Names, 6))
	case compare.NoteNotInPolicy:
		return say("shown but not judged, since the policy does not name %s: %s", english.Verb(len(n.Names), "it", "them"),
			compare.List(n.Names, 6))

	case compare.NoteUnitsDiffer:
		return say("no mean of %s: it is measured in different units", n.Suite)
	case compare.NoteNoCommon:
		return say("no %s: ", compare.SuiteWord(n.Suite)) + map[compare.Replication]string{
			compare.ByBlock:   "no block holds every score on both sides",
			compare.BySession: "on a side no session holds every score; run all of them in each session, under one label",
			compare.ByMachine: "on a side no machine holds every score; run all of them on each machine",
			compare.ByRun:     "on a side no pass holds every score; run all of them in each pass",
		}[n.Replication]
	case compare.NoteSomeMachines:
		return say("no %s: its scores were not all measured on the same machines", compare.SuiteWord(n.Suite))
	case compare.NoteSomeBlocks:
		return say("no %s: some scores are compared in blocks and some are not; the two are never mixed", compare.SuiteWord(n.Suite))
	case compare.NoteSomeLabels:
		return say("no %s: some of its runs have a session label and some have none, "+
			"so it is not known which of them share a reboot's luck; label all", compare.SuiteWord(n.Suite))
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
		if n.Replication == compare.ByMachine {
			return say("left out: %d of %s, those of machines that both sides hold, because the other machines can settle more",
				n.Count, english.Count(n.Of, "run"))
		}
		return say("left out: %d of %s, those in blocks, because the runs outside blocks can settle more; the two are never mixed",
			n.Count, english.Count(n.Of, "run"))
	case compare.NoteOutsideBlocks:
		if n.Replication == compare.ByMachine {
			return say("left out: %d of %s, those of machines that only one side holds", n.Count, english.Count(n.Of, "run"))
		}
		return say("left out: %d of %s, those outside complete blocks; blocked and unblocked runs are never mixed", n.Count,
			english.Count(n.Of, "run"))
	case compare.NoteNoBlock:
		return "no block holds both sides, so runs are compared as sessions; a block is one sitting in which both sides were measured"
	case compare.NoteNormal:
		return "p from the normal approximation: the exact distribution is too large for these sizes"
	case compare.NotePlacements:
		return say("interval without resampling: with more than %d values the bootstrap and its limit agree", n.Count)
	case compare.NoteStudent:
		return say("test and interval rest on normal noise: with %s, Student's; from %d on ranks need no shape of noise",
			english.Count(n.Count, string(n.Replication)), n.Of)
	case compare.NoteConstant:
		if n.Side == "" {
			return "every run gave the same value on each side: the readings are too coarse to tell how far apart the sides are; " +
				"record more digits"
		}
		return say("every run %s gave the same value: record more digits", n.Side)
	case compare.NoteConstantShare:
		return "one side was always above the limit, or never"
	case compare.NoteCoarse:
		return "readings in steps of " + stepText(n) + " are coarse for their spread; the interval allows for it"
	case compare.NoteSessionsOneSide:
		return "only one side has sessions recorded; the other side's runs count as a session each"
	case compare.NoteSessionsPartly:
		return "some runs have no session label; each of them counts as a session of its own"
	case compare.NoteUnequalRuns:
		return say("usually %s a session before, %s after: each session counts by as many of its first runs as one of the other side. "+
			"Use the same odd number.", usualRuns(n.Values[0]), compare.Decimal(n.Values[1], 12))
	case compare.NoteFewOnASide:
		return say("%s %s too little of their spread; the interval may be too narrow. Measure both sides equally often.",
			english.Count(n.Count, string(n.Replication)), english.Verb(n.Count, "shows", "show"))
	case compare.NoteFewAreNoisier:
		return say("the side with fewer %ss spreads further: false alarms are more likely than stated. Measure both sides equally often.",
			n.Replication)
	case compare.NoteDependentRuns:
		return say("runs %s depend on the run before them (lag-1 correlation %.2f): the interval is too narrow; record sessions",
			n.Side, n.Value)
	case compare.NoteRealAlone:
		if n.Count == 1 {
			return "the rank test says real, Welch's test of the means does not: not settled"
		}
		return "real on its own, not after correction for " + english.Count(n.Count, "test")
	case compare.NoteTestAlone:
		return "the test says real, the interval includes 0: not settled"
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
		return say("%d of %s %s every score of it; the others are left out", n.Count, english.Count(n.Of, "block"),
			english.Verb(n.Count, "holds", "hold"))
	case compare.NoteIncompleteSessions:
		return say("%d of %s %s a score and %s left out of it; run every score in each session", n.Count, english.Count(n.Of, "session"),
			english.Verb(n.Count, "lacks", "lack"), english.Verb(n.Count, "is", "are"))
	case compare.NoteIncompleteMachines:
		return say("%d of %s %s a score and %s left out of it", n.Count, english.Count(n.Of, "machine"),
			english.Verb(n.Count, "lacks", "lack"), english.Verb(n.Count, "is", "are"))
	case compare.NotePasses:
		return "the first runs of all scores count as one round, and so on; label each round in `session`"
	case compare.NoteIncompletePasses:
		return say("%d of %s %s a score and %s left out of it", n.Count, english.Count(n.Of, "round"),
			english.Verb(n.Count, "lacks", "lack"), english.Verb(n.Count, "is", "are"))
	case compare.NoteFewPasses:
		return say("below %s a side its interval assumes normal noise, so it gets no verdict", english.Count(n.Count, "round"))
	case compare.NoteArithmetic:
		return say("averaged percentages would give %+.*f %% instead of %+.*f %%; that depends on which side is 100 %%",
			n.Places, 100*n.Values[0], n.Places, 100*n.Values[1])
	}
	return string(n.Kind)
}

// oneSitting is what follows for runs without sessions.
const oneSitting = "valid for this sitting only, since a reboot can shift all runs."

// usualRuns is "3 runs" or "2.5 runs".
func usualRuns(n float64) string {
	if n == 1 {
		return "1 run"
	}
	return compare.Decimal(n, 12) + " runs"
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
	var coarse []string
	for _, r := range c.Judged() {
		for _, n := range r.Notes {
			if n.Kind != compare.NoteLevel { // see methodSection
				if n.Kind == compare.NoteCoarse {
					coarse = append(coarse, Clean(fmt.Sprintf("%s (%s)", r.Name(), stepText(n))))
				} else {
					by.add(ComparisonNote(n).Text, Clean(r.Name()))
				}
			}
		}
	}
	lines = append(lines, by.lines()...)
	if len(coarse) > 0 {
		lines = append(lines, "coarse steps: "+compare.List(coarse, 6))
	}
	return lines
}

// levelNote says how often a false level is to be expected among several rows; none
// where none is level. To hold level by intervals that hold for all at once would cost
// too much: of 12 unchanged scores at 8 + 8 with a spread of 0.3 % and a tolerance of
// 0.5 % then 19 % are level instead of 69. At the boundary 18 to 26 % of such screens
// show a level (100 repetitions a cell), as many as independent rows would.
func levelNote(c *compare.Comparison) []string {
	rows, level := 0, false
	for _, r := range c.Results {
		if r.Verdict != nil && r.Tolerance != nil && *r.Tolerance > 0 && r.CanLevel(c.Confidence) {
			rows++
			level = level || *r.Verdict == compare.Level
		}
	}
	if rows < 2 || !level {
		return nil
	}
	each := (1 + c.Confidence) / 2
	return []string{fmt.Sprintf("level holds at %s %% for each row by itself; were all %d changes at their tolerance, up to %s %% of such "+
		"screens would show one", compare.Decimal(100*each, 1), rows, compare.Decimal(100*(1-math.Pow(each, float64(rows))), 0))}
}

// costsFailNothing reports whether there are costs that the verdicts do not decide by.
func costsFailNothing(c *compare.Comparison) bool {
	return slices.ContainsFunc(c.Results, func(r *compare.Result) bool { return r.Role == compare.Cost && !r.Decides })
}

// excludedRunText is a run that does not count, and why.
func excludedRunText(a compare.ExcludedRun) string {
	where := ""
	if a.Machine != "" {
		where += ", machine " + a.Machine
	}
	if a.Session != "" {
		where += ", session " + a.Session
	}
	if a.Run != "" {
		where += ", run " + a.Run
	}
	return Clean(fmt.Sprintf("set aside: %s, %s%s: %s", a.Profile, a.Benchmark, where, a.Reason))
}

// stepText is the step of coarse readings with its unit.
func stepText(n compare.Note) string { return strings.TrimSpace(sixDigits(n.Value) + " " + n.Unit) }
