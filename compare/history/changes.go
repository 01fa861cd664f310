package history

import (
	"fmt"
	"math"
	"slices"
	"strings"

	descriptive "github.com/montanaflynn/stats"

	"tunegate/compare"
	"tunegate/stats"
	"tunegate/stats/check"
)

// search finds the places where the level of a track changed.
func (t *Track) search(h *History, policy compare.Policy) error {
	alpha, among := 1-h.Confidence, 1
	if t.InFamily() && t.suite == nil && h.Correction != compare.NoCorrection {
		among = max(1, h.Family)
	}
	t.Among, t.P, t.PAdjusted, t.Changes = among, 1, 1, []*LevelChange{}
	if !t.Searched {
		return nil
	}
	// Shared out in equal parts, not by Holm's rule: what that gains at the first
	// split it loses at those behind it.
	alpha /= float64(among)
	draws := max(h.Resamples, min(200_000, int(math.Ceil(20/alpha))))
	whole := stats.MaxRank(t.values, draws, h.Seed)
	t.Z, t.P, t.Exact = whole.Z, whole.P, whole.Exact
	t.PAdjusted = math.Min(1, t.P*float64(among))
	var sizes []int
	for _, v := range t.values {
		if len(v) > 0 {
			sizes = append(sizes, len(v))
		}
	}
	t.CanFind = stats.SmallestMaxRankP(sizes) <= alpha+1e-12
	found := stats.ChangePoints(t.values, alpha, draws, h.Seed)
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
		m, err := t.measure(h.Terms, policy, before, after)
		if err != nil {
			return err
		}
		if m != nil {
			change.Result = &compare.Result{Measurement: m, Judgement: judge(m, f.P)}
			t.Changes = append(t.Changes, change)
		}
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

// measure measures one stretch of points against another; nil where the scores of
// a suite cannot be pooled there.
func (t *Track) measure(terms compare.Terms, policy compare.Policy, before, after [2]int) (*compare.Measurement, error) {
	if t.suite != nil {
		return t.suiteAgainst(terms, policy, before, after), nil
	}
	pair, err := t.against(before, after)
	if err != nil {
		return nil, err
	}
	return pair.Measure(terms), nil
}

// judge gives a change its verdict. That the level changed is found already, with
// this p; which way and how far is the interval's to say.
func judge(m *compare.Measurement, p float64) compare.Judgement {
	j := compare.Judgement{PAdjusted: p, Among: 1, Real: m.Interval != nil && (m.Interval[0] > 0 || m.Interval[1] < 0)}
	if m.Role != compare.Info {
		v := m.VerdictOf(j.Real, false)
		j.Verdict = &v
	}
	return j
}

// Worse lists the scores, and the suite, whose newest level was reached by a
// loss beyond the tolerance.
func (h *History) Worse() []*Track {
	var out []*Track
	for _, t := range h.Tracks {
		if t.Role != compare.Score || !t.Named || len(t.Changes) == 0 {
			continue
		}
		if v := t.Changes[len(t.Changes)-1].Verdict; v != nil && *v == compare.Regression {
			out = append(out, t)
		}
	}
	return out
}

func (h *History) addNotes(p *Past) {
	note := func(kind, format string, args ...any) {
		h.Notes = append(h.Notes, compare.Note{kind, fmt.Sprintf(format, args...)})
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
		note("no-sessions", "not all runs have a session: %s; runs of one commit share the luck of its sitting, and a change found there may be no more than that", compare.List(loose, 6))
	}
	if len(far) > 0 {
		note("commits-apart", "between changes of level, commits differ by more than their sessions do: %s; sessions of one commit share some luck (the day, the room), and a change found there may be no more than that", compare.List(far, 6))
	}
	if len(few) > 0 {
		note("too-few", "so few sessions could show no change of any size: %s", compare.List(few, 6))
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

// Causes is what was set or recorded differently where a level changed.
func (l *LevelChange) Causes() string {
	return strings.Join(slices.Concat(l.Settings, l.Conditions), "; ")
}
