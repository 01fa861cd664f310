package compare

import (
	"math"
	"slices"
	"sort"

	"tunegate/stats"
)

// Sitting is one session of a side, or one spell within a block: its runs in
// the metric's unit and in their order, and what it counts with.
type Sitting struct {
	Label string // empty where none is recorded: then it is a single run
	Block string
	Runs  []float64
	Value float64
}

// Sittings lists what was compared on each side, in run order; blocks in the
// order of their labels. Of a suite without a value per session there is none.
func (r *Result) Sittings() (before, after []Sitting) {
	side := func(s sample) []Sitting {
		var out []Sitting
		for x := range s.spells() {
			sitting := Sitting{Label: x.label, Block: x.block, Value: r.natural(x.value)}
			for _, v := range x.runs {
				sitting.Runs = append(sitting.Runs, r.natural(v))
			}
			out = append(out, sitting)
		}
		if r.blocks != nil {
			slices.SortStableFunc(out, func(a, b Sitting) int { return slices.Index(r.blocks, a.Block) - slices.Index(r.blocks, b.Block) })
		}
		return out
	}
	return side(r.before), side(r.after)
}

// mostPairs is the largest number of pairs that Pairs lists one by one.
const mostPairs = 250_000

// Pairs lists the changes of which Change is the middle, as it is shown and
// ascending: every value after against every value before, within blocks where
// they are used. Of more than 250,000 pairs it takes those of 500 values of each
// side, evenly spaced in order; thinned says so.
func (r *Result) Pairs() (changes []float64, thinned bool) {
	add := func(before, after []float64) {
		for _, b := range before {
			for _, a := range after {
				changes = append(changes, r.display(tidiedFor(r, a-b)))
			}
		}
	}
	switch {
	case r.strata != nil:
		for _, s := range r.strata {
			add(s.Before, s.After)
		}
	case r.differences != nil:
		add([]float64{0}, r.differences)
	default:
		b, a := r.before.values, r.after.values
		if thinned = len(b)*len(a) > mostPairs; thinned {
			b, a = evenly(b, 500), evenly(a, 500)
		}
		add(b, a)
	}
	sort.Float64s(changes)
	return changes, thinned
}

// tidiedFor keeps equal decimal readings at a difference of 0.
func tidiedFor(r *Result, difference float64) float64 {
	if r.Scale == Ratio {
		return difference
	}
	return tidied(difference, magnitude(r.before.raw, r.after.raw))
}

// evenly picks n of more ascending values, evenly spaced.
func evenly(x []float64, n int) []float64 {
	if len(x) <= n {
		return x
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = x[(2*i+1)*len(x)/(2*n)]
	}
	return out
}

// Prospect is what a comparison of N values a side (or blocks) would usually
// bring.
type Prospect struct {
	N int
	// HalfWidth is half the interval's width, as a change is stated; +Inf where
	// N is too few for an interval.
	HalfWidth float64
	Chance    float64 // to find a change as large as the tolerance real
}

// Prospects foresees comparisons of the given sizes from these runs, by the rule
// and the correction that they were judged with. ok is false where they foresee
// nothing: too few, without any spread, without a tolerance, or never judged.
func (r *Result) Prospects(sizes []int) (out []Prospect, ok bool) {
	p := r.planner
	if r.Role == Info || r.Tolerance == nil || !(*r.Tolerance > 0) || len(sizes) == 0 {
		return nil, false
	}
	at := func(loss float64) ([]stats.Prospect, bool) {
		switch {
		case p.pooled != nil:
			var out []stats.Prospect
			for _, n := range sizes {
				x, ok := p.pooled.closed.Foresee(float64(n)/float64(p.pooled.size), loss, p.design)
				if !ok {
					return nil, false
				}
				out = append(out, x)
			}
			return out, true
		case p.strata != nil:
			return stats.StrataForesee(p.strata, loss, p.design, sizes)
		case p.differences != nil:
			return stats.BlocksForesee(p.differences, loss, p.design, sizes)
		}
		return stats.Foresee(p.before, p.after, loss, p.design, sizes)
	}
	// Coarse readings widen the interval by a fixed part, as in sizeToCatch.
	found, ok := at(p.margin - p.widen)
	if !ok {
		return nil, false
	}
	for i, n := range sizes {
		half := found[i].Half + p.widen
		if r.Scale == Ratio && !math.IsInf(half, 1) {
			half = math.Expm1(half)
		}
		chance := found[i].Chance
		if p.margin <= p.widen {
			chance = 0
		}
		out = append(out, Prospect{n, half, chance})
	}
	return out, true
}
