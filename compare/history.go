package compare

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tunegate/stats"
)

// Commit is what a commit of a results repository made of one profile.
type Commit struct {
	Hash    string
	Time    time.Time // of the committer, in that zone; zero where it is unreadable
	Subject string    // first line of the message
	Index   int       // from 0, the oldest that was read
	Of      int       // so many are read
	First   bool      // it is known that there is nothing older
	State   Snapshot  // the policy, the profile, and its baseline where it is new
	// Profiles names all that the commit has.
	Profiles []string
	Wrong    error // why the state could not be read; it counts as not there
}

// History is what became of one profile over the commits of a results
// repository.
type History struct {
	Profile    string
	Confidence float64
	Correction Correction
	Resamples  int
	Seed       uint64
	Policy     string   // the newest policy, which is in force for all that is not a gate
	Points     []*Point // oldest first
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
	Outcome Outcome // empty where Wrong is not
	Reasons []Reason
	Wrong   string // why nothing could be judged
}

// Track is one metric, or the suite, over the points.
type Track struct {
	Metric
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

	points []*Series // what each point measured
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
	Since *Result
}

// LevelChange is a place where the level changed: the result compares the
// levels on both sides of it, up to the changes before and after.
type LevelChange struct {
	Last, First int     // points: the last of the old level, the first of the new
	From, To    int     // points that the result pools: From to Last, First to To
	P           float64 // of the stretch it was found in, for this metric alone
	Level       float64 // the largest P that counted as found there
	// Settings and Conditions are what was set or recorded differently between
	// the two levels: the likely cause.
	Settings, Conditions []string
	*Result
}

// Past takes in the commits of one profile, oldest first.
type Past struct {
	profile string
	opt     Options
	history *History
	last    Snapshot
	read    bool // last is a state
	rows    []*pastRow
	current map[Place][]*pastRow // the rows of the last state
}

// pastRow is a row that counts, at the point that brought it.
type pastRow struct {
	Value
	point     int
	withdrawn bool
}

