package report

import (
	"slices"

	"tunegate/compare"
)

// sitting is one session of a side, or one spell within a block: its runs in
// the metric's unit and in their order, and what it counts with.
type sitting struct {
	Label string // empty where none is recorded: then it is a single run
	Block string
	Runs  []float64
	Value float64
}

// sittingsOf lists what was compared on each side, in run order; blocks in the
// order of their labels. Of a suite without a value per session there is none.
func sittingsOf(p *compare.Pair) (before, after []sitting) {
	side := func(s compare.Sample) []sitting {
		var out []sitting
		for x := range s.Spells() {
			next := sitting{Label: x.Label, Block: x.Block, Value: p.InUnit(x.Value)}
			for _, v := range x.Runs {
				next.Runs = append(next.Runs, p.InUnit(v))
			}
			out = append(out, next)
		}
		if p.Blocks != nil {
			at := indexByName(p.Blocks)
			slices.SortStableFunc(out, func(a, b sitting) int { return at[a.Block] - at[b.Block] })
		}
		return out
	}
	return side(p.Before), side(p.After)
}

// indexByName says where names stand in a list.
func indexByName(names []string) map[string]int {
	at := map[string]int{}
	for i, name := range names {
		at[name] = i
	}
	return at
}
