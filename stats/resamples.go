package stats

import (
	"math/rand/v2"
	"sync"
)

// resampling says what drawn positions depend on: the sizes of both sides, how
// many resamples, and the seed.
type resampling struct {
	m, n, resamples int
	seed            uint64
}

// resampleTable holds bootstrap resamples of positions in two ascending
// samples: how often each x position was drawn, and as prefix sums how often
// each y position was. They do not depend on the values, so metrics of the
// same sizes share one table. Chunks have a generator each and are drawn when
// they are first asked for.
type resampleTable struct {
	resampling
	once     []sync.Once // per chunk; nil where the table is too large to keep
	x, below []uint16
}

// tableLimit is the largest table that is kept, in entries of two bytes: 200
// values a side at the default number of resamples.
const tableLimit = 4 << 20

var tables = memo[resampling, *resampleTable]{most: 4}

func drawnResamples(r resampling) *resampleTable {
	t := &resampleTable{resampling: r}
	if float64(r.resamples)*float64(r.m+r.n+1) > tableLimit {
		return t
	}
	return tables.get(r, func() *resampleTable {
		t.once = make([]sync.Once, t.chunks())
		t.x, t.below = make([]uint16, r.resamples*r.m), make([]uint16, r.resamples*(r.n+1))
		return t
	})
}

func (t *resampleTable) chunks() int { return (t.resamples + chunkSize - 1) / chunkSize }

// chunk returns the resamples of a chunk one behind the other, m counts and
// n+1 sums each. They must not change, and where the table is too large to
// keep they are valid until the next call with the same space.
func (t *resampleTable) chunk(c int, space *resampleSpace) (count int, x, below []uint16) {
	from := c * chunkSize
	count = min(chunkSize, t.resamples-from)
	fill := func() {
		g := rand.NewPCG(t.seed, uint64(c))
		for r := range count {
			t.draw(g, x[r*t.m:][:t.m], below[r*(t.n+1):][:t.n+1])
		}
	}
	if t.once == nil {
		if space.x == nil {
			space.x, space.below = make([]uint16, chunkSize*t.m), make([]uint16, chunkSize*(t.n+1))
		}
		x, below = space.x, space.below
		fill()
	} else {
		x, below = t.x[from*t.m:(from+count)*t.m], t.below[from*(t.n+1):(from+count)*(t.n+1)]
		t.once[c].Do(fill)
	}
	return count, x, below
}

// resampleSpace is where one worker's chunks are drawn that are not kept.
type resampleSpace struct{ x, below []uint16 }

func (t *resampleTable) draw(g *rand.PCG, x, below []uint16) {
	drawCounts(g, x)
	y := below[1:]
	drawCounts(g, y)
	sum := uint16(0)
	for j, c := range y {
		sum += c
		y[j] = sum
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
