package history

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// tracks files the rows that count by metric and point.
func (p *Past) tracks(policy compare.Policy) error {
	h := p.history
	byKey := map[compare.MetricID]*Track{}
	points := make([]compare.Runs, len(h.Points))
	var all compare.Runs
	wrong := map[compare.MetricID]error{}
	for _, row := range p.rows {
		v := row.Value
		key := v.ID()
		if row.withdrawn || v.Missing && !v.SetAside || !p.opt.Wants(v.ID()) {
			continue
		}
		v = gate.AsSitting(v)
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
		key := s.ID()
		if err := wrong[key]; err != nil {
			p.note("left-out", "%s is left out: %v", s.ID().Name(), err)
			continue
		}
		m, err := policy.Resolve(s.Benchmark, s.Metric, s.Unit, s.Better)
		if err != nil && s.Better == "" && p.opt.Better != "" {
			m, err = policy.Resolve(s.Benchmark, s.Metric, s.Unit, p.opt.Better)
		}
		if err != nil {
			return compare.ErrorAt(compare.FirstPlace(s), "%v", err)
		}
		t := &Track{Metric: m, Levels: make([]*Measured, len(h.Points)), points: make([]*compare.Series, len(h.Points)), values: make([][]float64, len(h.Points)), Searched: true}
		byKey[key] = t
		tracks = append(tracks, t)
	}
	for i := range points {
		for _, s := range points[i].Series() {
			t := byKey[s.ID()]
			if t == nil {
				continue
			}
			side, err := compare.Reduce(t.Metric, s)
			if err != nil {
				p.note("left-out", "%s is left out: %v", t.Name(), err)
				byKey[s.ID()] = nil
				continue
			}
			if side.Runs == 0 {
				continue
			}
			t.points[i], t.values[i] = s, side.Values
			t.Levels[i] = &Measured{Values: side.InUnit(t.Metric), Median: side.Median, Runs: side.Runs, Sessions: side.Sessions}
		}
	}
	for _, role := range []compare.Role{compare.Score, compare.Cost, compare.Info} {
		for _, t := range tracks {
			if t.Role == role && byKey[t.ID()] != nil && t.First() >= 0 {
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

// against sets one stretch of points against another.
func (t *Track) against(before, after [2]int) (*compare.Pair, error) {
	return compare.PairOf(t.Metric, t.pooled(before), t.pooled(after))
}

// pooled joins what the points of a stretch, ends included, have measured.
func (t *Track) pooled(stretch [2]int) *compare.Series {
	var out compare.Series
	for _, s := range t.points[stretch[0] : stretch[1]+1] {
		if s != nil {
			out.SeriesKey, out.WarmUps = s.SeriesKey, out.WarmUps+s.WarmUps
			out.Observations = append(out.Observations, s.Observations...)
		}
	}
	return &out
}

// suite pools the scores that more than half of the points which measured any
// score have measured; nil where there are fewer than two such.
func (h *History) suite(policy compare.Policy) *Track {
	any := make([]bool, len(h.Points))
	times := map[*Track]int{}
	measured := 0
	var scores []*Track
	for _, t := range h.Tracks {
		if t.Role != compare.Score || !t.Named || t.Scale != compare.Ratio {
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
	slices.SortFunc(parts, func(a, b *Track) int { return a.ID().Compare(b.ID()) }) // as Terms.Pool has them
	t := &Track{Metric: compare.SuiteMetric(compare.WholeSuite, policy), Parts: names, Levels: make([]*Measured, len(h.Points)),
		values: make([][]float64, len(h.Points)), suite: parts, Searched: true}
	if len(left) > 0 {
		h.Notes = append(h.Notes, compare.Note{"suite", "not in the suite: " + compare.List(left, 6)})
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
		h.Notes = append(h.Notes, compare.Note{"suite", "not all scores of the suite were measured at " + compare.List(incomplete, 6) + "; there is no suite there"})
	}
	if !t.Searched {
		h.Notes = append(h.Notes, compare.Note{"suite", "the suite is not searched for changes of its level: that needs sessions that hold all of its scores at every commit"})
	}
	return t
}

// completeSessions are the weighted means of the logarithms of each session
// that holds every score, turned so that plus is better; ascending.
func (t *Track) completeSessions(point int) []float64 {
	sums, seen, total := map[string]float64{}, map[string]int{}, 0.0
	for _, p := range t.suite {
		side, err := compare.Reduce(p.Metric, p.points[point])
		if err != nil {
			return nil
		}
		for s := range side.Spells() {
			if s.Label != "" {
				sums[s.Label] += p.Weight * p.Turned(s.Value)
				seen[s.Label]++
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

// suiteSinceFirst measures what each point brought since the first one.
func (t *Track) suiteSinceFirst(terms compare.Terms, policy compare.Policy) {
	first := t.First()
	origin := 0.0
	if t.Searched {
		origin = middle(t.values[first])
	}
	for i, l := range t.Levels {
		if l == nil {
			continue
		}
		for _, v := range t.values[i] {
			l.Values = append(l.Values, math.Exp(v-origin))
		}
		if l.Median = 1; len(l.Values) > 0 {
			l.Median = middle(l.Values)
		}
		if i != first {
			if m := t.suiteAgainst(terms, policy, [2]int{first, first}, [2]int{i, i}); m != nil {
				l.Since = &compare.Result{Measurement: m}
				if len(l.Values) == 0 {
					l.Median = 1 + m.Change
				}
			}
		}
	}
}

// middle is the median of ascending values.
func middle(x []float64) float64 { return (x[(len(x)-1)/2] + x[len(x)/2]) / 2 }

// suiteAgainst pools the scores of one stretch of points against another; nil
// where that cannot be.
func (t *Track) suiteAgainst(terms compare.Terms, policy compare.Policy, before, after [2]int) *compare.Measurement {
	var parts []*compare.Measurement
	for _, p := range t.suite {
		if before == [2]int{p.First(), p.First()} && after[0] == after[1] && p.Levels[after[0]].Since != nil {
			parts = append(parts, p.Levels[after[0]].Since.Measurement) // measured already
			continue
		}
		pair, err := p.against(before, after)
		if err != nil {
			return nil
		}
		parts = append(parts, pair.Measure(terms))
	}
	// Why nothing can be pooled is not shown here.
	pool, _ := terms.Pool(compare.PoolOf{Name: compare.WholeSuite, Whole: true}, parts, policy)
	if pool == nil {
		return nil
	}
	return pool.Measured
}
