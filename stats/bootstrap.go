package stats

import (
	"cmp"
	"iter"
	"math"
	"math/rand/v2"
	"slices"
)

// DefaultResamples keeps the Monte-Carlo standard error of an interval's end
// below 2 % of its width, on average over data sets.
const DefaultResamples = 10_000

const (
	// chunkSize resamples share a generator. An interval is the same however
	// many chunks are kept for the next metric.
	chunkSize = 1000
	// enumerationLimit is the largest number of distinct pairs of resamples
	// that are enumerated instead of drawn; 6 and 6 values have 462^2 = 213,444.
	enumerationLimit = 250_000
)

// includingBootstrap returns the interval stretched to the percentile bootstrap
// interval of the Hodges-Lehmann estimate (Efron 1979): both sides resampled
// independently, the share tail of the distribution beyond each end. Small
// samples are enumerated exactly; else resamples are drawn from the seed.
// Swapping the sides mirrors the result exactly: they are put into a fixed order
// first.
func (in Interval) includingBootstrap(before, after []float64, resamples int, seed uint64, tail float64) Interval {
	x, y := sorted(before), sorted(after)
	if swapFirst(x, y) {
		out := Interval{Lo: -in.Hi, Hi: -in.Lo}.includingBootstrap(y, x, resamples, seed, tail)
		in.Lo, in.Hi = -out.Hi, -out.Lo
		return in
	}
	b := newBootstrap(x, y, resamples, seed, tail)
	if slices.Equal(x, y) { // swapping changes nothing, so the interval is its own mirror
		lo, hi := b.interval()
		half := mid(hi, -lo)
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
	resamples iter.Seq[resample]
	beyond    float64 // chance beyond each end
}

// resample says how often each value of x was drawn, how many draws of y lie
// below each of its values (and, last, how many there are), and the chance of
// that. It is valid until the next one.
type resample struct {
	x, below []uint16
	chance   float64
}

// newBootstrap takes ascending samples.
func newBootstrap(x, y []float64, resamples int, seed uint64, tail float64) *bootstrap {
	dx, dy := newDistinct(x), newDistinct(y)
	if dx.resamples()*dy.resamples() <= enumerationLimit {
		return &bootstrap{newPairWalk(dx.value, dy.value, len(x), len(y)), listedResamples(dx, dy), tail + slack}
	}
	return &bootstrap{newPairWalk(x, y, len(x), len(y)), drawnResamples(len(x), len(y), resamples, seed), tail * float64(resamples)}
}

// stretch moves the ends of an interval to those of the bootstrap interval where
// these lie farther out. Only resamples whose median can lie beyond an end need
// it worked out: those with the lower of the middle two differences at or below
// Lo, or the upper one at or above Hi.
func (b *bootstrap) stretch(in Interval) Interval {
	w := b.walk
	low, high := w.upTo(in.Lo, true), w.upTo(in.Hi, false)
	var lows, highs []likely
	for r := range b.resamples {
		atLow, atHigh := weights(r.x, r.below, low.y, high.y)
		if atLow >= w.first {
			lows = append(lows, likely{w.median(r, low.pairs, atLow), r.chance})
		}
		if atHigh < w.second {
			highs = append(highs, likely{w.median(r, high.pairs, atHigh), r.chance})
		}
	}
	if lo, ok := quantileOf(lows, b.beyond, 1); ok {
		in = in.Including(lo)
	}
	if hi, ok := quantileOf(highs, b.beyond, -1); ok {
		in = in.Including(hi)
	}
	return in
}

// weights are those of the differences of a resample before two places.
func weights(x, below, low, high []uint16) (atLow, atHigh int) {
	low, high = low[:len(x)], high[:len(x)]
	for i, count := range x {
		atLow += int(count) * int(below[low[i]])
		atHigh += int(count) * int(below[high[i]])
	}
	return atLow, atHigh
}

// interval is the percentile interval itself.
func (b *bootstrap) interval() (lo, hi float64) {
	var all []likely
	for r := range b.resamples {
		all = append(all, likely{b.walk.medianOf(r), r.chance})
	}
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
	first, second int // ranks of the middle two among the differences of a resample
	pairs         []pair
	centre        place
}

// pair is one difference y_j - x_i.
type pair struct {
	d    float64
	i, j uint32
}

// newPairWalk takes ascending values and the sizes of the samples they are of,
// which are larger where equal values are given once.
func newPairWalk(x, y []float64, m, n int) *pairWalk {
	w := &pairWalk{x: x, y: y, first: (m*n + 1) / 2, second: m*n/2 + 1, pairs: make([]pair, 0, len(x)*len(y))}
	for i, a := range x {
		for j, b := range y {
			w.pairs = append(w.pairs, pair{b - a, uint32(i), uint32(j)})
		}
	}
	slices.SortFunc(w.pairs, func(a, b pair) int { return cmp.Compare(a.d, b.d) })
	w.centre = w.upTo(medianDifference(x, y), false)
	return w
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
	p.pairs = countDifferences(w.x, w.y, d, count, orEqual)
	for i, c := range count {
		p.y[i] = uint16(c)
	}
	return p
}

// medianOf is the median difference of a resample.
func (w *pairWalk) medianOf(r resample) float64 {
	weight := 0
	for i, count := range r.x {
		weight += int(count) * int(r.below[w.centre.y[i]])
	}
	return w.median(r, w.centre.pairs, weight)
}

// median is medianOf, looked for from a place on that has so many pairs before
// it, with so much weight of the resample.
func (w *pairWalk) median(r resample, at, weight int) float64 {
	of := func(p pair) int { return int(r.x[p.i]) * (int(r.below[p.j+1]) - int(r.below[p.j])) }
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
	return mid(low, w.pairs[at-1].d)
}

// drawnResamples draws resamples of positions in two samples.
func drawnResamples(m, n, resamples int, seed uint64) iter.Seq[resample] {
	return func(yield func(resample) bool) {
		for from := 0; from < resamples; from += chunkSize {
			key := chunkKey{m, n, min(chunkSize, resamples-from), from / chunkSize, seed}
			c := chunks.get(key, func() *chunk { return newChunk(key) })
			for r := range key.count {
				if !yield(resample{c.x[r*m:][:m], c.below[r*(n+1):][:n+1], 1}) {
					return
				}
			}
		}
	}
}

// chunk holds drawn resamples one behind the other, m counts and n+1 sums each.
// They depend on sizes alone, so metrics of the same sizes share them.
type chunk struct{ x, below []uint16 }

type chunkKey struct {
	m, n, count, number int
	seed                uint64
}

// chunks keeps those of four pairs of sizes at the default number of resamples.
var chunks = memo[chunkKey, *chunk]{most: 4 * DefaultResamples / chunkSize}

func newChunk(k chunkKey) *chunk {
	c := &chunk{make([]uint16, k.count*k.m), make([]uint16, k.count*(k.n+1))}
	g := rand.NewPCG(k.seed, uint64(k.number))
	for r := range k.count {
		drawCounts(g, c.x[r*k.m:][:k.m])
		drawBelow(g, c.below[r*(k.n+1):][:k.n+1])
	}
	return c
}

// drawBelow draws as drawCounts does, and sums up: below[j] draws lie below
// position j.
func drawBelow(g *rand.PCG, below []uint16) {
	drawCounts(g, below[1:])
	for j := 1; j < len(below); j++ {
		below[j] += below[j-1]
	}
}

// drawCounts draws as many positions as there are and counts how often each
// comes up. A 64-bit number serves two draws; an index from 32 bits by
// multiplication is off uniform by less than n / 2^32, far below what any
// number of resamples could show.
func drawCounts(g *rand.PCG, count []uint16) {
	clear(count)
	n := uint64(len(count))
	k := 0
	for ; k+1 < len(count); k += 2 {
		v := g.Uint64()
		count[(v&0xffffffff)*n>>32]++
		count[(v>>32)*n>>32]++
	}
	if k < len(count) {
		count[(g.Uint64()>>32)*n>>32]++
	}
}

// distinct holds an ascending sample without repeats: the values, and how often
// each occurs.
type distinct struct {
	value []float64
	times []int
}

func newDistinct(s []float64) (d distinct) {
	for i, v := range s {
		if i == 0 || v != s[i-1] {
			d.value, d.times = append(d.value, v), append(d.times, 0)
		}
		d.times[len(d.times)-1]++
	}
	return d
}

func (d distinct) size() int {
	n := 0
	for _, t := range d.times {
		n += t
	}
	return n
}

// resamples counts the distinct bootstrap resamples: multisets of the sample's
// size over its distinct values.
func (d distinct) resamples() float64 { return choose(d.size()+len(d.value)-1, d.size()) }

// listedResamples goes through every distinct resample with its chance, so that
// an interval carries no Monte-Carlo error.
func listedResamples(x, y distinct) iter.Seq[resample] {
	xs, ys := x.multisets(), y.multisets()
	return func(yield func(resample) bool) {
		for _, a := range xs {
			for _, b := range ys {
				if !yield(resample{a.count, b.below, a.chance * b.chance}) {
					return
				}
			}
		}
	}
}

// multiset is a distinct resample of one side.
type multiset struct {
	count, below []uint16
	chance       float64
}

// multisets lists every way of drawing as many values as d has from it.
func (d distinct) multisets() []multiset {
	var out []multiset
	total := d.size()
	count := make([]uint16, len(d.value))
	share := make([]float64, len(d.value))
	for k, t := range d.times {
		for range t {
			share[k] += 1 / float64(total)
		}
	}
	var fill func(k, left int, chance float64)
	fill = func(k, left int, chance float64) {
		if k == len(count)-1 {
			count[k] = uint16(left)
			below := make([]uint16, len(count)+1)
			for j, c := range count {
				below[j+1] = below[j] + c
			}
			out = append(out, multiset{slices.Clone(count), below, chance * math.Pow(share[k], float64(left))})
			return
		}
		term := chance // times C(left, c) share^c
		for c := 0; c <= left; c++ {
			count[k] = uint16(c)
			fill(k+1, left-c, term)
			term *= share[k] * float64(left-c) / float64(c+1)
		}
	}
	fill(0, total, 1)
	return out
}

// selectKth returns the k-th smallest (from 0), reordering v (Hoare's
// selection).
func selectKth(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		pivot := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}
