package stats

import (
	"cmp"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sort"
	"sync"
)

// DefaultResamples keeps the Monte-Carlo standard error of an interval's end
// below 2 % of its width, on average over data sets.
const DefaultResamples = 10_000

const (
	// chunkSize resamples share a generator of their own, so that the number
	// of cores never changes a result.
	chunkSize = 1000
	// enumerationLimit is the largest number of distinct pairs of resamples
	// that is enumerated instead of drawn; 6 and 6 values have 462^2 = 213,444.
	enumerationLimit = 250_000
)

// PercentileInterval returns the plain percentile bootstrap interval of the
// Hodges-Lehmann estimate: both sides resampled independently, ends at the
// (1-confidence)/2 and (1+confidence)/2 quantiles. Small samples are
// enumerated exactly; else resamples are drawn from the seed.
func PercentileInterval(before, after []float64, confidence float64, resamples int, seed uint64) (lo, hi float64) {
	return bootstrap(before, after, resamples, seed, (1-confidence)/2)
}

// WidenedInterval returns the percentile bootstrap interval of the
// Hodges-Lehmann estimate, widened for small samples after Hesterberg's
// expanded percentile interval (American Statistician 69:371-386, 2015): ends
// at the Phi(-sqrt(k) t) and 1 - Phi(-sqrt(k) t) quantiles, with t Student's
// quantile on Welch-Satterthwaite degrees of freedom and k^2 the unbiased
// variance of the difference of means over its plug-in bootstrap variance.
// ok is false when a side has fewer than two values, both are constant, or a
// variance overflows (spreads from 1e154 on).
func WidenedInterval(before, after []float64, confidence float64, resamples int, seed uint64) (lo, hi float64, ok bool) {
	tail, ok := widenedTail(before, after, confidence)
	if !ok {
		return math.NaN(), math.NaN(), false
	}
	lo, hi = bootstrap(before, after, resamples, seed, tail)
	return lo, hi, true
}

// widenedTail is the share of the bootstrap distribution beyond each end of
// the widened interval.
func widenedTail(before, after []float64, confidence float64) (tail float64, ok bool) {
	m, n := float64(len(before)), float64(len(after))
	if m < 2 || n < 2 {
		return 0, false
	}
	vb, va := variance(before)/m, variance(after)/n
	larger := math.Max(vb, va)
	if !(larger > 0) || math.IsInf(larger, 0) {
		return 0, false
	}
	vb, va = vb/larger, va/larger // their squares might leave the range of a float64
	df := (vb + va) * (vb + va) / (vb*vb/(m-1) + va*va/(n-1))
	k := math.Sqrt((vb + va) / (vb*(m-1)/m + va*(n-1)/n))
	t := studentQuantile((1+confidence)/2, df)
	return normalCDF(-math.Sqrt(k) * t), true
}

// bootstrap returns the ends of the bootstrap distribution of the
// Hodges-Lehmann estimate that leave the given share beyond each. Swapping the
// sides mirrors the result exactly: the sides are put into a fixed order first.
func bootstrap(before, after []float64, resamples int, seed uint64, tail float64) (lo, hi float64) {
	x, y := sorted(before), sorted(after)
	if swapFirst(x, y) {
		lo, hi = bootstrapOrdered(y, x, resamples, seed, tail)
		return -hi, -lo
	}
	lo, hi = bootstrapOrdered(x, y, resamples, seed, tail)
	if slices.Equal(x, y) { // swapping is no change, so the interval is its own mirror
		half := mid(hi, -lo)
		return -half, half
	}
	return lo, hi
}

// swapFirst orders two ascending samples: the shorter first, else the one whose
// first differing value is smaller, which a common shift or scale leaves alone.
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

