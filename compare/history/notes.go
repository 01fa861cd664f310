package history

import (
	descriptive "github.com/montanaflynn/stats"

	"tunegate/stats/check"
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
	NoteUnread       NoteKind = "unread"             // a commit that cannot be read, and why
	NoteLeftOut      NoteKind = "left-out"           // a metric that cannot be followed, and why
	NoteNotInSuite   NoteKind = "not-in-suite"       // scores that too few points measured
	NoteIncomplete   NoteKind = "suite-incomplete"   // commits that lack scores of the suite
	NoteNotSearched  NoteKind = "suite-not-searched" // for want of sessions that hold all of its scores
	NoteNoSessions   NoteKind = "no-sessions"        // of these metrics; without names, of any
	NoteCommitsApart NoteKind = "commits-apart"      // metrics whose commits differ by more than their sessions
	NoteTooFew       NoteKind = "too-few"            // metrics whose sessions could show no change of any size
	NoteMachines     NoteKind = "machines"           // metrics measured on several machines, each of which counts once at a commit
	NoteWithdrawn    NoteKind = "withdrawn"          // rows altered or removed while the settings stayed
	NoteFlattered    NoteKind = "flattered"          // a change is measured by the runs that picked its place
)

// notes says what a careful reader would ask about levels and changes.
func (h *History) notes() []Note {
	var out []Note
	note := func(kind NoteKind, metrics []string) {
		out = append(out, Note{Kind: kind, Names: metrics})
	}
	var few, loose, far, machines []string
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
		if t.commitsApart() {
			far = append(far, t.Name())
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
	if len(far) > 0 {
		note(NoteCommitsApart, far)
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

// commitsApart reports whether commits differ by more than their sessions,
// where no change of level explains it: the F test of a one-way layout, each
// level's median taken out. The levels were fitted, so it finds less than it
// could.
func (t *Track) commitsApart() bool {
	ends := []int{}
	for _, c := range t.Shifts {
		ends = append(ends, c.First)
	}
	ends = append(ends, len(t.values))
	var groups [][]float64
	from, several := 0, false
	for _, end := range ends {
		var all []float64
		n := len(groups)
		for _, v := range t.values[from:end] {
			all = append(all, v...)
		}
		if len(all) > 0 {
			middle, _ := descriptive.Median(all) // it only fails on empty input
			for _, v := range t.values[from:end] {
				if len(v) > 1 {
					centred := make([]float64, len(v))
					for i, x := range v {
						centred[i] = x - middle
					}
					groups = append(groups, centred)
				}
			}
		}
		several = several || len(groups) > n+1
		from = end
	}
	if !several {
		return false
	}
	_, p := check.SessionsApart(groups, 0)
	return p < 0.01
}