// NewPast begins the history of a profile.
func NewPast(profile string, opt Options) *Past {
	return &Past{profile: profile, opt: opt, history: &History{Profile: profile, Resamples: opt.Resamples, Seed: opt.Seed, Notes: []Note{}, Points: []*Point{}, Tracks: []*Track{}}}
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
		p.current = map[Place][]*pastRow{}
		for _, v := range now.Values {
			if v.isRow() {
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
	p.history.Notes = append(p.history.Notes, Note{kind, fmt.Sprintf(format, args...)})
}

func (p *Past) bring(v Value, point int) {
	row := &pastRow{Value: v, point: point}
	p.rows = append(p.rows, row)
	p.current[v.At] = append(p.current[v.At], row)
}

// change follows the rows from one state to the next. A row that was measured
// with other settings and is gone counts for its time; one that is gone, or
// altered, while the settings are the same does not, and what stands in its
// place counts as new.
func (p *Past) change(point *Point, at int, old, now *Profile) {
	rows := changeOfRows(old.Values, now.Values)
	point.Settings, point.Conditions = differences(old.Settings, now.Settings), differences(old.Conditions, now.Conditions)
	was := p.current
	p.current = map[Place][]*pastRow{}
	take := func(from Place) *pastRow {
		same := was[from]
		if len(same) == 0 {
			return nil // a row that was no row yet
		}
		was[from] = same[1:]
		return same[0]
	}
	anew := map[Place]bool{} // rows that read as before, but were measured anew
	if len(point.Settings) > 0 {
		_, byChance, single := rows.stillThere(old.Values)
		for _, v := range slices.Concat(byChance, single) {
			anew[v.At] = true
		}
	}
	for _, pair := range rows.both {
		row := take(pair[0].At)
		if row == nil || anew[pair[1].At] {
			p.bring(pair[1], at)
			point.Added++
			continue
		}
		row.Value = pair[1]
		p.current[pair[1].At] = append(p.current[pair[1].At], row)
	}
	for _, v := range rows.gone {
		if row := take(v.At); row != nil && len(point.Settings) == 0 {
			row.withdrawn = true
			point.Withdrawn++
		}
	}
	for _, v := range rows.added {
		p.bring(v, at)
		point.Added++
	}
	point.SetAside, point.Restored = len(rows.setAside), len(rows.restored)
}

// gate judges the profile between the last state and this one. What is wrong
// with old runs fails that gate, not the history.
func (p *Past) gate(c Commit) *PointGate {
	policy := Policy{}
	switch {
	case p.last.Policy != nil:
		policy = *p.last.Policy
	case c.State.Policy != nil:
		policy = *c.State.Policy
	}
	base := Snapshot{Name: p.last.Name, Profiles: map[string]*Profile{}}
	if old := p.last.Profiles[p.profile]; old != nil {
		base.Profiles[p.profile] = old
	}
	// A baseline is there before and after, and has nothing to judge.
	for name, profile := range c.State.Profiles {
		if name != p.profile {
			base.Profiles[name] = profile
		}
	}
	g, err := judgeUnder(policy, base, c.State, Options{Resamples: p.opt.Resamples, Seed: p.opt.Seed})
	if err != nil {
		return &PointGate{Wrong: err.Error()}
	}
	for i := range g.Reasons {
		if g.Reasons[i].Kind == ReasonBaseline {
			g.Reasons[i].Names = c.Profiles // of which the state has but two
		}
	}
	return &PointGate{Outcome: g.Outcome, Reasons: g.Reasons}
}

// History works out levels and changes. The newest policy says what the metrics
// mean. It is an error where a metric's direction is not known, where there are
// no commits, or nothing was measured of what is wanted.
func (p *Past) History() (*History, error) {
	h, policy := p.history, Policy{}
	if p.last.Policy != nil {
		policy = *p.last.Policy
	}
	c := &Comparison{Confidence: policy.Confidence, Correction: policy.Correction, Resamples: p.opt.Resamples, Seed: p.opt.Seed}
	c.fillDefaults()
	h.Confidence, h.Correction, h.Resamples, h.Policy = c.Confidence, c.Correction, c.Resamples, policy.Source
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
	var since []*Result
	for _, t := range h.Tracks {
		if t.suite != nil {
			continue
		}
		rs, err := t.sinceFirst()
		if err != nil {
			return nil, err
		}
		since = append(since, rs...)
	}
	tell := newProgress(len(since)+2*len(h.Tracks), func(done, total int) {
		if p.opt.Progress != nil {
			p.opt.Progress(total+done, 2*total) // the second half
		}
	})
	onAllCores(since, tell, func(r *Result) { r.measure(c) })
	for _, t := range h.Tracks {
		if t.suite != nil {
			t.suiteSinceFirst(c, policy)
		}
		tell.step()
	}
	for _, t := range h.Tracks {
		if t.Role == Score && t.Named && t.suite == nil {
			h.Family++
		}
	}
	for _, t := range h.Tracks {
		if err := t.search(h, c, policy); err != nil {
			return nil, err
		}
		tell.step()
	}
	h.addNotes(p)
	return h, nil
}

// tracks files the rows that count by metric and point.
func (p *Past) tracks(policy Policy) error {
	h := p.history
	byKey := map[[2]string]*Track{}
	points := make([]Runs, len(h.Points))
	var all Runs
	wrong := map[[2]string]error{}
	for _, row := range p.rows {
		v := row.Value
		if v.Metric == "" {
			v.Metric = DefaultMetric
		}
		key := [2]string{v.Benchmark, v.Metric}
		if row.withdrawn || v.Missing && !v.SetAside || !p.opt.wants(v.Benchmark, v.Metric) {
			continue
		}
		// A block holds both sides of a comparison; here it is one sitting more.
		if v.Block != "" {
			v.Session, v.Block = v.Block+"\x00"+v.Session, ""
		}
		if v.Session != "" { // people begin at 1 again with each batch
			v.Session = fmt.Sprintf("%d\x00%s", row.point, v.Session)
		}
		if err := all.Add(v); err != nil {
			if wrong[key] == nil {
				wrong[key] = err
			}
			continue
		}
		if err := points[row.point].Add(v); err != nil {
			return err
		}
	}
	var tracks []*Track
	for _, s := range all.Series() {
		key := [2]string{s.Benchmark, s.Metric}
		if err := wrong[key]; err != nil {
			p.note("left-out", "%s is left out: %v", describe(s.Benchmark, s.Metric), err)
			continue
		}
		m, err := policy.Resolve(s.Benchmark, s.Metric, s.Unit, s.Better)
		if err != nil && s.Better == "" && p.opt.Better != "" {
			m, err = policy.Resolve(s.Benchmark, s.Metric, s.Unit, p.opt.Better)
		}
		if err != nil {
			return &PlacedError{firstPlace(s), err.Error()}
		}
		t := &Track{Metric: m, Levels: make([]*Measured, len(h.Points)), points: make([]*Series, len(h.Points)), values: make([][]float64, len(h.Points)), Searched: true}
		byKey[key] = t
		tracks = append(tracks, t)
	}
	for i := range points {
		for _, s := range points[i].Series() {
			t := byKey[[2]string{s.Benchmark, s.Metric}]
			if t == nil {
				continue
			}
			side, err := sampleOf(t.Metric, s, func(Observation) bool { return true })
			if err != nil {
				p.note("left-out", "%s is left out: %v", t.Name(), err)
				byKey[[2]string{s.Benchmark, s.Metric}] = nil
				continue
			}
			if side.Runs == 0 {
				continue
			}
			t.points[i], t.values[i] = s, side.values
			t.Levels[i] = &Measured{Values: side.reduced(t.Metric), Median: side.Median, Runs: side.Runs, Sessions: side.Sessions}
		}
	}
	for _, role := range []Role{Score, Cost, Info} {
		for _, t := range tracks {
			if t.Role == role && byKey[[2]string{t.Benchmark, t.Metric.Metric}] != nil && t.First() >= 0 {
				h.Tracks = append(h.Tracks, t)
			}
		}
	}
	if len(h.Tracks) == 0 {
		why := ""
		for _, n := range h.Notes {
			if n.Kind == "left-out" {
				why = ": " + n.Text
			}
		}
		return errors.New("nothing was measured of what is looked at" + why)
	}
	return nil
}

// First is the first point that measured a track; -1 where none did.
func (t *Track) First() int {
	return slices.IndexFunc(t.Levels, func(l *Measured) bool { return l != nil })
}

// Newest is the last point that measured a track.
func (t *Track) Newest() int {
	for i := len(t.Levels) - 1; i >= 0; i-- {
		if t.Levels[i] != nil {
			return i
		}
	}
	return -1
}

// against makes the result of one stretch of points against another.
func (t *Track) against(before, after [2]int) (*Result, error) {
	r := &Result{Metric: t.Metric, Notes: []Note{}}
	return r, r.reduce(t.pooled(before), t.pooled(after))
}

// pooled joins what the points of a stretch, ends included, have measured.
func (t *Track) pooled(stretch [2]int) *Series {
	var out Series
	for _, s := range t.points[stretch[0] : stretch[1]+1] {
		if s != nil {
			out.SeriesKey, out.WarmUps = s.SeriesKey, out.WarmUps+s.WarmUps
			out.Observations = append(out.Observations, s.Observations...)
		}
	}
	return &out
}

func (t *Track) sinceFirst() ([]*Result, error) {
	first := t.First()
	var out []*Result
	for i, l := range t.Levels {
		if l == nil || i == first {
			continue
		}
		r, err := t.against([2]int{first, first}, [2]int{i, i})
		if err != nil {
			return nil, err
		}
		l.Since = r
		out = append(out, r)
	}
	return out, nil
}

// search finds the places where the level of a track changed.
func (t *Track) search(h *History, c *Comparison, policy Policy) error {
	alpha, among := 1-c.Confidence, 1
	if t.Role == Score && t.Named && t.suite == nil && c.Correction != NoCorrection {
		among = max(1, h.Family)
	}
	t.Among, t.P, t.PAdjusted, t.Changes = among, 1, 1, []*LevelChange{}
	if !t.Searched {
		return nil
	}
	// Shared out in equal parts, not by Holm's rule: what that gains at the first
	// split it loses at those behind it.
	alpha /= float64(among)
	draws := max(c.Resamples, min(200_000, int(math.Ceil(20/alpha))))
	whole := stats.MaxRank(t.values, draws, c.Seed)
	t.Z, t.P, t.Exact = whole.Z, whole.P, whole.Exact
	t.PAdjusted = math.Min(1, t.P*float64(among))
	var sizes []int
	for _, v := range t.values {
		if len(v) > 0 {
			sizes = append(sizes, len(v))
		}
	}
	t.CanFind = stats.SmallestMaxRankP(sizes) <= alpha+slack
	found := stats.ChangePoints(t.values, alpha, draws, c.Seed)
	for k, f := range found {
		change := &LevelChange{From: t.First(), First: f.At, To: t.Newest(), P: f.P, Level: f.Level}
		if k > 0 {
			change.From = found[k-1].At
		}
		if k+1 < len(found) {
			change.To = t.before(found[k+1].At)
		}
		change.Last = t.before(f.At)
		for _, p := range h.Points[change.Last+1 : change.First+1] {
			change.Settings = append(change.Settings, p.Settings...)
			change.Conditions = append(change.Conditions, p.Conditions...)
		}
		before, after := [2]int{change.From, change.Last}, [2]int{change.First, change.To}
		var err error
		if t.suite != nil {
			change.Result = t.suiteAgainst(c, policy, before, after)
		} else if change.Result, err = t.against(before, after); err == nil {
			change.Result.measure(c)
		}
		switch {
		case err != nil:
			return err
		case change.Result == nil:
			continue
		}
		change.settle(c.Confidence, f.P)
		t.Changes = append(t.Changes, change)
	}
	return nil
}

// before is the last point before one that measured a track.
func (t *Track) before(point int) int {
	for i := point - 1; i >= 0; i-- {
		if t.Levels[i] != nil && len(t.values[i]) > 0 {
			return i
		}
	}
	return -1
}

// settle gives a change its verdict. That the level changed is found already;
// which way and how far is the interval's to say.
func (l *LevelChange) settle(confidence, p float64) {
	r := l.Result
	r.PAdjusted, r.Among = p, 1
	r.Verdict, r.CountsForGate, r.AloneNotAmong = nil, false, false
	r.Real = r.Interval != nil && (r.Interval[0] > 0 || r.Interval[1] < 0)
	if r.Role == Info {
		return
	}
	tolerance, lo, hi := 0.0, math.Inf(-1), math.Inf(1)
	if r.Tolerance != nil {
		tolerance = *r.Tolerance
	}
	if r.Interval != nil {
		lo, hi, _ = r.GainInterval()
	}
	v := judge(r.Real, r.Gain(r.Change), lo, hi, tolerance, false)
	r.Verdict = &v
}

// Worse lists the scores, and the suite, whose newest level was reached by a
// loss beyond the tolerance.
func (h *History) Worse() []*Track {
	var out []*Track
	for _, t := range h.Tracks {
		if t.Role != Score || !t.Named || len(t.Changes) == 0 {
			continue
		}
		if v := t.Changes[len(t.Changes)-1].Verdict; v != nil && *v == Regression {
			out = append(out, t)
		}
	}
	return out
}

func (h *History) addNotes(p *Past) {
	note := func(kind, format string, args ...any) {
		h.Notes = append(h.Notes, Note{kind, fmt.Sprintf(format, args...)})
	}
	var few, loose, far []string
	sessions, withdrawn := false, 0
	for _, t := range h.Tracks {
		if t.suite != nil {
			continue
		}
		recorded := true
		for _, l := range t.Levels {
			recorded = recorded && (l == nil || l.Sessions > 0)
		}
		sessions = sessions || recorded
		if !recorded {
			loose = append(loose, t.Name())
		}
		if !t.CanFind && t.Newest() > t.First() {
			few = append(few, t.Name())
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
		note("no-sessions", "no session is recorded, so each run counts by itself; runs of one commit share the luck of its sitting, and a change found here may be no more than that")
	case len(loose) > 0:
		note("no-sessions", "not all runs have a session: %s; runs of one commit share the luck of its sitting, and a change found there may be no more than that", list(loose, 6))
	}
	if len(far) > 0 {
		note("commits-apart", "between changes of level, commits differ by more than their sessions do: %s; sessions of one commit share some luck (the day, the room), and a change found there may be no more than that", list(far, 6))
	}
	if len(few) > 0 {
		note("too-few", "so few sessions could show no change of any size: %s", list(few, 6))
	}
	if withdrawn > 0 {
		note("withdrawn", "rows that were altered or removed while the settings stayed do not count; what stands in their place does, at the commit that put it there: %d", withdrawn)
	}
	for _, t := range h.Tracks {
		if len(t.Changes) > 0 {
			note("flattered", "the place of a change is picked by the same runs that measure it, so its size is a little flattered")
			break
		}
	}
}

// commitsApart reports whether commits differ by more than their sessions,
// where no change of level explains it: the F test of a one-way layout, each
// level's median taken out. The levels were fitted, so it finds less than it
// could.
func (t *Track) commitsApart() bool {
	ends := []int{}
	for _, c := range t.Changes {
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
			middle := median(all)
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
	_, p := stats.SessionsApart(groups, 0)
	return p < 0.01
}

// suite pools the scores that more than half of the points which measured any
// score have measured; nil where there are fewer than two such.
func (h *History) suite(policy Policy) *Track {
	any := make([]bool, len(h.Points))
	times := map[*Track]int{}
	measured := 0
	var scores []*Track
	for _, t := range h.Tracks {
		if t.Role != Score || !t.Named || t.Scale != Ratio {
			continue
		}
		scores = append(scores, t)
		for i, l := range t.Levels {
			if l != nil {
				any[i] = true
				times[t]++
			}
		}
	}
	for _, m := range any {
		if m {
			measured++
		}
	}
	var parts []*Track
	var names, left []string
	for _, t := range scores {
		if 2*times[t] > measured {
			parts, names = append(parts, t), append(names, t.Name())
		} else {
			left = append(left, fmt.Sprintf("%s (measured at %d of %d commits)", t.Name(), times[t], measured))
		}
	}
	if len(parts) < 2 {
		return nil
	}
	// By name, as Comparison.suite has them.
	slices.SortFunc(parts, func(a, b *Track) int {
		return cmp.Or(cmp.Compare(a.Benchmark, b.Benchmark), cmp.Compare(a.Metric.Metric, b.Metric.Metric))
	})
	m := Metric{Benchmark: WholeSuite, Metric: DefaultMetric, Better: Higher, Scale: Ratio, Role: Score, Weight: 1, Named: true}
	m.Tolerance, m.ToleranceFrom = suiteTolerance(policy)
	t := &Track{Metric: m, Parts: names, Levels: make([]*Measured, len(h.Points)), values: make([][]float64, len(h.Points)), suite: parts, Searched: true}
	if len(left) > 0 {
		h.Notes = append(h.Notes, Note{"suite", "not in the suite: " + list(left, 6)})
	}
	var incomplete []string
	for i := range h.Points {
		lacking := slices.ContainsFunc(parts, func(p *Track) bool { return p.Levels[i] == nil })
		if !any[i] {
			continue
		}
		if lacking {
			incomplete = append(incomplete, fmt.Sprintf("%.7s", h.Points[i].Commit))
			continue
		}
		t.values[i] = t.completeSessions(i)
		t.Levels[i] = &Measured{Sessions: len(t.values[i])}
		for _, p := range parts {
			t.Levels[i].Runs += p.Levels[i].Runs
		}
		t.Searched = t.Searched && len(t.values[i]) > 0
	}
	if t.First() < 0 {
		return nil
	}
	if len(incomplete) > 0 {
		h.Notes = append(h.Notes, Note{"suite", "not all scores of the suite were measured at " + list(incomplete, 6) + "; there is no suite there"})
	}
	if !t.Searched {
		h.Notes = append(h.Notes, Note{"suite", "the suite is not searched for changes of its level: that needs sessions that hold all of its scores at every commit"})
	}
	return t
}

// completeSessions are the weighted means of the logarithms of each session
// that holds every score, turned so that plus is better; ascending.
func (t *Track) completeSessions(point int) []float64 {
	sums, seen, total := map[string]float64{}, map[string]int{}, 0.0
	for _, p := range t.suite {
		side, err := sampleOf(p.Metric, p.points[point], func(Observation) bool { return true })
		if err != nil {
			return nil
		}
		turn := &Result{Metric: p.Metric}
		for _, s := range side.sessions {
			if s.label != "" {
				sums[s.label] += p.Weight * turn.turned(s.value)
				seen[s.label]++
			}
		}
		total += p.Weight
	}
	var out []float64
	for label, sum := range sums {
		if seen[label] == len(t.suite) {
			out = append(out, sum/total)
		}
	}
	slices.Sort(out)
	return out
}

func (t *Track) suiteSinceFirst(c *Comparison, policy Policy) {
	first := t.First()
	origin := 0.0
	if t.Searched {
		origin = median(t.values[first])
	}
	for i, l := range t.Levels {
		if l == nil {
			continue
		}
		for _, v := range t.values[i] {
			l.Values = append(l.Values, math.Exp(v-origin))
		}
		if l.Median = 1; len(l.Values) > 0 {
			l.Median = median(l.Values)
		}
		if i != first {
			l.Since = t.suiteAgainst(c, policy, [2]int{first, first}, [2]int{i, i})
			if l.Since != nil && len(l.Values) == 0 {
				l.Median = 1 + l.Since.Change
			}
		}
	}
}

// suiteAgainst pools the scores of one stretch of points against another; nil
// where that cannot be.
func (t *Track) suiteAgainst(c *Comparison, policy Policy, before, after [2]int) *Result {
	var parts []*Result
	for _, p := range t.suite {
		if before == [2]int{p.First(), p.First()} && after[0] == after[1] && p.Levels[after[0]].Since != nil {
			parts = append(parts, p.Levels[after[0]].Since) // measured already
			continue
		}
		r, err := p.against(before, after)
		if err != nil {
			return nil
		}
		r.measure(c)
		parts = append(parts, r)
	}
	scratch := *c // whose notes are not shown
	s := scratch.suite(WholeSuite, parts, nil, policy)
	if s == nil {
		return nil
	}
	s.Result.Notes = []Note{}
	return s.Result
}

// Causes is what was set or recorded differently where a level changed.
func (l *LevelChange) Causes() string {
	return strings.Join(slices.Concat(l.Settings, l.Conditions), "; ")
}
