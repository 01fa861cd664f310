package stats

import (
	"iter"
	"math"
	"math/rand/v2"
	"slices"

	"tunegate/stats/internal/numeric"
)

const (
	// chunkSize resamples share a generator. An interval is the same however
	// many chunks are kept for the next metric.
	chunkSize = 1000
	// enumerationLimit is the largest number of distinct pairs of resamples
	// that are enumerated instead of drawn; 6 and 6 values have 462^2 = 213,444.
	enumerationLimit = 250_000
)

// resample says how often each value of x was drawn, how many draws of y lie
// below each of its values (and, last, how many there are), and the chance of
// that. It is valid until the next one.
type resample struct {
	x, below []uint16
	chance   float64
}

// drawnResamples draws resamples of positions in two samples.
func drawnResamples(m, n, resamples int, seed uint64) iter.Seq[resample] {
	return func(yield func(resample) bool) {
		for from := 0; from < resamples; from += chunkSize {
			key := chunkKey{m, n, min(chunkSize, resamples-from), from / chunkSize, seed}
			c := chunks.Get(key, func() *chunk { return newChunk(key) })
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
var chunks = numeric.Memo[chunkKey, *chunk]{Max: 4 * DefaultResamples / chunkSize}

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

func newDistinct(s []float64) distinct {
	d := distinct{make([]float64, 0, len(s)), make([]int, 0, len(s))}
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
func (d distinct) resamples() float64 { return numeric.Choose(d.size()+len(d.value)-1, d.size()) }

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
