package history

import (
	"cmp"
	"math"
	"slices"

	"tunegate/compare"
)

// suiteOf pools the scores that more than half of the points which measured any
// score have measured; nil where there are fewer than two such.
func suiteOf(tracks []*Track, points []*Point, policy compare.Policy) (*Track, []Note) {
	any := make([]bool, len(points))
	times := map[*Track]int{}
	measured := 0
	var scores []*Track
	for _, t := range tracks {
		if t.Role != compare.Score || !t.Named || t.Scale != compare.Ratio {
			continue
		}
		scores = append(scores, t)
		for i, l := range t.Measured {
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
	var names []string
	var notes []Note
	left := Note{Kind: NoteNotInSuite, Of: measured}
	for _, t := range scores {
		if 2*times[t] > measured {
			parts, names = append(parts, t), append(names, t.Name())
		} else {
			left.Names, left.Counts = append(left.Names, t.Name()), append(left.Counts, times[t])
		}
	}
	if len(parts) < 2 {
		return nil, nil
	}
	slices.SortFunc(parts, func(a, b *Track) int { return a.ID().Compare(b.ID()) }) // as Terms.Pool has them
	t := &Track{Metric: compare.SuiteMetric(compare.WholeSuite, policy), Parts: names, Measured: make([]*Measured, len(points)),
		values: make([][]float64, len(points)), suite: parts, Searched: true}
	if len(left.Names) > 0 {
		notes = append(notes, left)
	}
	var incomplete []string
	for i := range points {
		lacking := slices.ContainsFunc(parts, func(p *Track) bool { return p.Measured[i] == nil })
		if !any[i] {
			continue
		}
		if lacking {
			incomplete = append(incomplete, points[i].Commit)
			continue
		}
		t.values[i] = t.completeSessions(i)
		t.Measured[i] = &Measured{Sessions: len(t.values[i])}
		for _, p := range parts {
			t.Measured[i].Runs += p.Measured[i].Runs
		}
		t.Searched = t.Searched && len(t.values[i]) > 0
	}
	if t.First() < 0 {
		return nil, notes
	}
	if len(incomplete) > 0 {
		notes = append(notes, Note{Kind: NoteIncomplete, Names: incomplete})
	}
	if !t.Searched {
		notes = append(notes, Note{Kind: NoteNotSearched})
	}
	return t, notes
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
		for _, s := range side.Counted() {
			if label := cmp.Or(s.Label, s.Block); label != "" { // a session's, or a machine's
				sums[label] += p.Weight * p.Turned(s.Value)
				seen[label]++
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
	for i, l := range t.Measured {
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
		if before == [2]int{p.First(), p.First()} && after[0] == after[1] && p.Measured[after[0]].Since != nil {
			parts = append(parts, p.Measured[after[0]].Since.Measurement) // measured already
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
