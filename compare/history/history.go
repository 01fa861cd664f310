// Package history follows one profile through the commits of a results repository:
// what each commit measured, and where its level changed.
package history

import (
	"fmt"
	"slices"
	"time"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// Commit is what a commit of a results repository made of one profile.
type Commit struct {
	Hash    string
	Time    time.Time     // of the committer, in that zone; zero where it is unreadable
	Subject string        // first line of the message
	Index   int           // from 0, the oldest that was read
	Of      int           // so many are read
	First   bool          // it is known that there is nothing older
	State   gate.Snapshot // the policy, the profile, and its baseline where it is new
	// Profiles names all that the commit has.
	Profiles []string
	Wrong    error // why the state could not be read; it counts as not there
}

// History is what became of one profile over the commits of a results
// repository.
type History struct {
	Profile string
	compare.Terms
	Policy string   // the newest policy, which is in force for all that is not a gate
	Points []*Point // oldest first
	// Tracks are the suite, where there is one, and then the metrics: scores,
	// costs, infos, each in order of appearance.
	Tracks []*Track
	Family int // scores that share the chance of a false alarm
	Notes  []compare.Note
}

// Point is a commit that changed what a profile is set to, or its runs.
type Point struct {
	Commit, Subject string
	Time            time.Time
	Added           int      // rows that are new
	SetAside        int      // rows set aside since
	Restored        int      // rows no longer set aside
	Withdrawn       int      // rows altered or removed although the settings are the same
	New             bool     // the profile was not there before
	Removed         bool     // it is not there any more
	Inherited       bool     // the oldest commit that was read: what is older is part of it
	Settings        []string // what is set differently from the point before
	Conditions      []string // what is recorded differently
	Gate            *PointGate
}

// PointGate is what the gate says of a commit, for this profile alone, under
// the policy in force before it.
type PointGate struct {
	Outcome gate.Outcome // empty where Wrong is not
	Reasons []gate.Reason
	Wrong   string // why nothing could be judged
}

// Track is one metric, or the suite, over the points.
type Track struct {
	compare.Metric
	Parts  []string    // the scores that a suite pools
	Levels []*Measured // one a point; nil where nothing was measured
	// P is the chance of what was found where the level never changed, for this
	// metric alone; PAdjusted that among Among metrics. Z is the largest
	// standardized rank sum.
	Z, P, PAdjusted float64
	Exact           bool
	Among           int
	// CanFind is false where so few sessions could show no change of any size.
	CanFind  bool
	Searched bool // false for a suite of runs without sessions
	Changes  []*LevelChange

	points []*compare.Series // what each point measured
	values [][]float64
	suite  []*Track
}

// Measured is what one point measured of a track.
type Measured struct {
	// Values has one value a session, or a run where none are recorded, in the
	// metric's unit; of a suite relative to its first level, plus is better.
	Values         []float64
	Median         float64
	Runs, Sessions int
	// Since is the change from the first level; nil for the first.
	Since *compare.Result
}

// LevelChange is a place where the level changed: it compares the levels on both
// sides of it, up to the changes before and after.
type LevelChange struct {
	Last, First int     // points: the last of the old level, the first of the new
	From, To    int     // points that the result pools: From to Last, First to To
	P           float64 // of the stretch it was found in, for this metric alone
	Level       float64 // the largest P that counted as found there
	// Settings and Conditions are what was set or recorded differently between
	// the two levels: the likely cause.
	Settings, Conditions []string
	*compare.Result
}

// Past takes in the commits of one profile, oldest first.
type Past struct {
	profile string
	opt     compare.Options
	history *History
	last    gate.Snapshot
	read    bool // last is a state
	rows    []*pastRow
	current map[compare.Place][]*pastRow // the rows of the last state
}

// pastRow is a row that counts, at the point that brought it.
type pastRow struct {
	compare.Value
	point     int
	withdrawn bool
}

// NewPast begins the history of a profile.
func NewPast(profile string, opt compare.Options) *Past {
	return &Past{profile: profile, opt: opt, history: &History{Profile: profile, Notes: []compare.Note{}, Points: []*Point{}, Tracks: []*Track{}}}
}

// Add takes in the next commit. Of progress, taking in is the first half.
func (p *Past) Add(c Commit) error {
	if p.opt.Progress != nil {
		p.opt.Progress(c.Index, 2*c.Of)
	}
	if c.Wrong != nil {
		p.note("unread", "%.7s is left out, since it cannot be read: %v; what it brought counts for the next commit", c.Hash, c.Wrong)
		return nil
	}
	now, old := c.State.Profiles[p.profile], p.last.Profiles[p.profile]
	point := &Point{Commit: c.Hash, Subject: c.Subject, Time: c.Time}
	at := len(p.history.Points)
	switch {
	case now == nil && old == nil:
		p.last, p.read = c.State, true
		return nil
	case now == nil:
		point.Removed, p.current = true, nil
	case old == nil:
		point.New = p.read || c.First
		point.Inherited = !point.New
		p.current = map[compare.Place][]*pastRow{}
		for _, v := range now.Values {
			if v.IsRow() {
				p.bring(v, at)
				point.Added++
			}
		}
	default:
		p.change(point, at, old, now)
	}
	if now != nil && (p.read || c.First) {
		point.Gate = p.gate(c)
	}
	p.last, p.read = c.State, true
	if point.New || point.Inherited || point.Removed || point.Added+point.SetAside+point.Restored+point.Withdrawn+len(point.Settings)+len(point.Conditions) > 0 {
		p.history.Points = append(p.history.Points, point)
	}
	return nil
}

func (p *Past) note(kind, format string, args ...any) {
	p.history.Notes = append(p.history.Notes, compare.Note{kind, fmt.Sprintf(format, args...)})
}

func (p *Past) bring(v compare.Value, point int) {
	row := &pastRow{Value: v, point: point}
	p.rows = append(p.rows, row)
	p.current[v.At] = append(p.current[v.At], row)
}

// change follows the rows from one state to the next. A row that was measured
// with other settings and is gone counts for its time; one that is gone, or
// altered, while the settings are the same does not, and what stands in its
// place counts as new.
func (p *Past) change(point *Point, at int, old, now *gate.Profile) {
	rows := gate.ChangeOfRows(old.Values, now.Values)
	point.Settings, point.Conditions = gate.Differences(old.Settings, now.Settings), gate.Differences(old.Conditions, now.Conditions)
	was := p.current
	p.current = map[compare.Place][]*pastRow{}
	take := func(from compare.Place) *pastRow {
		same := was[from]
		if len(same) == 0 {
			return nil // a row that was no row yet
		}
		was[from] = same[1:]
		return same[0]
	}
	anew := map[compare.Place]bool{} // rows that read as before, but were measured anew
	if len(point.Settings) > 0 {
		_, byChance, single := rows.StillThere(old.Values)
		for _, v := range slices.Concat(byChance, single) {
			anew[v.At] = true
		}
	}
	for _, pair := range rows.Both {
		row := take(pair[0].At)
		if row == nil || anew[pair[1].At] {
			p.bring(pair[1], at)
			point.Added++
			continue
		}
		row.Value = pair[1]
		p.current[pair[1].At] = append(p.current[pair[1].At], row)
	}
	for _, v := range rows.Gone {
		if row := take(v.At); row != nil && len(point.Settings) == 0 {
			row.withdrawn = true
			point.Withdrawn++
		}
	}
	for _, v := range rows.Added {
		p.bring(v, at)
		point.Added++
	}
	point.SetAside, point.Restored = len(rows.SetAside), len(rows.Restored)
}

// gate judges the profile between the last state and this one. What is wrong
// with old runs fails that gate, not the history.
func (p *Past) gate(c Commit) *PointGate {
	policy := compare.Policy{}
	switch {
	case p.last.Policy != nil:
		policy = *p.last.Policy
	case c.State.Policy != nil:
		policy = *c.State.Policy
	}
	base := gate.Snapshot{Name: p.last.Name, Profiles: map[string]*gate.Profile{}}
	if old := p.last.Profiles[p.profile]; old != nil {
		base.Profiles[p.profile] = old
	}
	// A baseline is there before and after, and has nothing to judge.
	for name, profile := range c.State.Profiles {
		if name != p.profile {
			base.Profiles[name] = profile
		}
	}
	g, err := gate.JudgeUnder(policy, base, c.State, compare.Options{Resamples: p.opt.Resamples, Seed: p.opt.Seed})
	if err != nil {
		return &PointGate{Wrong: err.Error()}
	}
	for i := range g.Reasons {
		if g.Reasons[i].Kind == gate.ReasonBaseline {
			g.Reasons[i].Names = c.Profiles // of which the state has but two
		}
	}
	return &PointGate{Outcome: g.Outcome, Reasons: g.Reasons}
}

// History works out levels and changes. The newest policy says what the metrics
// mean. It is an error where a metric's direction is not known, where there are
// no commits, or nothing was measured of what is wanted.
func (p *Past) History() (*History, error) {
	h, policy := p.history, compare.Policy{}
	if p.last.Policy != nil {
		policy = *p.last.Policy
	}
	h.Terms, h.Policy = compare.TermsOf(policy, p.opt), policy.Source
	if len(h.Points) == 0 {
		return nil, fmt.Errorf("no commit that was read has runs or settings of a profile %q", p.profile)
	}
	if err := p.tracks(policy); err != nil {
		return nil, err
	}
	suite := h.suite(policy)
	if suite != nil {
		h.Tracks = append([]*Track{suite}, h.Tracks...)
	}
	var since []*compare.Pair
	var of []*Measured
	for _, t := range h.Tracks {
		if t.suite != nil {
			continue
		}
		first := t.First()
		for i, l := range t.Levels {
			if l == nil || i == first {
				continue
			}
			pair, err := t.against([2]int{first, first}, [2]int{i, i})
			if err != nil {
				return nil, err
			}
			since, of = append(since, pair), append(of, l)
		}
	}
	done := compare.NewProgress(len(since)+2*len(h.Tracks), func(done, total int) {
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
		if t.InFamily() && t.suite == nil {
			h.Family++
		}
	}
	for _, t := range h.Tracks {
		if err := t.search(h, policy); err != nil {
			return nil, err
		}
		done.Step()
	}
	h.addNotes(p)
	return h, nil
}
