package compare

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"tunegate/stats"
	"tunegate/stats/check"
	"tunegate/stats/plan"
)

// Note is something that a reader should know about a comparison, a metric or a
// suite. Which fields are filled depends on its kind; package report puts it into
// words.
type Note struct {
	Kind        NoteKind
	Suite       string      // the name of what is pooled
	Names       []string    // of metrics
	Side        string      // "before" or "after"; empty for both
	Unit        string      // of the metric
	Replication Replication // what is counted
	Count, Of   int
	Value       float64
	Values      [2]float64
	Places      int // decimals of a per cent to which Values are quoted
}

// NoteKind says what a note is about.
type NoteKind string

// The kinds of notes on a comparison as a whole.
const (
	NoteNoValidRun   NoteKind = "no-valid-run"          // names that have none on either side yet
	NoteNoSessions   NoteKind = "sessions-not-recorded" // for a count of all metrics, so that each run counts
	NoteMachines     NoteKind = "machines"              // each counts once: how many before and after; with Names where some runs state none
	NoteOneMachine   NoteKind = "one-machine-a-side"    // Names of the machines before and after, which differ; empty for not stated
	NoteSharedLabels NoteKind = "shared-labels"         // both sides use the same session labels, and no blocks
	NoteNotRun       NoteKind = "not-run"               // a count of empty cells
	NoteWarmUp       NoteKind = "warm-up"               // a count of runs that are left out
	NoteAbsent       NoteKind = "absent"                // names that the policy has and not both sides, in a family of so many
	NoteNotInPolicy  NoteKind = "not-in-policy"         // names of scores that are shown only
)

// The kinds of notes on a metric.
const (
	NoteUnitOneSide     NoteKind = "unit-one-side"        // this side states none; the other side's is taken
	NoteBlocksOut       NoteKind = "blocks-left-out"      // a count of all runs, those in blocks
	NoteOutsideBlocks   NoteKind = "outside-blocks"       // a count of all runs, those outside complete blocks
	NoteNoBlock         NoteKind = "no-complete-block"    // none holds both sides
	NoteNormal          NoteKind = "normal-approximation" // the exact distribution is too large
	NotePlacements      NoteKind = "placements"           // no resampling with more values than the count
	NoteStudent         NoteKind = "student"              // the test rests on normal noise: a count of blocks, and from how many on it does not
	NoteConstant        NoteKind = "constant"             // every run of the side gave the same value
	NoteConstantShare   NoteKind = "constant-share"       // a limit was always, or never, passed
	NoteCoarse          NoteKind = "coarse"               // readings in steps of the value
	NoteSessionsOneSide NoteKind = "sessions-one-side"    // only one side records them
	NoteSessionsPartly  NoteKind = "sessions-partly"      // some runs have no label
	NoteUnequalRuns     NoteKind = "unequal-runs"         // so that sessions count by their first ones; usual numbers before and after
	NoteFewOnASide      NoteKind = "few-on-one-side"      // a count that hardly shows how far they scatter
	NoteFewAreNoisier   NoteKind = "few-are-noisier"      // one side is much smaller and spreads further
	NoteDependentRuns   NoteKind = "dependent-runs"       // of the side, with their lag-1 correlation
	NoteRealAlone       NoteKind = "real-alone"           // not among a count of tests
	NoteTestAlone       NoteKind = "test-alone"           // the test calls the change real, and the interval holds 0
	NoteLevel           NoteKind = "level"                // each side of the interval excludes more than the tolerance at this confidence
)

// The kinds of notes on a suite; the first five say why there is none.
const (
	NoteUnitsDiffer  NoteKind = "units-differ"  // of what would be averaged
	NoteNoCommon     NoteKind = "no-common"     // session, machine or run holds every score on a side, or no block on both
	NoteSomeBlocks   NoteKind = "some-blocks"   // only some scores are compared in blocks
	NoteSomeMachines NoteKind = "some-machines" // the scores are not all of the same machines
	NoteSomeLabels   NoteKind = "some-labels"   // only some runs have a session label

	NoteTogether           NoteKind = "together"            // its scores settle what none of them settles alone
	NoteIncompleteBlocks   NoteKind = "incomplete-blocks"   // only a count of all blocks hold every score
	NoteIncompleteSessions NoteKind = "incomplete-sessions" // a count of all sessions, those that lack a score
	NoteIncompleteMachines NoteKind = "incomplete-machines" // a count of all machines, those that lack a score
	NotePasses             NoteKind = "passes"              // the k-th runs of all scores are taken for one pass
	NoteIncompletePasses   NoteKind = "incomplete-passes"   // a count of all passes, those that lack a score
	NoteFewPasses          NoteKind = "few-passes"          // no verdict: fewer on a side than the count
	NoteArithmetic         NoteKind = "arithmetic"          // the mean of the percentages, and the geometric mean
)

