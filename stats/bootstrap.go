package stats

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"sort"
	"sync"
	"sync/atomic"
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
	vb, va, df, ok := welch(before, after)
	if !ok {
		return 0, false
	}
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
	if w.listed() {
		return w.enumerate(tail)
	}
	drawn := drawnResamples(resampling{len(x), len(y), resamples, seed})
	cut := int(tail * float64(resamples))
	b := w.guess(drawn, guessDraws, tail)
	lows, highs := w.drawnTails(drawn, b)
	if min(len(lows), len(highs)) <= cut {
		lows, highs = w.drawnTails(drawn, everything)
	}
	return selectKth(lows, cut), selectKth(highs, len(highs)-1-cut)
}

// stretchedTo returns the interval stretched to the ends of the bootstrap
// distribution that leave the given share beyond each. How far inside an end
// lies is of no interest, so only the resamples beyond the interval are looked
// at.
func (in Interval) stretchedTo(before, after []float64, resamples int, seed uint64, tail float64) Interval {
	x, y := sorted(before), sorted(after)
	switch {
	case slices.Equal(x, y): // see bootstrap
		lo, hi := bootstrap(x, y, resamples, seed, tail)
		return in.Including(lo).Including(hi)
	case swapFirst(x, y):
		out := Interval{Lo: -in.Hi, Hi: -in.Lo}.stretchedTo(y, x, resamples, seed, tail)
		in.Lo, in.Hi = -out.Hi, -out.Lo
		return in
	}
	w, b := newPairWalk(x, y), bounds{in.Lo, in.Hi}
	if w.listed() {
		lows, highs := w.listedTails(multisetsOf(w.x), multisetsOf(w.y), b)
		if lo, ok := quantileOf(lows, tail, 1); ok {
			in.Lo = lo
		}
		if hi, ok := quantileOf(highs, tail, -1); ok {
			in.Hi = hi
		}
		return in
	}
	cut := int(tail * float64(resamples))
	lows, highs := w.drawnTails(drawnResamples(resampling{len(x), len(y), resamples, seed}), b)
	if len(lows) > cut {
		in.Lo = selectKth(lows, cut)
	}
	if len(highs) > cut {
		in.Hi = selectKth(highs, len(highs)-1-cut)
	}
	return in
}

// listed says whether the distinct resamples are few enough to be enumerated.
func (w *pairWalk) listed() bool { return resamplesOf(w.x)*resamplesOf(w.y) <= enumerationLimit }

// drawnTails lists the medians of the drawn resamples that lie in the tails
// bounded by b, in no order, on all cores where that pays.
func (w *pairWalk) drawnTails(drawn *resampleTable, b bounds) (lows, highs []float64) {
	at := w.placesOf(b)
	starts := [...]int{lower: w.anchorNear(b.low), upper: w.anchorNear(b.high), either: w.centre}
	var next atomic.Int64
	var mu sync.Mutex
	work := func() {
		var low, high []float64
		var space resampleSpace
		f := w.newFold()
		for {
			c := int(next.Add(1)) - 1
			if c >= drawn.chunks() {
				break
			}
			count, xs, belows := drawn.chunk(c, &space)
			for r := range count {
				x, below := xs[r*w.m:][:w.m], belows[r*(w.n+1):][:w.n+1]
				if w.tied {
					x, below = f.fold(x, below)
				}
				in := w.tailOf(x, below, at)
				if in == neither {
					continue
				}
				m := w.medianFrom(starts[in], x, below)
				if m <= b.low {
					low = append(low, m)
				}
				if m >= b.high {
					high = append(high, m)
				}
			}
		}
		mu.Lock()
		lows, highs = append(lows, low...), append(highs, high...)
		mu.Unlock()
	}
	workers := min(runtime.GOMAXPROCS(0), drawn.chunks())
	if drawn.resamples*(w.m+w.n) < 2_000_000 {
		workers = 1 // cheaper than waking a second core
	}
	var wg sync.WaitGroup
	for range workers - 1 {
		wg.Add(1)
		go func() { defer wg.Done(); work() }()
	}
	work()
	wg.Wait()
	return lows, highs
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

func (d distinct) tied() bool { return len(d.value) < len(d.at) }

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
	tied    bool
	pairs   []pair
	stride  int        // pairs from one anchor to the next
	anchors [][]uint16 // per anchor and x value: how many y values lie below
	centre  int        // the anchor nearest to the estimate
}

// windowWidth is how far the sorted window reaches to each side, in standard
// deviations of the estimate's rank; beyond it the exact selection steps in.
const windowWidth = 6

