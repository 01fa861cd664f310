// Package history follows one profile through the commits of a results repository:
// what each commit measured, what the gate says of it, and where the level of a
// metric changed.
//
// NewPast begins a history, Past.Add takes in the commits, oldest first, and
// Past.History works out the result. A Point is a commit that changed the settings
// or the runs; a Track is one metric, or the suite, over the points, with the
// shifts: places where the runs changed. stats.ChangePoints finds them. It takes
// sessions to be independent and of one distribution while nothing changes. So where
// those of one commit share a deviation of their own, or the spread alone changes, too
// many shifts are found: NoteCommitLuck and NoteSpread warn.
//
// Notes are kinds with values. Package report puts them into words.
package history

import (
	"fmt"
	"slices"
	"time"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/internal/work"
)

// History is what became of one profile over the commits of a results
// repository.
type History struct {
	Profile string
	compare.Terms
	Policy string          // the newest policy, which is in force for all that is not a gate
	Caps   []compare.Entry // what that policy caps
	Points []*Point        // oldest first
	// Tracks are the suite, where there is one, and then the metrics: scores,
	// costs, infos, each in order of appearance.
	Tracks []*Track
	Family int // scores that share the chance of a false alarm
	Notes  []Note
}

// Point is a commit that changed what a profile is set to, or its runs.
type Point struct {
	Commit, Subject string
	Time            time.Time
	Added           int               // rows that are new
	SetAside        int               // rows set aside since
	Restored        int               // rows no longer set aside
	Withdrawn       int               // rows altered or removed although the settings are the same
	New             bool              // the profile was not there before
	Removed         bool              // it is not there any more
	Inherited       bool              // the oldest commit that was read: what is older is part of it
	Settings        []gate.Difference // what is set differently from the point before
	Conditions      []gate.Difference // what is recorded differently
	Gate            *PointGate
}

// PointGate is what the gate says of a commit, for this profile alone, under
// the policy in force before it.
type PointGate struct {
	Outcome gate.Outcome // empty where Wrong is not nil
	Reasons []gate.Reason
	Wrong   error // why nothing could be judged
}

// Track is one metric, or the suite, over the points.
type Track struct {
	compare.Metric
	Parts    []string    // the scores that a suite pools
	Measured []*Measured // one a point; nil where nothing was measured
	// P is the chance of what was found where the level never changed, for this
	// metric alone; PAdjusted that among Among metrics. Z is the largest
	// standardized rank sum.
	Z, P, PAdjusted float64
	Exact           bool
	Among           int
	// CanFind is false where so few sessions could show no change of any size.
	CanFind  bool
	Searched bool // false for a suite of runs without sessions
	Shifts   []*Shift

	points []*compare.Series // what each point measured
	values [][]float64
	suite  []*Track

	perMachine bool // several machines were measured, and each counts once at a point
}

// Measured is what one point measured of a track.
type Measured struct {
	// Values has one value a session, or a run where none are recorded, in the
	// metric's unit; of a suite relative to its first level, plus is better.
	Values         []float64
	Median         float64
	Runs, Sessions int
	usualRuns      float64 // of a session
	// Since is the change from the first level; nil for the first.
	Since *compare.Result
}

// Shift is a place where the level changed: it compares the levels on both
// sides of it, up to the changes before and after.
type Shift struct {
	Last, First int     // points: the last of the old level, the first of the new
	From, To    int     // points that the result pools: From to Last, First to To
	P           float64 // of the stretch it was found in, for this metric alone
	MaxP        float64 // the largest P that counted as found there
	byCommit    bool    // the stretch shows a shift as well where each commit counts once
	// Settings and Conditions are what was set or recorded differently between
	// the two levels: the likely cause.
	Settings, Conditions []gate.Difference
	*compare.Result
}

// History works out levels and changes. The newest policy says what the metrics
// mean. It is an error where a metric's direction is not known, where there are
// no commits, or nothing was measured of what is wanted.
func (p *Past) History() (*History, error) {
	policy := compare.Policy{}
	if p.last.Policy != nil {
		policy = *p.last.Policy
	}
	if len(p.points) == 0 {
		return nil, fmt.Errorf("no commit that was read has runs or settings of a profile %q", p.profile)
	}
	h := &History{Profile: p.profile, Terms: compare.TermsOf(policy, p.opt), Policy: policy.Source, Caps: policy.Caps(), Points: p.points}
	metrics, leftOut, err := p.tracks(policy)
	if err != nil {
		return nil, err
	}
	suite, suiteNotes := suiteOf(metrics, h.Points, policy)
	if h.Tracks = metrics; suite != nil {
		h.Tracks = slices.Concat([]*Track{suite}, metrics)
	}
	if err := p.measure(h, policy); err != nil {
		return nil, err
	}
	h.Notes = slices.Concat(p.notes, leftOut, suiteNotes, h.notes())
	return h, nil
}

// measure compares each point with the first one of its track, and searches each
// track for changes of level.
func (p *Past) measure(h *History, policy compare.Policy) error {
	var since []*compare.Pair
	var of []*Measured
	for _, t := range h.Tracks {
		if t.suite != nil {
			continue
		}
		first := t.First()
		for i, l := range t.Measured {
			if l == nil || i == first {
				continue
			}
			pair, err := t.against([2]int{first, first}, [2]int{i, i})
			if err != nil {
				return err
			}
			since, of = append(since, pair), append(of, l)
		}
	}
	done := work.NewProgress(len(since)+2*len(h.Tracks), func(done, total int) {
		if p.opt.Progress != nil {
			p.opt.Progress(total+done, 2*total) // the second half
		}
	})
	for i, m := range h.MeasureAll(since, done.Step) {
		of[i].Since = &compare.Result{Measurement: m}
	}
	for _, t := range h.Tracks {
		if t.suite != nil {
			t.suiteSinceFirst(h.Terms, policy)
		}
		done.Step()
	}
	for _, t := range h.Tracks {
		if t.Scored() && t.suite == nil {
			h.Family++
		}
	}
	for _, t := range h.Tracks {
		if err := t.search(h, policy); err != nil {
			return err
		}
		done.Step()
	}
	return nil
}
