package stats

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"sort"
	"sync/atomic"

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

// resample says how many draws lie below each value of x and of y (and, last, how
// many there are), and the chance of that.
type resample struct {
	x, y   []uint16
	chance float64
}

// weighed is the number of a resample and its weight before a place: how many pairs of
// draws lie there.
type weighed struct{ number, weight int32 }

// resampling is a set of resamples of two samples.
type resampling interface {
	// weighed returns, in order, those with a weight of at least least and at most most
	// before a place that has so many y values before it for each x value. These ascend.
	weighed(place []uint16, least, most int) []weighed
	// each visits the resamples with these numbers.
	each(of []weighed, visit func(r resample, weight int))
}

// weighing works out weights before a place.
type weighing struct {
	place       []uint16
	none, all   int // the first x values with any y values before it, and with all
	least, most int
}

func newWeighing(place []uint16, values, least, most int) weighing {
	none := sort.Search(len(place), func(i int) bool { return place[i] > 0 })
	all := sort.Search(len(place), func(i int) bool { return int(place[i]) == values })
	return weighing{place, none, max(none, all), least, most}
}

func (w weighing) of(r resample) int {
	sum := int(r.x[len(r.x)-1]-r.x[w.all]) * int(r.y[len(r.y)-1])
	x := r.x[w.none : w.all+1]
	for i, before := range w.place[w.none:w.all] {
		sum += int(x[i+1]-x[i]) * int(r.y[before])
	}
	return sum
}

// add appends a resample if its weight is among those that are looked for.
func (w weighing) add(to []weighed, number int, r resample) []weighed {
	if weight := w.of(r); weight >= w.least && weight <= w.most {
		return append(to, weighed{int32(number), int32(weight)})
	}
	return to
}

// drawn are resamples of positions in two samples of sizes m and n.
type drawn struct {
	m, n, count int
	seed        uint64
}

func (d drawn) weighed(place []uint16, least, most int) (out []weighed) {
	w := newWeighing(place, d.n, least, most)
	sums := make([]uint64, (min(chunkSize, d.count)+lanes-1)/lanes)
	for number := range (d.count + chunkSize - 1) / chunkSize {
		out = d.chunk(number).add(out, w, sums)
	}
	return out
}

func (d drawn) each(of []weighed, visit func(resample, int)) {
	var c *chunk
	for _, w := range of {
		number, r := int(w.number)/chunkSize, int(w.number)%chunkSize
		if c == nil || c.number != number {
			c = d.chunk(number)
		}
		visit(c.resample(r), int(w.weight))
	}
}

func (d drawn) chunk(number int) *chunk {
	key := chunkKey{d.m, d.n, min(chunkSize, d.count-number*chunkSize), number, d.seed}
	return chunks.Get(key, func() *chunk { return newChunk(key) })
}

// chunk holds drawn resamples one behind the other, m+1 and n+1 sums each.
// They depend on sizes alone, so metrics of the same sizes share them.
type chunk struct {
	chunkKey
	x, y []uint16
	// For weights below 2^15: how many draws lie in each part of the x values, how many in
	// so many parts of the y values, and their products.
	partsX, partsY [][][lanes]uint16
	products       []atomic.Pointer[[]uint64]
}

type chunkKey struct {
	m, n, count, number int
	seed                uint64
}

// chunks keeps those of four pairs of sizes at the default number of resamples.
var chunks = numeric.Memo[chunkKey, *chunk]{Max: 4 * DefaultResamples / chunkSize}

func newChunk(k chunkKey) *chunk {
	c := &chunk{chunkKey: k, x: make([]uint16, k.count*(k.m+1)), y: make([]uint16, k.count*(k.n+1))}
	g := rand.NewPCG(k.seed, uint64(k.number))
	for r := range k.count {
		drawBelow(g, c.x[r*(k.m+1):][:k.m+1])
		drawBelow(g, c.y[r*(k.n+1):][:k.n+1])
	}
	if k.m*k.n < 1<<15 {
		c.divide()
	}
	return c
}

// divide counts the draws of all resamples in parts of the values, for whole lanes.
func (c *chunk) divide() {
	words := (c.count + lanes - 1) / lanes
	room := make([][lanes]uint16, (partsOf(c.m)+partsOf(c.n)+1)*words)
	column := func(sums []uint16, values, from, to int) [][lanes]uint16 { // of the draws from and below these positions
		out := room[:words:words]
		room = room[words:]
		for k := 0; len(sums) > 0; k++ {
			out[k/lanes][k%lanes] = sums[to] - sums[from]
			sums = sums[values+1:]
		}
		return out
	}
	for from := 0; from < c.m; from += together(c.m) {
		c.partsX = append(c.partsX, column(c.x, c.m, from, min(from+together(c.m), c.m)))
	}
	for end := 0; end < c.n+together(c.n); end += together(c.n) {
		c.partsY = append(c.partsY, column(c.y, c.n, 0, min(end, c.n)))
	}
	c.products = make([]atomic.Pointer[[]uint64], len(c.partsX)*len(c.partsY))
}