func newPairWalk(sortedX, sortedY []float64) *pairWalk {
	w := &pairWalk{x: newDistinct(sortedX), y: newDistinct(sortedY), m: len(sortedX), n: len(sortedY)}
	w.tied = w.x.tied() || w.y.tied()
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
	kept := 0
	for i := range xs {
		kept += end[i] - start[i]
	}
	w.pairs = make([]pair, 0, kept)
	for i, a := range xs {
		for j := start[i]; j < end[i]; j++ {
			w.pairs = append(w.pairs, pair{ys[j] - a, uint32(i), uint32(j)})
		}
	}
	slices.SortFunc(w.pairs, func(a, b pair) int { return cmp.Compare(a.d, b.d) }) // the order of equal ones shows nowhere
	w.stride = max(16, len(xs)/2)
	below := make([]uint16, len(xs))
	for i, s := range start {
		below[i] = uint16(s)
	}
	space := make([]uint16, 0, (kept/w.stride+1)*len(xs))
	for p := 0; ; p++ {
		if p%w.stride == 0 {
			space = append(space, below...)
			w.anchors = append(w.anchors, space[len(space)-len(xs):])
		}
		if p == len(w.pairs) {
			break
		}
		below[w.pairs[p].i]++
	}
	w.centre = w.anchorNear(medianDifference(sortedX, sortedY))
	return w
}

// anchorNear is the anchor nearest to a difference.
func (w *pairWalk) anchorNear(d float64) int {
	at := sort.Search(len(w.pairs), func(p int) bool { return w.pairs[p].d >= d })
	return min((at+w.stride/2)/w.stride, len(w.anchors)-1)
}

// fold sums the counts of equal values, since resamples are drawn by position.
type fold struct {
	w        *pairWalk
	x, below []uint16
}

func (w *pairWalk) newFold() *fold {
	return &fold{w, make([]uint16, len(w.x.value)), make([]uint16, len(w.y.value)+1)}
}

// fold returns counts and prefix sums by distinct value, valid until the next
// call.
func (f *fold) fold(x, below []uint16) ([]uint16, []uint16) {
	if f.w.x.tied() {
		clear(f.x)
		for i, c := range x {
			f.x[f.w.x.at[i]] += c
		}
		x = f.x
	}
	if f.w.y.tied() {
		for j, k := range f.w.y.at {
			f.below[k+1] = below[j+1] // the last of equal ones stays
		}
		below = f.below
	}
	return x, below
}

// weightBelow is the weight of all pairs before an anchor.
func (w *pairWalk) weightBelow(x, below []uint16, anchor int) int {
	weight := 0
	at := w.anchors[anchor][:len(x)]
	for i, c := range x {
		weight += int(c) * int(below[at[i]])
	}
	return weight
}

// median is the weighted median of the differences for a resample: how often
// each distinct x value was drawn, and how many draws lie below each distinct y
// value.
func (w *pairWalk) median(x, below []uint16) float64 { return w.medianFrom(w.centre, x, below) }

// medianFrom is median, looked for from an anchor on.
func (w *pairWalk) medianFrom(anchor int, x, below []uint16) float64 {
	first, second := w.middleRanks()
	weight := w.weightBelow(x, below, anchor)
	// A pair weighs 1 on average, so the gap tells how many pairs to go. Two
	// jumps bring nearly every resample within a stride of its median.
	for range 2 {
		gap := first - weight
		if abs(gap) <= w.stride {
			break
		}
		to := min(max(anchor+gap/w.stride, 0), len(w.anchors)-1)
		if to == anchor {
			break
		}
		anchor, weight = to, w.weightBelow(x, below, to)
	}
	of := func(p pair) int { return int(x[p.i]) * (int(below[p.j+1]) - int(below[p.j])) }
	p := anchor * w.stride // weight is that of pairs[:p]
	for p > 0 && weight >= first {
		p--
		weight -= of(w.pairs[p])
	}
	if weight >= first { // left of the window
		return w.selectMedian(x, below)
	}
	for p < len(w.pairs) && weight < first {
		weight += of(w.pairs[p])
		p++
	}
	if weight < first { // right of the window
		return w.selectMedian(x, below)
	}
	low := w.pairs[p-1].d
	if weight >= second {
		return low
	}
	for p < len(w.pairs) && weight < second {
		weight += of(w.pairs[p])
		p++
	}
	if weight < second {
		return w.selectMedian(x, below)
	}
	return mid(low, w.pairs[p-1].d)
}

// middleRanks are the ranks of the middle two differences.
func (w *pairWalk) middleRanks() (first, second int) {
	mn := w.m * w.n
	return (mn + 1) / 2, mn/2 + 1
}

// selectMedian is the way out for a resample whose median lies outside the
// sorted window.
func (w *pairWalk) selectMedian(x, below []uint16) float64 {
	y := make([]uint16, len(w.y.value))
	for j := range y {
		y[j] = below[j+1] - below[j]
	}
	return medianDifference(expand(w.x.value, x), expand(w.y.value, y))
}

func expand(value []float64, count []uint16) []float64 {
	var out []float64
	for i, c := range count {
		for range c {
			out = append(out, value[i])
		}
	}
	return out
}
