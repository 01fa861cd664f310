package history

import (
	"errors"
	"fmt"
	"slices"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// tracks files the rows that count by metric and point: scores, costs, infos, each
// in order of appearance. The notes say which metrics are left out.
func (p *Past) tracks(policy compare.Policy) (out []*Track, notes []Note, err error) {
	byKey := map[compare.MetricID]*Track{}
	points := make([]compare.Runs, len(p.points))
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
			return nil, nil, err
		}
	}
	leaveOut := func(id compare.MetricID, err error) {
		notes = append(notes, Note{Kind: NoteLeftOut, Names: []string{id.Name()}, Err: err})
	}
	var tracks []*Track
	for _, s := range all.Series() {
		key := s.ID()
		if err := wrong[key]; err != nil {
			leaveOut(key, err)
			continue
		}
		m, err := policy.Resolve(s.Benchmark, s.Metric, s.Unit, s.Better)
		if err != nil && s.Better == "" && p.opt.Better != "" {
			m, err = policy.Resolve(s.Benchmark, s.Metric, s.Unit, p.opt.Better)
		}
		if err != nil {
			return nil, nil, compare.ErrorAt(compare.FirstPlace(s), "%w", err)
		}
		n := len(p.points)
		t := &Track{Metric: m, Measured: make([]*Measured, n), points: make([]*compare.Series, n), values: make([][]float64, n), Searched: true}
		named := slices.DeleteFunc(s.Machines(), func(machine string) bool { return machine == "" })
		t.perMachine = len(named) > 1
		byKey[key] = t
		tracks = append(tracks, t)
	}
	for i := range points {
		for _, s := range points[i].Series() {
			if t := byKey[s.ID()]; t != nil && len(s.Machines()) > 1 {
				t.perMachine = true
			}
		}
	}
	for i := range points {
		for _, s := range points[i].Series() {
			t := byKey[s.ID()]
			if t == nil {
				continue
			}
			if t.perMachine {
				s = s.ByMachine()
			} else { // one machine, which some points may not state
				for k, o := range s.All() {
					if o.Machine != "" {
						o.Machine = ""
						s.Set(k, o)
					}
				}
			}
			side, err := compare.Reduce(t.Metric, s)
			if err != nil {
				leaveOut(t.ID(), err)
				byKey[s.ID()] = nil
				continue
			}
			if side.Runs == 0 {
				continue
			}
			t.points[i], t.values[i] = s, side.Values
			t.Measured[i] = &Measured{Values: side.InUnit(t.Metric), Median: side.Median, Runs: side.Runs,
				Sessions: side.Sessions, usualRuns: side.UsualRuns}
		}
	}
	for _, role := range []compare.Role{compare.Score, compare.Cost, compare.Info} {
		for _, t := range tracks {
			if t.Role == role && byKey[t.ID()] != nil && t.First() >= 0 {
				out = append(out, t)
			}
		}
	}
	if len(out) > 0 {
		return out, notes, nil
	}
	err = errors.New("nothing was measured of what is followed")
	if n := len(notes); n > 0 {
		err = fmt.Errorf("%w: %s is left out: %w", err, notes[n-1].Names[0], notes[n-1].Err)
	}
	return nil, nil, err
}

// First is the first point that measured a track; -1 where none did.
func (t *Track) First() int {
	return slices.IndexFunc(t.Measured, func(l *Measured) bool { return l != nil })
}

// Newest is the last point that measured a track.
func (t *Track) Newest() int {
	for i := len(t.Measured) - 1; i >= 0; i-- {
		if t.Measured[i] != nil {
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
			for _, o := range s.All() {
				out.Append(o)
			}
		}
	}
	if t.perMachine {
		return out.ByMachine()
	}
	return &out
}
