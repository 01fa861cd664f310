package compare

import (
	"fmt"
	"math"
	"strings"

	"tunegate/stats"
	"tunegate/stats/check"
)

// noteList collects notes.
type noteList []Note

func (l *noteList) add(kind, format string, args ...any) {
	*l = append(*l, Note{kind, fmt.Sprintf(format, args...)})
}

// notes states what a careful reader would ask about what is paired up.
func (p *Pairing) notes() []Note {
	var out noteList
	if len(p.NoValidRun) > 0 {
		out.add("no-valid-run", "no valid run on either side yet: %s", List(p.NoValidRun, 12))
	}
	return out
}

// notes states what a careful reader would ask about a comparison as a whole.
func (c *Comparison) notes() []Note {
	var out noteList
	var unlabelled, shared, notRun, warmUps int
	for _, r := range c.Results {
		if r.Replication == ByRun {
			unlabelled++
		}
		if r.sharesLabels() {
			shared++
		}
		notRun += r.Before.NotRun + r.After.NotRun
		warmUps += r.Before.WarmUps + r.After.WarmUps
	}
	if unlabelled > 0 {
		which := "no sessions are recorded"
		if unlabelled < len(c.Results) {
			which = fmt.Sprintf("no sessions are recorded for %d of %d metrics", unlabelled, len(c.Results))
		}
		out.add("sessions-not-recorded", "%s: each run counts as its own session, so a verdict holds for this sitting only; "+
			"a reboot can move every run of a sitting together (add a column `session`)", which)
	}
	if shared > 0 {
		out.add("shared-labels", "both sides use the same session labels; if each label was one sitting with both profiles in it, "+
			"say so in a column `block` and the comparison is made within each sitting")
	}
	if notRun > 0 {
		out.add("not-run", "empty cells, not yet run: %d", notRun)
	}
	if warmUps > 0 {
		out.add("warm-up", "%d warm-up runs left out", warmUps)
	}
	if len(c.Absent) > 0 {
		out.add("absent", "named in the policy, but missing on one side or both: %s; still counted in the correction, for %d in all",
			List(c.Absent, 6), c.Family)
	}
	var unnamed []string
	for _, r := range c.Results {
		if !r.Named && r.Role == Score {
			unnamed = append(unnamed, r.Name())
		}
	}
	if len(unnamed) > 0 {
		out.add("not-in-policy", "shown but not judged, since the policy does not name it: %s", List(unnamed, 6))
	}
	return out
}

// sharesLabels reports whether the sides use session labels of each other
// without saying that they are blocks.
func (p *Pair) sharesLabels() bool {
	if p.Blocks != nil {
		return false
	}
	seen := map[string]bool{}
	for s := range p.Before.Spells() {
		seen[s.Label] = s.Label != ""
	}
	for s := range p.After.Spells() {
		if seen[s.Label] {
			return true
		}
	}
	return false
}

// fewOnASide is where intervals begin to cover unequal spreads, however many
// there are on the other side: 2 and 12 of which the 2 spread four times as far
// are covered in 75 %, 3 and 6 in 88 %, 4 and 15 of which the 4 spread twice as
// far in 94 %.
const fewOnASide = 4

