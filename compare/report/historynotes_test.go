package report

import (
	"errors"
	"testing"

	"tunegate/compare/history"
)

// Every kind of note has a sentence with the values of its fields.
func TestHistoryNotes(t *testing.T) {
	hash := "0123456789abcdef0123456789abcdef01234567"
	wrong := errors.New("a.csv:3: no number")
	for _, c := range []struct {
		note       history.Note
		kind, want string
	}{
		{history.Note{Kind: history.NoteUnread, Names: []string{hash}, Err: wrong}, "unread",
			"0123456 is left out, since it cannot be read: a.csv:3: no number; what it brought counts for the next commit"},
		{history.Note{Kind: history.NoteLeftOut, Names: []string{"tile-render"}, Err: wrong}, "left-out",
			"tile-render is left out: a.csv:3: no number"},
		{history.Note{Kind: history.NoteNotInSuite, Names: []string{"mesh-solve", "archive-pack"}, Counts: []int{2, 1}, Of: 5}, "suite",
			"not in the suite: mesh-solve (measured at 2 of 5 commits), archive-pack (measured at 1 of 5 commits)"},
		{history.Note{Kind: history.NoteIncomplete, Names: []string{hash}}, "suite",
			"not all scores of the suite were measured at 0123456; there is no suite there"},
		{history.Note{Kind: history.NoteNotSearched}, "suite",
			"the suite is not searched for shifts: that needs sessions that hold all of its scores at every " +
				"commit"},
		{history.Note{Kind: history.NoteNoSessions}, "no-sessions",
			"no session is recorded, so each run counts by itself; runs of one commit share the luck of its " +
				"sitting, and a shift found here may be no more than that"},
		{history.Note{Kind: history.NoteNoSessions, Names: []string{"tile-render"}}, "no-sessions",
			"not all runs have a session: tile-render; runs of one commit share the luck of its sitting, " +
				"and a shift found there may be no more than that"},
		{history.Note{Kind: history.NoteCommitLuck, Names: []string{"a", "b"}}, "commit-luck",
			"with each commit counted once, a shift of these is not settled: a, b; sessions of one commit share " +
				"some luck (the day, the room), and the shift may be no more than that"},
		{history.Note{Kind: history.NoteSpread, Names: []string{"a"}}, "spread-changed",
			"with a shift the spread of these changed as well: a; the runs changed, but a wider spread at the same " +
				"median can pass for a shift"},
		{history.Note{Kind: history.NoteUnequalRuns, Names: []string{"a"}}, "unequal-runs",
			"with a shift the number of runs a session changed: a; medians of different numbers of runs differ a " +
				"little by themselves"},
		{history.Note{Kind: history.NoteTooFew, Names: []string{"a", "b"}}, "too-few",
			"too few sessions to find a shift of any size: a, b"},
		{history.Note{Kind: history.NoteWithdrawn, Count: 3}, "withdrawn", "rows that were altered or removed while the settings stayed " +
			"do not count; what stands in their place does, at the commit that put it there: 3"},
		{history.Note{Kind: history.NoteFlattered}, "flattered",
			"the place of a shift is picked by the same runs that measure it, so its size is a little flattered"},
	} {
		if got := historyNote(c.note); got != (Note{Kind: c.kind, Text: c.want}) {
			t.Errorf("%s:\n%+v\nwant\n%s", c.note.Kind, got, c.want)
		}
	}
}
