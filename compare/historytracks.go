package compare

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// tracks files the rows that count by metric and point.
func (p *Past) tracks(policy Policy) error {
	h := p.history
	byKey := map[MetricID]*Track{}
	points := make([]Runs, len(h.Points))
	var all Runs
	wrong := map[MetricID]error{}
	for _, row := range p.rows {
		v := row.Value
		if v.Metric == "" {
			v.Metric = DefaultMetric
		}
		key := v.ID()
		if row.withdrawn || v.Missing && !v.SetAside || !p.opt.wants(v.Benchmark, v.Metric) {
			continue
		}
		v.asSitting()
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
			return &PlacedError{firstPlace(s), err.Error()}
		}
		t := &Track{Metric: m, Levels: make([]*Measured, len(h.Points)), points: make([]*Series, len(h.Points)), values: make([][]float64, len(h.Points)), Searched: true}
		byKey[key] = t
		tracks = append(tracks, t)
	}
	for i := range points {
		for _, s := range points[i].Series() {
			t := byKey[s.ID()]
			if t == nil {
				continue
			}
			side, err := sampleOf(t.Metric, s, func(Observation) bool { return true })
			if err != nil {
				p.note("left-out", "%s is left out: %v", t.Name(), err)
				byKey[s.ID()] = nil
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
		for s := range side.spells() {
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
	s := scratch.suite(pooling{name: WholeSuite, whole: true}, parts, policy)
	if s == nil {
		return nil
	}
	s.Result.Notes = []Note{}
	return s.Result
}