// noteList collects notes.
type noteList []Note

func (l *noteList) addIf(holds bool, n Note) {
	if holds {
		*l = append(*l, n)
	}
}

// notes states what a careful reader would ask about a comparison as a whole,
// pooled being what came up about its suites.
func (c *Comparison) notes(pooled []Note) []Note {
	var unrun, unnamed []string
	for _, o := range c.Unpaired {
		if o.Why == NoValidRun {
			unrun = append(unrun, o.Name)
		}
	}
	var machines Note
	var unlabelled, shared, notRun, warmUps int
	for _, r := range c.Results {
		if r.Replication == ByRun {
			unlabelled++
		}
		if r.sharesLabels() {
			shared++
		}
		if machines.Kind == "" {
			machines = r.machineNote()
		}
		notRun += r.Before.NotRun + r.After.NotRun
		warmUps += r.Before.WarmUps + r.After.WarmUps
		if !r.Named && r.Role == Score {
			unnamed = append(unnamed, r.Name())
		}
	}
	out := noteList{}
	out.addIf(len(unrun) > 0, Note{Kind: NoteNoValidRun, Names: unrun})
	out = append(out, pooled...)
	out.addIf(unlabelled > 0, Note{Kind: NoteNoSessions, Count: unlabelled, Of: len(c.Results)})
	out.addIf(machines.Kind != "", machines)
	out.addIf(shared > 0, Note{Kind: NoteSharedLabels})
	out.addIf(notRun > 0, Note{Kind: NoteNotRun, Count: notRun})
	out.addIf(warmUps > 0, Note{Kind: NoteWarmUp, Count: warmUps})
	out.addIf(len(c.Absent) > 0, Note{Kind: NoteAbsent, Names: c.Absent})
	out.addIf(len(unnamed) > 0, Note{Kind: NoteNotInPolicy, Names: unnamed})
	return out
}

// machineNote says that each machine counts once, or that the two sides are of one
// machine each and not known to be of the same; of no kind otherwise.
func (m *Measurement) machineNote() Note {
	b, a := m.Machines[0], m.Machines[1]
	if m.Replication == ByMachine {
		n := Note{Kind: NoteMachines, Count: m.Replicates[0], Of: m.Replicates[1]}
		if b[0] == "" || a[0] == "" {
			n.Names = []string{""}
		}
		return n
	}
	if b[0] != a[0] {
		return Note{Kind: NoteOneMachine, Names: []string{b[0], a[0]}}
	}
	return Note{}
}

// sharesLabels reports whether the sides use session labels of each other
// without saying that they are blocks.
func (p *Pair) sharesLabels() bool {
	if p.Blocks != nil {
		return false
	}
	seen := map[string]bool{}
	for _, s := range p.Before.Counted() {
		seen[s.Label] = s.Label != ""
	}
	return slices.ContainsFunc(p.After.Counted(), func(s Spell) bool { return seen[s.Label] })
}

// fewOnASide is where intervals begin to cover unequal spreads, however many
// there are on the other side: 2 and 12 of which the 2 spread four times as far
// are covered in 75 %, 3 and 6 in 88 %, 4 and 15 of which the 4 spread twice as
// far in 94 %.
const fewOnASide = 4

