package history

import (
	"slices"

	descriptive "github.com/montanaflynn/stats"

	"tunegate/stats"
)

// Note is something that a reader should know about a history. Which fields are
// filled depends on its kind; package report puts it into words.
type Note struct {
	Kind   NoteKind
	Names  []string // of metrics or commits
	Counts []int    // of points that measured each metric
	Of     int      // points
	Count  int      // of rows
	Err    error
}

// NoteKind says what a note is about.
type NoteKind string

// The kinds of notes.
const (
	NoteUnread      NoteKind = "unread"             // a commit that cannot be read, and why
	NoteLeftOut     NoteKind = "left-out"           // a metric that cannot be followed, and why
	NoteNotInSuite  NoteKind = "not-in-suite"       // scores that too few points measured
	NoteIncomplete  NoteKind = "suite-incomplete"   // commits that lack scores of the suite
	NoteNotSearched NoteKind = "suite-not-searched" // for want of sessions that hold all of its scores
	NoteNoSessions  NoteKind = "no-sessions"        // of these metrics; without names, of any
	NoteCommitLuck  NoteKind = "commit-luck"        // metrics with a shift that is not settled where each commit counts once
	NoteSpread      NoteKind = "spread-changed"     // metrics whose spread changed with a shift
	NoteUnequalRuns NoteKind = "unequal-runs"       // metrics whose runs a session changed with a shift
	NoteTooFew      NoteKind = "too-few"            // metrics whose sessions could show no change of any size
	NoteMachines    NoteKind = "machines"           // metrics measured on several machines, each of which counts once at a commit
	NoteWithdrawn   NoteKind = "withdrawn"          // rows altered or removed while the settings stayed
	NoteFlattered   NoteKind = "flattered"          // a change is measured by the runs that picked its place
)

// notes says what a careful reader would ask about levels and changes.
func (h *History) notes() []Note {
	var out []Note
	note := func(kind NoteKind, metrics []string) {
		out = append(out, Note{Kind: kind, Names: metrics})
	}
	var few, loose, luck, spread, unequal, machines []string
	sessions, withdrawn := false, 0
	for _, t := range h.Tracks {
		if t.suite != nil {
			continue
		}
		recorded := true
		for _, l := range t.Measured {
			recorded = recorded && (l == nil || l.Sessions > 0)
		}
		sessions = sessions || recorded
		if !recorded {
			loose = append(loose, t.Name())
		}
		if !t.CanFind && t.Newest() > t.First() {
			few = append(few, t.Name())
		}
		if t.perMachine {
			machines = append(machines, t.Name())
		}
	}
	for _, t := range h.Tracks {
		if slices.ContainsFunc(t.Shifts, func(s *Shift) bool { return !s.byCommit }) {
			luck = append(luck, t.Name())
		}
		if slices.ContainsFunc(t.Shifts, t.spreadChanged) {
			spread = append(spread, t.Name())
		}
		if slices.ContainsFunc(t.Shifts, t.runsChanged) {
			unequal = append(unequal, t.Name())
		}
	}
	for _, point := range h.Points {
		withdrawn += point.Withdrawn
	}
	switch {
	case len(loose) > 0 && !sessions:
		note(NoteNoSessions, nil)
	case len(loose) > 0:
		note(NoteNoSessions, loose)
	}
	if len(luck) > 0 {
		note(NoteCommitLuck, luck)
	}
	if len(spread) > 0 {
		note(NoteSpread, spread)
	}
	if len(unequal) > 0 {
		note(NoteUnequalRuns, unequal)
	}
	if len(few) > 0 {
		note(NoteTooFew, few)
	}
	if len(machines) > 0 {
		note(NoteMachines, machines)
	}
	if withdrawn > 0 {
		out = append(out, Note{Kind: NoteWithdrawn, Count: withdrawn})
	}
	for _, t := range h.Tracks {
		if len(t.Shifts) > 0 {
			note(NoteFlattered, nil)
			break
		}
	}
	return out
}

// settledByCommit reports whether the stretch around a shift shows one at this level where each
// commit counts once, by the median of its sessions. That holds whatever the sessions of
// a commit share.
func (t *Track) settledByCommit(s *Shift, alpha float64, draws int, seed uint64) bool {
	var commits [][]float64
	for _, v := range t.values[s.From : s.To+1] {
		if len(v) > 0 {
			commits = append(commits, []float64{stats.Median(v)})
		}
	}
	return stats.MaxRank(commits, draws, seed).P <= alpha+1e-12
}

// sides are what counts once on both sides of a shift.
func (t *Track) sides(s *Shift) (before, after []float64) {
	return slices.Concat(t.values[s.From : s.Last+1]...), slices.Concat(t.values[s.First : s.To+1]...)
}

// spreadFactor is from which ratio of the standard deviations on a spread changed.
const spreadFactor = 2

// spreadChanged reports whether the values on both sides of a shift, at least 4 each,
// spread differently.
func (t *Track) spreadChanged(s *Shift) bool {
	before, after := t.sides(s)
	if min(len(before), len(after)) < 4 {
		return false
	}
	a, _ := descriptive.StandardDeviationSample(before) // it only fails on empty input
	b, _ := descriptive.StandardDeviationSample(after)
	return max(a, b) > spreadFactor*min(a, b)
}

// runsChanged reports whether the sessions on both sides of a shift have different usual
// numbers of runs.
func (t *Track) runsChanged(s *Shift) bool {
	usual := func(from, to int) float64 {
		var runs []float64
		for _, m := range t.Measured[from : to+1] {
			if m != nil && m.Sessions > 0 {
				runs = append(runs, m.usualRuns)
			}
		}
		if len(runs) == 0 {
			return 0
		}
		return stats.Median(runs)
	}
	before, after := usual(s.From, s.Last), usual(s.First, s.To)
	return before > 0 && after > 0 && before != after
}
