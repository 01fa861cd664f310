package compare

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"tunegate/stats"
)

func (r *Result) note(kind, format string, args ...any) {
	r.Notes = append(r.Notes, Note{kind, fmt.Sprintf(format, args...)})
}

func (c *Comparison) note(kind, format string, args ...any) {
	c.Notes = append(c.Notes, Note{kind, fmt.Sprintf(format, args...)})
}

// addNotes states what a careful reader would ask about.
func (c *Comparison) addNotes() {
	for _, r := range c.Results {
		r.addNotes(c)
	}
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
		c.note("sessions-not-recorded", "%s: each run counts as its own session, so a verdict holds for this sitting only; "+
			"a reboot can move every run of a sitting together (add a column `session`)", which)
	}
	if shared > 0 {
		c.note("shared-labels", "both sides use the same session labels; if each label was one sitting with both profiles in it, "+
			"say so in a column `block` and the comparison is made within each sitting")
	}
	if notRun > 0 {
		c.note("not-run", "empty cells, not yet run: %d", notRun)
	}
	if warmUps > 0 {
		c.note("warm-up", "%d warm-up runs left out", warmUps)
	}
	if len(c.Absent) > 0 {
		c.note("absent", "named in the policy, but missing on one side or both: %s; still counted in the correction, for %d in all", list(c.Absent, 6), c.Family)
	}
	var unnamed []string
	for _, r := range c.Results {
		if !r.Named && r.Role == Score {
			unnamed = append(unnamed, r.Name())
		}
	}
	if len(unnamed) > 0 {
		c.note("not-in-policy", "shown but not judged, since the policy does not name it: %s", list(unnamed, 6))
	}
}

// sharesLabels reports whether the sides use session labels of each other
// without saying that they are blocks.
func (r *Result) sharesLabels() bool {
	if r.blocks != nil {
		return false
	}
	seen := map[string]bool{}
	for s := range r.before.spells() {
		seen[s.label] = s.label != ""
	}
	for s := range r.after.spells() {
		if seen[s.label] {
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

func (r *Result) addNotes(c *Comparison) {
	if r.leftOut != "" {
		r.note("left-out", "%s", r.leftOut)
	}
	if r.blocks == nil && len(r.before.blocked)+len(r.after.blocked) > 0 {
		r.note("no-complete-block", "no block holds both sides, so runs are compared as sessions; a block is one sitting in which both sides were measured")
	}
	if r.Method == "normal" {
		r.note("normal-approximation", "p from the normal approximation: the exact distribution is too large for these sizes")
	}
	if r.IntervalMethod == "placements and rank inversion" {
		r.note("placements", "interval without resampling: with more than %d values the bootstrap and its limit agree", stats.BootstrapLimit)
	}
	if r.IntervalMethod == "Student, assumes normal differences" {
		r.note("student", "the interval assumes normal differences; %d blocks cannot settle anything, %d could", r.Replicates[0], r.FloorSize)
	}
	constant := func(s sample) bool { return s.Runs > 1 && s.Min == s.Max }
	switch b, a := constant(r.before), constant(r.after); {
	case (b || a) && r.Unit == ShareOfTime:
		r.note("constant", "on a side the limit was always, or never, passed")
	case b && a:
		r.note("constant", "every run gave the same value on each side: the readings are too coarse to tell how far apart the sides are; record more digits")
	case b:
		r.note("constant", "every run before gave the same value: record more digits")
	case a:
		r.note("constant", "every run after gave the same value: record more digits")
	case r.Tick > 0:
		r.note("coarse", "readings in steps of %s are coarse for their spread; the interval allows for it", strings.TrimSpace(sixDigits(r.Tick)+" "+r.Unit))
	}
	if r.before.labelled != r.after.labelled && r.blocks == nil {
		r.note("sessions-one-side", "only one side has sessions recorded; the other side's runs count as a session each")
	} else if mixed(r.before) || mixed(r.after) {
		r.note("sessions-partly", "some runs have no session label; each of them counts as a session of its own")
	}
	if r.Replication == BySession && r.before.usualRun != r.after.usualRun {
		r.note("unequal-runs", "runs a session: usually %s before and %s after; medians of different numbers of skewed runs differ by themselves; record the same odd number",
			Decimal(r.before.usualRun, 12), Decimal(r.after.usualRun, 12))
	}
	if few := min(r.Replicates[0], r.Replicates[1]); r.blocks == nil && r.Interval != nil && few < fewOnASide {
		r.note("few-on-one-side", "%d %ss on one side hardly show how far they scatter: should they scatter more than the other side's, the interval is too narrow; measure both sides alike", few, r.Replication)
	}
	if r.Replication == ByRun {
		for _, side := range []struct {
			name string
			s    sample
		}{{"before", r.before}, {"after", r.after}} {
			n := float64(len(side.s.raw))
			if rho := stats.Lag1(side.s.raw); n >= 10 && rho > 1.96/math.Sqrt(n) {
				r.note("dependent-runs", "runs %s depend on the run before them (lag-1 correlation %.2f): the interval is too narrow; record sessions", side.name, rho)
			}
		}
	}
	r.addVerdictNotes(c.Confidence)
}

// addVerdictNotes states what follows from the correction, in place of what was
// stated under another.
func (r *Result) addVerdictNotes(confidence float64) {
	r.Notes = slices.DeleteFunc(r.Notes, func(n Note) bool { return n.Kind == "real-alone" || n.Kind == "test-alone" || n.Kind == "level" })
	if r.AloneNotAmong {
		r.note("real-alone", "real alone, not among %d tests: of so many one looks real now and then by luck", r.Among)
	}
	if r.Interval != nil && !r.Real && r.PAdjusted <= 1-confidence+slack && r.Interval[0] <= 0 && r.Interval[1] >= 0 {
		r.note("test-alone", "the test calls this real but the interval holds 0: counted as not settled")
	}
	if r.Verdict != nil && *r.Verdict == Level {
		r.note("level", "equivalent within the tolerance: each side of the interval excludes a larger change at %s %%",
			Decimal(100*(1+confidence)/2, 1))
	}
}

func mixed(s sample) bool {
	if !s.labelled {
		return false
	}
	for x := range s.spells() {
		if x.label == "" {
			return true
		}
	}
	return false
}

// sixDigits writes a difference of decimal numbers without its rounding noise.
func sixDigits(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