// notes states what a careful reader would ask about a metric's result.
func (m *Measurement) notes(j Judgement, o Outlook, confidence float64) []Note {
	out := noteList{}
	side := map[string]string{"before": "after", "after": "before"}[m.UnitFrom]
	out.addIf(m.UnitFrom != "", Note{Kind: NoteUnitOneSide, Side: side, Unit: m.Unit})
	if x := m.Excluded; x != nil {
		out.addIf(x.InBlocks, Note{Kind: NoteBlocksOut, Count: x.Runs, Of: x.Of, Replication: m.Replication})
		out.addIf(!x.InBlocks, Note{Kind: NoteOutsideBlocks, Count: x.Runs, Of: x.Of, Replication: m.Replication})
	}
	out.addIf(m.Blocks == nil && m.Replication != ByMachine && (m.Before.Blocked() || m.After.Blocked()), Note{Kind: NoteNoBlock})
	out.addIf(m.Method == "normal", Note{Kind: NoteNormal})
	out.addIf(m.IntervalMethod == IntervalPlacements, Note{Kind: NotePlacements, Count: stats.BootstrapLimit})
	out.addIf(m.IntervalMethod == IntervalStudent, Note{Kind: NoteStudent, Replication: m.Replication,
		Count: m.Replicates[0], Of: plan.MinRankBlocks(1 - confidence)})
	constant := func(s Sample) bool { return s.Runs > 1 && s.Min == s.Max }
	switch b, a := constant(m.Before), constant(m.After); {
	case (b || a) && m.Unit == ShareOfTime:
		out = append(out, Note{Kind: NoteConstantShare})
	case b && a:
		out = append(out, Note{Kind: NoteConstant})
	case b:
		out = append(out, Note{Kind: NoteConstant, Side: "before"})
	case a:
		out = append(out, Note{Kind: NoteConstant, Side: "after"})
	case m.Resolution > 0:
		out = append(out, Note{Kind: NoteCoarse, Value: m.Resolution, Unit: m.Unit})
	}
	return slices.Concat(out, m.sessionNotes(), m.verdictNotes(j, confidence))
}

// sessionNotes are about session labels, few or unequal numbers of runs, and runs
// that depend on each other.
func (m *Measurement) sessionNotes() (out noteList) {
	oneSide, few := m.Before.Labelled != m.After.Labelled && m.Replication == BySession, min(m.Replicates[0], m.Replicates[1])
	out.addIf(oneSide, Note{Kind: NoteSessionsOneSide})
	out.addIf(!oneSide && (m.Before.partlyLabelled() || m.After.partlyLabelled()), Note{Kind: NoteSessionsPartly})
	out.addIf(m.RunsMatched, Note{Kind: NoteUnequalRuns, Values: [2]float64{m.Before.UsualRuns, m.After.UsualRuns}})
	out.addIf(m.Blocks == nil && m.Interval != nil && few < fewOnASide, Note{Kind: NoteFewOnASide, Count: few, Replication: m.Replication})
	out.addIf(few >= fewOnASide && m.fewAreNoisier(), Note{Kind: NoteFewAreNoisier, Replication: m.Replication})
	for i, side := range m.sides() {
		if n := len(side.Raw); m.Replication == ByRun && n >= 10 {
			rho := check.Lag1(side.Raw)
			out.addIf(rho > 1.96/math.Sqrt(float64(n)), Note{Kind: NoteDependentRuns, Side: [2]string{"before", "after"}[i], Value: rho})
		}
	}
	return out
}

// verdictNotes states what follows from the correction.
func (m *Measurement) verdictNotes(j Judgement, confidence float64) (out noteList) {
	out.addIf(j.UncorrectedOnly, Note{Kind: NoteRealAlone, Count: j.Among})
	out.addIf(m.Interval != nil && !j.Real && m.PUsed <= 1-confidence+slack && m.Interval[0] <= 0 && m.Interval[1] >= 0,
		Note{Kind: NoteTestAlone})
	out.addIf(j.Verdict != nil && *j.Verdict == Level, Note{Kind: NoteLevel, Value: (1 + confidence) / 2})
	return out
}

// fewAreNoisier reports whether one side has at most two thirds of the other's values
// and spreads by half as much again. There up to one in six families of 24 unchanged
// scores shows a false alarm (4 and 12 values, the 4 three times as noisy).
func (m *Measurement) fewAreNoisier() bool {
	few, many := m.Before.Values, m.After.Values
	if len(few) > len(many) {
		few, many = many, few
	}
	return m.Blocks == nil && len(few) > 1 && 3*len(few) <= 2*len(many) && stat.StdDev(few, nil) > 1.5*stat.StdDev(many, nil)
}
