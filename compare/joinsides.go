package compare

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
)

// sides builds the series anew, in the order in which one reader of all files
// would have met them.
func (j *joining) sides() (before, after []*Series, err error) {
	var readings [2][][]string
	for _, p := range j.parts {
		for i := range readings {
			if n := len(p.Readings); n > 0 {
				readings[i] = append(readings[i], filesOf(p.Readings[min(i, n-1)]))
			}
		}
	}
	sides := [2][]*Series{}
	for i := range sides {
		rank := map[string]int{}
		for k, file := range inOrder(readings[i]) {
			rank[file] = k
		}
		earliest := map[*Part]*Series{}
		for _, p := range j.parts {
			for k := range p.Metrics {
				m := &p.Metrics[k]
				side := m.Before
				if i == 1 {
					side = m.After
				}
				if side == nil {
					continue
				}
				s, err := side.series(m, p)
				if err != nil {
					return nil, nil, err
				}
				sides[i] = append(sides[i], s)
				if e := earliest[p]; e == nil || orderOf(rank, s, e) < 0 {
					earliest[p] = s
				}
			}
		}
		slices.SortFunc(sides[i], func(a, b *Series) int { return orderOf(rank, a, b) })
		if i == 0 { // parts in the order of their runs, for what they note
			slices.SortStableFunc(j.parts, func(a, b *Part) int {
				x, y := earliest[a], earliest[b]
				switch {
				case x == nil || y == nil:
					return cmp.Compare(len(b.Metrics), len(a.Metrics))
				}
				return orderOf(rank, x, y)
			})
		}
	}
	return sides[0], sides[1], nil
}

func orderOf(rank map[string]int, a, b *Series) int {
	return cmp.Or(cmp.Compare(rank[a.first.File], rank[b.first.File]), cmp.Compare(a.first.File, b.first.File), cmp.Compare(a.first.Nth, b.first.Nth),
		cmp.Compare(a.Benchmark, b.Benchmark), cmp.Compare(a.Metric, b.Metric))
}

func filesOf(reading []FileNotes) []string {
	files := make([]string, len(reading))
	for i, f := range reading {
		files[i] = f.File
	}
	return files
}

// inOrder merges lists of files into one: a file comes behind those before it in
// its list, and of files that may come next the one first by path. Lists that
// contradict each other give way to the path.
func inOrder(lists [][]string) []string {
	follows, behind := map[string][]string{}, map[string]int{}
	edges := map[[2]string]bool{}
	for _, list := range lists {
		for i, file := range list {
			behind[file] += 0
			if i > 0 && list[i-1] != file && !edges[[2]string{list[i-1], file}] {
				edges[[2]string{list[i-1], file}] = true
				follows[list[i-1]] = append(follows[list[i-1]], file)
				behind[file]++
			}
		}
	}
	byPath := func(a, b string) int {
		return cmp.Or(cmp.Compare(strings.ReplaceAll(a, `\`, "/"), strings.ReplaceAll(b, `\`, "/")), cmp.Compare(a, b))
	}
	left := slices.SortedFunc(maps.Keys(behind), byPath)
	var ready, out []string
	for _, file := range left {
		if behind[file] == 0 {
			ready = append(ready, file)
		}
	}
	done := map[string]bool{}
	for len(out) < len(left) {
		if len(ready) == 0 {
			ready = append(ready, left[slices.IndexFunc(left, func(file string) bool { return !done[file] })])
		}
		file := ready[0]
		ready = ready[1:]
		done[file] = true
		out = append(out, file)
		for _, next := range follows[file] {
			if behind[next]--; behind[next] == 0 && !done[next] {
				at, _ := slices.BinarySearchFunc(ready, next, byPath)
				ready = slices.Insert(ready, at, next)
			}
		}
	}
	return out
}

// series is the series that the columns were made of.
func (s *PartSeries) series(m *PartMetric, p *Part) (*Series, error) {
	at := Place{File: p.Name, Line: m.Line}
	n := len(s.Values)
	if len(s.Sessions) > 0 && len(s.Sessions) != n || len(s.Blocks) > 0 && len(s.Blocks) != n || len(s.Runs) > 0 && len(s.Runs) != n {
		return nil, damaged(at, m, "its columns differ in length")
	}
	out := &Series{SeriesKey: SeriesKey{s.Profile, m.Benchmark, m.Metric}, Unit: s.Unit, Better: s.Better, WarmUps: s.WarmUps, first: s.First,
		unitAt: at, betterAt: at, Observations: make([]Observation, n)}
	for i, v := range s.Values {
		o := Observation{Value: v, Missing: math.IsNaN(v), At: at}
		if len(s.Sessions) > 0 {
			o.Session = s.Sessions[i]
		}
		if len(s.Blocks) > 0 {
			o.Block = s.Blocks[i]
		}
		if len(s.Runs) > 0 {
			o.Run = s.Runs[i]
		}
		out.Observations[i] = o
	}
	for _, a := range s.SetAside {
		if a.Value < 0 || a.Value >= n {
			return nil, damaged(at, m, "a run is set aside that is not there")
		}
		o := &out.Observations[a.Value]
		o.SetAside, o.Run, o.Reason, o.At = true, a.Run, a.Reason, Place{File: a.At}
	}
	return out, nil
}

func damaged(at Place, m *PartMetric, what string) error {
	return &PlacedError{at, fmt.Sprintf("%s: %s; the part is damaged or was changed by hand: make it anew with tunegate compare --part", describe(m.Benchmark, m.Metric), what)}
}