func (c *chunk) resample(r int) resample {
	return resample{c.x[r*(c.m+1):][:c.m+1], c.y[r*(c.n+1):][:c.n+1], 1}
}

const (
	maxParts  = 16 // that the values of a sample are taken together in; so 0.5 MB a chunk
	lanes     = 4  // numbers of 16 bits in one of 64
	everyLane = 0x0001_0001_0001_0001
	topBits   = 0x8000 * everyLane
)

// together is how many values of a sample make a part.
func together(values int) int { return (values + maxParts - 1) / maxParts }

func partsOf(values int) int { return (values + together(values) - 1) / together(values) }

// product is what a part of the x values adds to the weight of all resamples of the chunk
// before a place that has so many parts of the y values before it: how many draws of x
// lie in the one, times how many of y lie in the others, four resamples in each number.
// Metrics of the same sizes share it.
func (c *chunk) product(part, before int) []uint64 {
	at := &c.products[part*len(c.partsY)+before]
	if p := at.Load(); p != nil {
		return *p
	}
	x := c.partsX[part]
	p, y := make([]uint64, len(x)), c.partsY[before][:len(x)]
	for k := range p[:len(x)] {
		a, b := &x[k], &y[k]
		p[k] = uint64(a[0])*uint64(b[0]) | uint64(a[1])*uint64(b[1])<<16 | uint64(a[2])*uint64(b[2])<<32 | uint64(a[3])*uint64(b[3])<<48
	}
	at.Store(&p)
	return p
}

// add adds the resamples of the chunk, with room for sums in lanes. Bounds of all weights tell most of them apart,
// exact ones where no more than 16 values a side are: where the weight has to be large,
// each part of x counts with the place of its last value, rounded up to parts of y;
// where it has to be small, with that of its first, rounded down. A weight is below 2^15,
// so the top bit of a lane is free to say that a sum has passed a bound.
func (c *chunk) add(to []weighed, w weighing, sums []uint64) []weighed {
	if c.products == nil {
		for k := range c.count {
			to = w.add(to, c.number*chunkSize+k, c.resample(k))
		}
		return to
	}
	large := w.least > 0
	sums = sums[:(c.count+lanes-1)/lanes]
	clear(sums)
	for from := 0; from < c.m; from += together(c.m) {
		before := int(w.place[from]) / together(c.n)
		if large {
			last := int(w.place[min(from+together(c.m), c.m)-1])
			before = (last + together(c.n) - 1) / together(c.n)
		}
		if before > 0 {
			product := c.product(from/together(c.m), before)[:len(sums)]
			for k := range sums {
				sums[k] += product[k]
			}
		}
	}
	pass, turn := uint64(0x8000-w.least)*everyLane, uint64(0)
	if !large {
		pass, turn = uint64(0x7fff-w.most)*everyLane, topBits // set where a sum is above
	}
	exact := together(c.m) == 1 && together(c.n) == 1 && (w.least == 0 || w.most == c.m*c.n)
	for k, sum := range sums {
		passed := (sum + pass ^ turn) & topBits
		for ; passed != 0; passed &= passed - 1 {
			lane := bits.TrailingZeros64(passed) / 16
			switch r := lanes*k + lane; {
			case r >= c.count:
			case exact:
				to = append(to, weighed{int32(c.number*chunkSize + r), int32(sum >> (16 * lane) & 0xffff)})
			default:
				to = w.add(to, c.number*chunkSize+r, c.resample(r))
			}
		}
	}
	return to
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

// listed are all distinct resamples of two samples with their chances, so that an
// interval carries no Monte-Carlo error.
type listed struct{ x, y []multiset }

func (l listed) weighed(place []uint16, least, most int) (out []weighed) {
	w := newWeighing(place, len(l.y[0].below)-1, least, most)
	for number := range len(l.x) * len(l.y) {
		out = w.add(out, number, l.resample(number))
	}
	return out
}

func (l listed) each(of []weighed, visit func(resample, int)) {
	for _, w := range of {
		visit(l.resample(int(w.number)), int(w.weight))
	}
}

func (l listed) resample(number int) resample {
	x, y := l.x[number/len(l.y)], l.y[number%len(l.y)]
	return resample{x.below, y.below, x.chance * y.chance}
}

// multiset is a distinct resample of one side: how many draws lie below each value.
type multiset struct {
	below  []uint16
	chance float64
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
			out = append(out, multiset{below, chance * math.Pow(share[k], float64(left))})
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