// notes states what a careful reader would ask about a metric's result.
func (m *Measurement) notes(j Judgement, o Outlook, confidence float64) []Note {
	out := noteList{}
	if m.UnitFrom != "" {
		side := map[string]string{"before": "after", "after": "before"}[m.UnitFrom]
		out.add("unit-one-side", "no unit is stated %s; taken to be in %s there, too: state it on both sides", side, m.Unit)
	}
	if x := m.Excluded; x != nil && x.InBlocks {
		out.add("left-out", "left out: %d of %d runs, those in blocks, because the runs outside blocks can settle more; the two are never mixed",
			x.Runs, x.Of)
	} else if x != nil {
		out.add("left-out", "left out: %d of %d runs, those outside complete blocks; blocked and unblocked runs are never mixed", x.Runs, x.Of)
	}
	if m.Blocks == nil && (m.Before.Blocked() || m.After.Blocked()) {
		out.add("no-complete-block", "no block holds both sides, so runs are compared as sessions; a block is one sitting in which both "+
			"sides were measured")
	}
	if m.Method == "normal" {
		out.add("normal-approximation", "p from the normal approximation: the exact distribution is too large for these sizes")
	}
	if m.IntervalMethod == IntervalPlacements {
		out.add("placements", "interval without resampling: with more than %d values the bootstrap and its limit agree", stats.BootstrapLimit)
	}
	if m.IntervalMethod == IntervalStudent {
		out.add("student", "the interval assumes normal differences; %d blocks cannot settle anything, %d could", m.Replicates[0],
			o.MinSampleSize)
	}
	m.noteCoarse(&out)
	m.noteSessions(&out)
	if m.Replication == ByRun {
		for _, side := range []struct {
			name string
			raw  []float64
		}{{"before", m.Before.Raw}, {"after", m.After.Raw}} {
			n := float64(len(side.raw))
			if rho := check.Lag1(side.raw); n >= 10 && rho > 1.96/math.Sqrt(n) {
				out.add("dependent-runs", "runs %s depend on the run before them (lag-1 correlation %.2f): the interval is too narrow; record sessions",
					side.name, rho)
			}
		}
	}
	return append(out, m.verdictNotes(j, confidence)...)
}

// noteCoarse is about readings that are constant, or coarse for their spread.
func (m *Measurement) noteCoarse(out *noteList) {
	constant := func(s Sample) bool { return s.Runs > 1 && s.Min == s.Max }
	switch b, a := constant(m.Before), constant(m.After); {
	case (b || a) && m.Unit == ShareOfTime:
		out.add("constant", "on a side the limit was always, or never, passed")
	case b && a:
		out.add("constant", "every run gave the same value on each side: the readings are too coarse to tell how far apart the sides are; "+
			"record more digits")
	case b:
		out.add("constant", "every run before gave the same value: record more digits")
	case a:
		out.add("constant", "every run after gave the same value: record more digits")
	case m.Resolution > 0:
		out.add("coarse", "readings in steps of %s are coarse for their spread; the interval allows for it",
			strings.TrimSpace(SixDigits(m.Resolution)+" "+m.Unit))
	}
}

// noteSessions is about session labels, and few or unequal numbers of runs.
func (m *Measurement) noteSessions(out *noteList) {
	if m.Before.Labelled != m.After.Labelled && m.Blocks == nil {
		out.add("sessions-one-side", "only one side has sessions recorded; the other side's runs count as a session each")
	} else if m.Before.partlyLabelled() || m.After.partlyLabelled() {
		out.add("sessions-partly", "some runs have no session label; each of them counts as a session of its own")
	}
	if m.Replication == BySession && m.Before.UsualRuns != m.After.UsualRuns {
		out.add("unequal-runs", "runs a session: usually %s before and %s after; medians of different numbers of skewed runs differ by "+
			"themselves; record the same odd number",
			Decimal(m.Before.UsualRuns, 12), Decimal(m.After.UsualRuns, 12))
	}
	if few := min(m.Replicates[0], m.Replicates[1]); m.Blocks == nil && m.Interval != nil && few < fewOnASide {
		out.add("few-on-one-side", "%d %ss on one side hardly show how far they scatter: should they scatter more than the other side's, "+
			"the interval is too narrow; measure both sides alike", few, m.Replication)
	}
}

// verdictNotes states what follows from the correction.
func (m *Measurement) verdictNotes(j Judgement, confidence float64) []Note {
	var out noteList
	if j.UncorrectedOnly {
		out.add("real-alone", "real alone, not among %d tests: of so many one looks real now and then by luck", j.Among)
	}
	if m.Interval != nil && !j.Real && j.PAdjusted <= 1-confidence+slack && m.Interval[0] <= 0 && m.Interval[1] >= 0 {
		out.add("test-alone", "the test calls this real but the interval holds 0: counted as not settled")
	}
	if j.Verdict != nil && *j.Verdict == Level {
		out.add("level", "equivalent within the tolerance: each side of the interval excludes a larger change at %s %%",
			Decimal(100*(1+confidence)/2, 1))
	}
	return out
}
