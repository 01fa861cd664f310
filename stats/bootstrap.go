package stats

import (
	"cmp"
	"slices"

	"tunegate/stats/internal/numeric"
)

// DefaultResamples keeps the Monte-Carlo standard error of an interval's end
// below 2 % of its width, on average over data sets.
const DefaultResamples = 10_000

// includingBootstrap returns the interval stretched to the percentile bootstrap
// interval of the Hodges-Lehmann estimate (Efron 1979): both sides resampled
// independently, the share tail of the distribution beyond each end. Small
// samples are enumerated exactly; else resamples are drawn from the seed.
// Swapping the sides mirrors the result exactly: they are put into a fixed order
// first.
func (in Interval) includingBootstrap(before, after []float64, resamples int, seed uint64, tail float64) Interval {
	x, y := numeric.Sorted(before), numeric.Sorted(after)
	if swapFirst(x, y) {
		out := Interval{Lo: -in.Hi, Hi: -in.Lo}.includingBootstrap(y, x, resamples, seed, tail)
		in.Lo, in.Hi = -out.Hi, -out.Lo
		return in
	}
	b := newBootstrap(x, y, resamples, seed, tail)
	if slices.Equal(x, y) { // swapping changes nothing, so the interval is its own mirror
		lo, hi := b.interval()
		half := numeric.Mid(hi, -lo)
		return in.Including(-half).Including(half)
	}
	return b.stretch(in)
}

// swapFirst orders two ascending samples: the shorter first, else the one whose
// first differing value is smaller, which a common shift or scale does not
// change.
func swapFirst(x, y []float64) bool {
	if len(x) != len(y) {
		return len(x) > len(y)
	}
	for i := range x {
		if x[i] != y[i] {
			return x[i] > y[i]
		}
	}
	return false
}

// bootstrap is the bootstrap distribution of the median difference of two
// samples.
type bootstrap struct {
	walk      *pairWalk
	resamples resampling
	beyond    float64 // chance beyond each end
}

// newBootstrap takes ascending samples.
func newBootstrap(x, y []float64, resamples int, seed uint64, tail float64) *bootstrap {
	dx, dy := newDistinct(x), newDistinct(y)
	if dx.resamples()*dy.resamples() <= enumerationLimit {
		return &bootstrap{newPairWalk(dx.value, dy.value, len(x), len(y)), listed{dx.multisets(), dy.multisets()}, tail + numeric.Slack}
	}
	return &bootstrap{newPairWalk(x, y, len(x), len(y)), drawn{len(x), len(y), resamples, seed}, tail * float64(resamples)}
}

// stretch moves the ends of an interval to those of the bootstrap interval where
// these lie farther out. Only resamples whose median can lie beyond an end need
// it worked out: those with the lower of the middle two differences at or below
// Lo, or the upper one at or above Hi.
func (b *bootstrap) stretch(in Interval) Interval {
	w := b.walk
	low, high := w.upTo(in.Lo, true), w.upTo(in.Hi, false)
	if lo, ok := quantileOf(b.medians(low, w.first, w.weight), b.beyond, 1); ok {
		in = in.Including(lo)
	}
	if hi, ok := quantileOf(b.medians(high, 0, w.second-1), b.beyond, -1); ok {
		in = in.Including(hi)
	}
	return in
}

// medians are those of the resamples with a weight of at least least and at most most
// before a place; none where their chance is not above that beyond an end.
func (b *bootstrap) medians(from place, least, most int) []likely {
	passed, chance := b.resamples.weighed(from.y, least, most), 0.0
	b.resamples.each(passed, func(r resample, _ int) { chance += r.chance })
	if chance <= b.beyond {
		return nil
	}
	var out []likely
	b.resamples.each(passed, func(r resample, weight int) {
		out = append(out, likely{b.walk.median(r, from.pairs, weight), r.chance})
	})
	return out
}

// interval is the percentile interval itself.
func (b *bootstrap) interval() (lo, hi float64) {
	all := b.medians(b.walk.centre(), 0, b.walk.weight)
	lo, _ = quantileOf(all, b.beyond, 1)
	hi, _ = quantileOf(all, b.beyond, -1)
	return lo, hi
}

// likely is a median with its chance.
type likely struct{ median, chance float64 }

// quantileOf is the first median, ascending where direction is 1 and descending
// where it is -1, with which more than so much chance has passed. ok is false
// where all of them hold less. It reorders the medians.
func quantileOf(medians []likely, beyond float64, direction int) (median float64, ok bool) {
	slices.SortFunc(medians, func(a, b likely) int { return direction * cmp.Compare(a.median, b.median) })
	sum := 0.0
	for _, m := range medians {
		if sum += m.chance; sum > beyond {
			return m.median, true
		}
	}
	return 0, false
}

// pairWalk finds the median difference of a resample without sorting it: the
// differences are sorted once, and a resample gives each a weight, the product
// of how often its two values were drawn.
type pairWalk struct {
	x, y          []float64
	weight        int    // of all differences of a resample
	first, second int    // ranks of the middle two among them
	pairs         []pair // ascending; nil until a median is looked for
}

// pair is one difference y_j - x_i.
type pair struct {
	d    float64
	i, j uint32
}

// newPairWalk takes ascending values and the sizes of the samples they are of,
// which are larger where equal values are given once.
func newPairWalk(x, y []float64, m, n int) *pairWalk {
	return &pairWalk{x: x, y: y, weight: m * n, first: (m*n + 1) / 2, second: m*n/2 + 1}
}

// sortPairs lists the differences in order.
func (w *pairWalk) sortPairs() {
	if w.pairs != nil {
		return
	}
	w.pairs = make([]pair, 0, len(w.x)*len(w.y))
	for i, a := range w.x {
		for j, b := range w.y {
			w.pairs = append(w.pairs, pair{b - a, uint32(i), uint32(j)})
		}
	}
	slices.SortFunc(w.pairs, func(a, b pair) int { return cmp.Compare(a.d, b.d) })
}

// place is a place among the ascending differences: how many lie before it, and
// how many y values do for each x value.
type place struct {
	pairs int
	y     []uint16
}

// upTo is the place behind the differences below d, or behind those equal to it
// as well.
func (w *pairWalk) upTo(d float64, orEqual bool) place {
	p, count := place{y: make([]uint16, len(w.x))}, make([]int, len(w.x))
	p.pairs = numeric.CountDifferences(w.x, w.y, d, count, orEqual)
	for i, c := range count {
		p.y[i] = uint16(c)
	}
	return p
}

// centre is the place of the samples' own median difference.
func (w *pairWalk) centre() place { return w.upTo(numeric.MedianDifference(w.x, w.y), false) }

// median is the median difference of a resample, looked for from a place on that has
// so many pairs before it, with so much weight of the resample.
func (w *pairWalk) median(r resample, at, weight int) float64 {
	w.sortPairs()
	of := func(p pair) int { return int(r.x[p.i+1]-r.x[p.i]) * int(r.y[p.j+1]-r.y[p.j]) }
	for weight >= w.first {
		at--
		weight -= of(w.pairs[at])
	}
	for weight < w.first {
		weight += of(w.pairs[at])
		at++
	}
	low := w.pairs[at-1].d
	for weight < w.second {
		weight += of(w.pairs[at])
		at++
	}
	return numeric.Mid(low, w.pairs[at-1].d)
}