func bootstrapOrdered(x, y []float64, resamples int, seed uint64, tail float64) (lo, hi float64) {
	w := newPairWalk(x, y)
	if resamplesOf(w.x)*resamplesOf(w.y) <= enumerationLimit {
		return w.enumerate(tail)
	}
	estimates := make([]float64, resamples)
	chunks := (resamples + chunkSize - 1) / chunkSize
	var next sync.Mutex
	chunk := 0
	work := func() {
		r := w.newResampler()
		for {
			next.Lock()
			c := chunk
			chunk++
			next.Unlock()
			if c >= chunks {
				return
			}
			r.draw(rand.NewPCG(seed, uint64(c)), estimates[c*chunkSize:min((c+1)*chunkSize, resamples)])
		}
	}
	workers := min(runtime.GOMAXPROCS(0), chunks)
	if resamples*(len(x)+len(y)) < 2_000_000 {
		workers = 1 // cheaper than waking a second core
	}
	var wg sync.WaitGroup
	for range workers - 1 {
		wg.Add(1)
		go func() { defer wg.Done(); work() }()
	}
	work()
	wg.Wait()
	cut := int(tail * float64(resamples))
	return selectKth(estimates, cut), selectKth(estimates, resamples-1-cut)
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

// distinct holds an ascending sample without repeats: the values, and for each
// original position the index of its value.
type distinct struct {
	value []float64
	at    []uint32
}

func newDistinct(s []float64) distinct {
	d := distinct{at: make([]uint32, len(s))}
	for i, v := range s {
		if i == 0 || v != s[i-1] {
			d.value = append(d.value, v)
		}
		d.at[i] = uint32(len(d.value) - 1)
	}
	return d
}

// resamplesOf counts the distinct bootstrap resamples of a sample: multisets
// of its size over its distinct values.
func resamplesOf(d distinct) float64 { return choose(len(d.at)+len(d.value)-1, len(d.at)) }

// pair is one difference y_j - x_i of distinct values.
type pair struct {
	d    float64
	i, j uint32
}

// pairWalk finds the median difference of a resample without sorting it. The
// differences near the centre are sorted once; a resample gives each a weight,
// the product of how often its two values were drawn. At an anchor, a fixed
// rank among the sorted differences, the weight below follows from prefix
// counts in one pass over the x side; from the anchor nearest to half of the
// weight a short walk finds the median.
type pairWalk struct {
	x, y    distinct
	m, n    int // sizes with repeats
	pairs   []pair
	stride  int        // pairs from one anchor to the next
	anchors [][]uint32 // per anchor and x value: how many y values lie below
	centre  int        // the anchor nearest to the estimate
}

// windowWidth is how far the sorted window reaches to each side, in standard
// deviations of the estimate's rank; beyond it the exact selection steps in.
const windowWidth = 6

func newPairWalk(sortedX, sortedY []float64) *pairWalk {
	w := &pairWalk{x: newDistinct(sortedX), y: newDistinct(sortedY), m: len(sortedX), n: len(sortedY)}
	xs, ys := w.x.value, w.y.value
	start := make([]int, len(xs)) // y values below the window, per x value
	end := make([]int, len(xs))
	mn := w.m * w.n
	reach := windowWidth*math.Sqrt(float64(mn)*float64(w.m+w.n)/12) + 8
	if len(xs)*len(ys) <= 4096 || reach >= float64(mn)/2 {
		for i := range end {
			end[i] = len(ys)
		}
	} else {
		k := int(reach)
		countDifferences(xs, ys, kthDifference(sortedX, sortedY, (mn+1)/2-k), start, false)
		countDifferences(xs, ys, kthDifference(sortedX, sortedY, mn/2+1+k), end, true)
	}
	for i, a := range xs {
		for j := start[i]; j < end[i]; j++ {
			w.pairs = append(w.pairs, pair{ys[j] - a, uint32(i), uint32(j)})
		}
	}
	slices.SortFunc(w.pairs, func(a, b pair) int {
		if c := cmp.Compare(a.d, b.d); c != 0 {
			return c
		}
		if c := cmp.Compare(a.i, b.i); c != 0 {
			return c
		}
		return cmp.Compare(a.j, b.j)
	})
	w.stride = max(16, len(xs)/2)
	below := make([]uint32, len(xs))
	for i, s := range start {
		below[i] = uint32(s)
	}
	for p := 0; ; p++ {
		if p%w.stride == 0 {
			w.anchors = append(w.anchors, slices.Clone(below))
		}
		if p == len(w.pairs) {
			break
		}
		below[w.pairs[p].i]++
	}
	estimate := medianDifference(sortedX, sortedY)
	at := sort.Search(len(w.pairs), func(p int) bool { return w.pairs[p].d >= estimate })
	w.centre = min((at+w.stride/2)/w.stride, len(w.anchors)-1)
	return w
}

// resampler holds the working arrays of one worker.
type resampler struct {
	*pairWalk
	cx, cy []uint32 // how often each distinct value was drawn
	below  []int32  // prefix sums of cy
}

func (w *pairWalk) newResampler() *resampler {
	return &resampler{pairWalk: w, cx: make([]uint32, len(w.x.value)), cy: make([]uint32, len(w.y.value)),
		below: make([]int32, len(w.y.value)+1)}
}

// draw fills estimates from one generator. A 64-bit number serves two draws;
// an index from 32 bits by multiplication is off uniform by less than
// n / 2^32, far below what any number of resamples could show.
func (r *resampler) draw(g *rand.PCG, estimates []float64) {
	for e := range estimates {
		drawCounts(g, r.x.at, r.cx)
		drawCounts(g, r.y.at, r.cy)
		estimates[e] = r.median()
	}
}

func drawCounts(g *rand.PCG, at []uint32, count []uint32) {
	clear(count)
	n := uint64(len(at))
	k := 0
	for ; k+1 < len(at); k += 2 {
		v := g.Uint64()
		count[at[(v&0xffffffff)*n>>32]]++
		count[at[(v>>32)*n>>32]]++
	}
	if k < len(at) {
		count[at[(g.Uint64()>>32)*n>>32]]++
	}
}

// weightBelow is the weight of all pairs before an anchor.
func (r *resampler) weightBelow(anchor int) int {
	weight := 0
	below := r.anchors[anchor]
	for i, c := range r.cx {
		weight += int(c) * int(r.below[below[i]])
	}
	return weight
}

// median is the weighted median of the differences for the counts at hand.
func (r *resampler) median() float64 {
	sum := int32(0)
	for j, c := range r.cy {
		r.below[j] = sum
		sum += int32(c)
	}
	r.below[len(r.cy)] = sum

	mn := r.m * r.n
	first, second := (mn+1)/2, mn/2+1 // ranks of the middle two
	anchor := r.centre
	weight := r.weightBelow(anchor)
	// A pair weighs 1 on average, so the gap tells how many pairs to go. Two
	// jumps bring nearly every resample within a stride of its median.
	for range 2 {
		gap := first - weight
		if abs(gap) <= r.stride {
			break
		}
		to := min(max(anchor+gap/r.stride, 0), len(r.anchors)-1)
		if to == anchor {
			break
		}
		anchor, weight = to, r.weightBelow(to)
	}
	p := anchor * r.stride // weight is that of pairs[:p]
	for p > 0 && weight >= first {
		p--
		weight -= int(r.cx[r.pairs[p].i] * r.cy[r.pairs[p].j])
	}
	if weight >= first { // left of the window
		return r.selectMedian()
	}
	for p < len(r.pairs) && weight < first {
		weight += int(r.cx[r.pairs[p].i] * r.cy[r.pairs[p].j])
		p++
	}
	if weight < first { // right of the window
		return r.selectMedian()
	}
	low := r.pairs[p-1].d
	if weight >= second {
		return low
	}
	for p < len(r.pairs) && weight < second {
		weight += int(r.cx[r.pairs[p].i] * r.cy[r.pairs[p].j])
		p++
	}
	if weight < second {
		return r.selectMedian()
	}
	return mid(low, r.pairs[p-1].d)
}

// selectMedian is the way out for a resample whose median lies outside the
// sorted window.
func (r *resampler) selectMedian() float64 {
	return medianDifference(expand(r.x.value, r.cx), expand(r.y.value, r.cy))
}

func expand(value []float64, count []uint32) []float64 {
	var out []float64
	for i, c := range count {
		for range c {
			out = append(out, value[i])
		}
	}
	return out
}

// enumerate goes through every distinct resample with its probability, so that
// the ends carry no Monte-Carlo error.
func (w *pairWalk) enumerate(tail float64) (lo, hi float64) {
	r := w.newResampler()
	probability := map[float64]float64{}
	eachMultiset(w.x, r.cx, func(px float64) {
		eachMultiset(w.y, r.cy, func(py float64) {
			probability[r.median()] += px * py
		})
	})
	values := make([]float64, 0, len(probability))
	for v := range probability {
		values = append(values, v)
	}
	sort.Float64s(values)
	lo, hi = values[0], values[len(values)-1]
	sum := 0.0
	for _, v := range values {
		if sum += probability[v]; sum > tail+slack {
			lo = v
			break
		}
	}
	sum = 0
	for _, v := range slices.Backward(values) {
		if sum += probability[v]; sum > tail+slack {
			hi = v
			break
		}
	}
	return lo, hi
}

// eachMultiset sets count to every way of drawing len(d.at) values from d and
// calls visit with the probability of each.
func eachMultiset(d distinct, count []uint32, visit func(probability float64)) {
	total := len(d.at)
	share := make([]float64, len(d.value))
	for _, k := range d.at {
		share[k] += 1 / float64(total)
	}
	var fill func(k, left int, p float64)
	fill = func(k, left int, p float64) {
		if k == len(count)-1 {
			count[k] = uint32(left)
			visit(p * math.Pow(share[k], float64(left)))
			return
		}
		term := p // times C(left, c) share^c
		for c := 0; c <= left; c++ {
			count[k] = uint32(c)
			fill(k+1, left-c, term)
			term *= share[k] * float64(left-c) / float64(c+1)
		}
	}
	fill(0, total, 1)
}
