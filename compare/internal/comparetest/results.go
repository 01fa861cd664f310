package comparetest

import (
	"math"

	"tunegate/compare"
)

// Only is the one result of a comparison.
func Only(t failer, c *compare.Comparison) *compare.Result {
	t.Helper()
	if len(c.Results) != 1 {
		t.Fatalf("%d results, want 1", len(c.Results))
	}
	return c.Results[0]
}

// Near reports whether got lies within a share of want, or of 1 where that is more.
func Near(got, want, within float64) bool {
	return got == want || math.Abs(got-want) <= within*math.Max(1, math.Abs(want))
}

// VerdictOf is the verdict, empty for none.
func VerdictOf(r *compare.Result) compare.Verdict {
	if r.Verdict == nil {
		return ""
	}
	return *r.Verdict
}

// Kinds are the kinds of notes.
func Kinds(notes []compare.Note) map[compare.NoteKind]bool {
	out := map[compare.NoteKind]bool{}
	for _, n := range notes {
		out[n.Kind] = true
	}
	return out
}

// NoteOf is the first note of a kind, empty where there is none.
func NoteOf(notes []compare.Note, kind compare.NoteKind) compare.Note {
	for _, n := range notes {
		if n.Kind == kind {
			return n
		}
	}
	return compare.Note{}
}
