package history

import (
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

// Past takes in the commits of one profile, oldest first.
type Past struct {
	profile string
	opt     compare.Options
	points  []*Point
	notes   []Note // on commits that cannot be read
	last    gate.Snapshot
	read    bool // last is a state
	rows    []*pastRow
	current []*pastRow // the rows of the last state, nil for an empty cell
}

// pastRow is a row that counts, at the point that brought it.
type pastRow struct {
	compare.Value
	point     int
	withdrawn bool
}

// NewPast begins the history of a profile.
func NewPast(profile string, opt compare.Options) *Past {
	return &Past{profile: profile, opt: opt}
}

// Add takes in the next commit. Of progress, taking in is the first half.
func (p *Past) Add(c Commit) error {
	if p.opt.Progress != nil {
		p.opt.Progress(c.Index, 2*c.Of)
	}
	if c.Wrong != nil {
		p.notes = append(p.notes, Note{Kind: NoteUnread, Names: []string{c.Hash}, Err: c.Wrong})
		return nil
	}
	now, old := c.State.Profiles[p.profile], p.last.Profiles[p.profile]
	point := &Point{Commit: c.Hash, Subject: c.Subject, Time: c.Time}
	at := len(p.points)
	switch {
	case now == nil && old == nil:
		p.last, p.read = c.State, true
		return nil
	case now == nil:
		point.Removed, p.current = true, nil
	case old == nil:
		point.New = p.read || c.First
		point.Inherited = !point.New
		p.current = make([]*pastRow, now.Values.Len())
		for i, v := range now.Values.All() {
			if v.IsRow() {
				p.current[i] = p.bring(v, at)
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
	if point.changesAnything() {
		p.points = append(p.points, point)
	}
	return nil
}

// changesAnything reports whether a commit did anything to the profile.
func (p *Point) changesAnything() bool {
	return p.New || p.Inherited || p.Removed ||
		p.Added+p.SetAside+p.Restored+p.Withdrawn+len(p.Settings)+len(p.Conditions) > 0
}

// bring takes in a row that a point brought.
func (p *Past) bring(v compare.Value, point int) *pastRow {
	row := &pastRow{Value: v, point: point}
	p.rows = append(p.rows, row)
	return row
}

// change follows the rows from one state to the next. A row that was measured
// with other settings and is gone counts for its time; one that is gone, or
// altered, while the settings are the same does not, and what stands in its
// place counts as new.
func (p *Past) change(point *Point, at int, old, now *gate.Profile) {
	rows := gate.ChangeOfRows(old.Values, now.Values)
	point.Settings = gate.Differences(old.Settings, now.Settings)
	point.Conditions = gate.Differences(old.Conditions, now.Conditions)
	was := p.current
	p.current = make([]*pastRow, now.Values.Len())
	anew := map[compare.Place]bool{} // rows that read as before, but were measured anew
	if len(point.Settings) > 0 {
		_, byChance, single := rows.StillThere()
		for _, v := range compare.JoinRows(byChance, single).All() {
			anew[v.At] = true
		}
	}
	for _, pair := range rows.Both {
		row, b, h := was[pair.Base], int(pair.Base), int(pair.Head)
		if len(anew) == 0 && row != nil && old.Values.IsSame(b, now.Values, h) {
			p.current[h] = row
			continue
		}
		v := now.Values.At(h)
		if row == nil || anew[v.At] { // it was no row yet, or another one
			p.current[h] = p.bring(v, at)
			point.Added++
			continue
		}
		row.Value = v
		p.current[h] = row
	}
	for _, b := range rows.GoneAt {
		if row := was[b]; row != nil && len(point.Settings) == 0 {
			row.withdrawn = true
			point.Withdrawn++
		}
	}
	for _, h := range rows.AddedAt {
		p.current[h] = p.bring(now.Values.At(int(h)), at)
		point.Added++
	}
	point.SetAside, point.Restored = rows.SetAside.Len(), rows.Restored.Len()
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
		return &PointGate{Wrong: err}
	}
	for i := range g.Reasons {
		if g.Reasons[i].Kind == gate.ReasonBaseline {
			g.Reasons[i].Names = c.Profiles // of which the state has but two
		}
	}
	return &PointGate{Outcome: g.Outcome, Reasons: g.Reasons}
}
