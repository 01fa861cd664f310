package history

import (
	"math"
	"slices"
	"testing"

	"tunegate/compare"
)

// Histories that were built to be misjudged, each read rightly or said to be open. 12
// commits of 3 sessions of a time around 400 s; a session's standard deviation is 1 %.
func TestMisleadingHistories(t *testing.T) {
	// A scatter of a session that is no luck: it repeats from commit to commit, in
	// another order each time.
	scatter := []float64{-1.1, 0.2, 0.8, 0.1, -0.6, 1.2, -0.3, 0.9, -0.9, 0.5, -1.3, 0.4, 1.0, -0.1, -0.7}
	session := func(commit, k int, level, spread float64, runs int) []float64 {
		own := level + spread*scatter[(3*commit+k)%len(scatter)]
		out := make([]float64, runs)
		for i := range out {
			out[i] = 400 * math.Exp(0.01*(own+0.2*scatter[(commit+k+5*i+7)%len(scatter)]))
		}
		return out
	}
	past := func(of func(commit, k int) []float64) [][][]float64 {
		var commits [][][]float64
		for commit := range 12 {
			var sessions [][]float64
			for k := range 3 {
				sessions = append(sessions, of(commit, k))
			}
			commits = append(commits, sessions)
		}
		return commits
	}
	late := func(commit, from int) float64 {
		if commit >= from {
			return 1
		}
		return 0
	}
	luck := []float64{0.4, -0.9, 0.7, -0.2, -1.1, 0.8, 0.1, -0.5, 0.3, 1.3, 0.6, 1.5} // the last three happen to be slow
	for _, c := range []struct {
		name    string
		commits [][][]float64
		shifts  bool     // there are any
		worse   bool     // the newest level was reached by a loss
		note    NoteKind // that says what else it may be; empty where nothing else is
	}{
		// 0.4 standard deviations a commit, and never a step: the level did change.
		// It shows as several shifts in the same direction, none settled by commits.
		{"a slow drift", past(func(i, k int) []float64 { return session(i, k, 0.4*float64(i), 1, 2) }), true, true, NoteCommitLuck},
		{"five times the spread at the same middle", past(func(i, k int) []float64 { return session(i, k, 0, 1+4*late(i, 6), 2) }), false, false, ""},
		{"a wider spread beside a shift", past(func(i, k int) []float64 { return session(i, k, 3*late(i, 6), 1+2*late(i, 6), 2) }), true, true,
			NoteSpread},
		{"luck that the sessions of a commit share", past(func(i, k int) []float64 { return session(i, k, luck[i], 0.3, 2) }), true, true,
			NoteCommitLuck},
		{"one commit measured beside another job", past(func(i, k int) []float64 {
			return session(i, k, 6*(late(i, 5)-late(i, 6)), 1, 2)
		}), false, false, ""},
		{"more runs a session beside a shift", past(func(i, k int) []float64 {
			return session(i, k, -3*late(i, 6), 1, 2+int(5*late(i, 6)))
		}), true, false, NoteUnequalRuns},
	} {
		h, track := trackOf(t, c.commits)
		h.Tracks = []*Track{track}
		track.Role, track.Named = compare.Score, true
		if got := len(track.Shifts) > 0; got != c.shifts {
			t.Errorf("%s: %d shifts", c.name, len(track.Shifts))
		}
		if got := len(h.Worse()) > 0; got != c.worse {
			t.Errorf("%s: worse is %v", c.name, got)
		}
		notes := h.notes()
		if c.note != "" && !slices.ContainsFunc(notes, func(n Note) bool { return n.Kind == c.note }) {
			t.Errorf("%s: no note %s; %+v", c.name, c.note, notes)
		}
		if flagged := slices.ContainsFunc(notes, func(n Note) bool {
			return n.Kind == NoteCommitLuck || n.Kind == NoteSpread || n.Kind == NoteUnequalRuns
		}); flagged && c.note == "" {
			t.Errorf("%s: noted without cause: %+v", c.name, notes)
		}
	}
}
