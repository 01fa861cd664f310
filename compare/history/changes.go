package history

import (
	"math"

	"tunegate/compare"
	"tunegate/stats"
)

// search finds the places where the level of a track changed.
func (t *Track) search(h *History, policy compare.Policy) error {
	alpha, among := 1-h.Confidence, 1
	if t.Scored() && t.suite == nil && h.Correction != compare.NoCorrection {
		among = max(1, h.Family)
	}
	t.Among, t.P, t.PAdjusted, t.Shifts = among, 1, 1, []*Shift{}
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
		change := &Shift{From: t.First(), First: f.At, To: t.Newest(), P: f.P, MaxP: f.Level}
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
			change.byCommit = t.settledByCommit(change, alpha, draws, h.Seed)
			change.Result = &compare.Result{Measurement: m, Judgement: judge(m, f.P)}
			t.Shifts = append(t.Shifts, change)
		}
	}
	return nil
}

// before is the last point before one that measured a track.
func (t *Track) before(point int) int {
	for i := point - 1; i >= 0; i-- {
		if t.Measured[i] != nil && len(t.values[i]) > 0 {
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
		if t.Role != compare.Score || !t.Named || len(t.Shifts) == 0 {
			continue
		}
		if t.Shifts[len(t.Shifts)-1].Harmful() {
			out = append(out, t)
		}
	}
	return out
}
