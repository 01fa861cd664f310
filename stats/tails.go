package stats

import (
	"cmp"
	"math"
	"slices"
)

// An interval's ends are order statistics of the resampled medians, far out on
// either side. So the median itself is only worked out where it can lie in one
// of the tails; for all others two weights, in one pass over the x side, show
// that it does not.

// bounds are a guess: medians up to low make the lower tail, those from high
// on the upper one. A wrong guess costs time, never a digit: whoever finds a
// tail too small for its quantile takes everything.
type bounds struct{ low, high float64 }

var everything = bounds{math.Inf(1), math.Inf(-1)}

// guessDraws resamples make a guess; listedGuessDraws do where all resamples are
// enumerated, so many that medians take longer than a better guess.
const (
	guessDraws       = 256
	listedGuessDraws = chunkSize
)

// guess returns bounds that leave somewhat more than the given share of the
// medians beyond.
func (w *pairWalk) guess(drawn *resampleTable, draws int, tail float64) bounds {
	count, xs, belows := drawn.chunk(0, new(resampleSpace))
	count = min(count, draws)
	medians := make([]float64, count)
	f := w.newFold()
	for r := range medians {
		medians[r] = w.median(f.fold(xs[r*w.m:][:w.m], belows[r*(w.n+1):][:w.n+1]))
	}
	slices.Sort(medians)
	expected := tail * float64(count)
	k := int(expected+3*math.Sqrt(expected+1)) + 1 // three standard deviations to spare
	if k >= count {
		return everything
	}
	return bounds{medians[k], medians[count-1-k]}
}

// places are numbers of y values for an x value: those with a difference of at
// most low, and those with one below high.
type places struct{ low, high uint16 }

func (w *pairWalk) placesOf(b bounds) []places {
	at := make([]places, len(w.x.value))
	count := make([]int, len(at))
	countDifferences(w.x.value, w.y.value, b.low, count, true)
	for i, c := range count {
		at[i].low = uint16(c)
	}
	countDifferences(w.x.value, w.y.value, b.high, count, false)
	for i, c := range count {
		at[i].high = uint16(c)
	}
	return at
}

// tail is where the median of a resample can lie.
type tail int

const (
	neither tail = iota // strictly between both bounds
	lower
	upper
	either
)

// tailOf says in which tails the median of a resample, counted as for median,
// can lie.
func (w *pairWalk) tailOf(x, below []uint16, at []places) tail {
	first, second := w.middleRanks()
	notAbove, under := 0, 0
	at = at[:len(x)]
	for i, c := range x {
		notAbove += int(c) * int(below[at[i].low])
		under += int(c) * int(below[at[i].high])
	}
	return tailAt(notAbove, under, first, second)
}

func tailAt(notAbove, under, first, second int) tail {
	t := neither
	if notAbove >= first {
		t = lower
	}
	if under < second {
		t |= upper
	}
	return t
}

// enumerate goes through every distinct resample with its probability, so that
// the ends carry no Monte-Carlo error.
func (w *pairWalk) enumerate(tail float64) (lo, hi float64) {
	xs, ys := multisetsOf(w.x), multisetsOf(w.y)
	drawn := drawnResamples(resampling{m: w.m, n: w.n, resamples: listedGuessDraws})
	for _, b := range []bounds{w.guess(drawn, listedGuessDraws, tail), everything} {
		lows, highs := w.listedTails(xs, ys, b)
		lo, okLo := quantileOf(lows, tail, 1)
		hi, okHi := quantileOf(highs, tail, -1)
		if okLo && okHi {
			return lo, hi
		}
	}
	return math.NaN(), math.NaN() // differences beyond the range of a float64
}

// listedTails returns the medians in both tails with their probabilities, in no
// order.
//
// Which tail a pair of resamples is in depends on two weights (tailOf), and for
// one x side each of them is a sum over the y values drawn. So both are packed
// into one number, its halves far from full, and grow by one addition from one
// y side to the next.
func (w *pairWalk) listedTails(xs, ys []multiset, b bounds) (lows, highs []likely) {
	at := w.placesOf(b)
	starts := [...]int{lower: w.anchorNear(b.low), upper: w.anchorNear(b.high), either: w.centre}
	first, second := w.middleRanks()
	weight, sums := make([]uint64, len(w.y.value)), make([]uint64, len(ys))
	for _, x := range xs {
		for j := range weight {
			weight[j] = 0
			for i, c := range x.count {
				if j < int(at[i].low) {
					weight[j] += uint64(c)
				}
				if j < int(at[i].high) {
					weight[j] += uint64(c) << 32
				}
			}
		}
		sumMultisets(weight, w.n, sums)
		for k, sum := range sums {
			in := tailAt(int(uint32(sum)), int(sum>>32), first, second)
			if in == neither {
				continue
			}
			y := &ys[k]
			m, p := w.medianFrom(starts[in], x.count, y.below), x.probability*y.probability
			if m <= b.low {
				lows = append(lows, likely{m, p})
			}
			if m >= b.high {
				highs = append(highs, likely{m, p})
			}
		}
	}
	return lows, highs
}

// likely is a median with its probability.
type likely struct{ median, probability float64 }

// quantileOf is the first median, ascending where direction is 1 and
// descending where it is -1, with which more than the tail's probability has
// passed. ok is false where all of them hold less. It reorders the medians.
func quantileOf(medians []likely, tail float64, direction int) (median float64, ok bool) {
	slices.SortFunc(medians, func(a, b likely) int { return direction * cmp.Compare(a.median, b.median) })
	sum := 0.0
	for _, m := range medians {
		if sum += m.probability; sum > tail+slack {
			return m.median, true
		}
	}
	return 0, false
}

// multiset is a distinct resample: how often each distinct value was drawn,
// how many draws lie below each (and, last, how many there are), and the chance
// of that.
type multiset struct {
	count, below []uint16
	probability  float64
}

// multisetsOf is multisets, kept where no values are equal: they depend on the
// size alone then.
func multisetsOf(d distinct) []multiset {
	if d.tied() {
		return multisets(d)
	}
	return allMultisets.get(len(d.at), func() []multiset { return multisets(d) })
}

var allMultisets = memo[int, []multiset]{most: 4}

// multisets lists every way of drawing len(d.at) values from d.
func multisets(d distinct) []multiset {
	var out []multiset
	total := len(d.at)
	count := make([]uint16, len(d.value))
	share := make([]float64, len(d.value))
	for _, k := range d.at {
		share[k] += 1 / float64(total)
	}
	var fill func(k, left int, p float64)
	fill = func(k, left int, p float64) {
		if k == len(count)-1 {
			count[k] = uint16(left)
			below := make([]uint16, len(count)+1)
			for j, c := range count {
				below[j+1] = below[j] + c
			}
			out = append(out, multiset{slices.Clone(count), below, p * math.Pow(share[k], float64(left))})
			return
		}
		term := p // times C(left, c) share^c
		for c := 0; c <= left; c++ {
			count[k] = uint16(c)
			fill(k+1, left-c, term)
			term *= share[k] * float64(left-c) / float64(c+1)
		}
	}
	fill(0, total, 1)
	return out
}

// sumMultisets fills in, for each of the multisets of size values in the order
// of multisets, the sum of the drawn values' weights.
func sumMultisets(weight []uint64, size int, sums []uint64) {
	last, next := len(weight)-1, 0
	var fill func(k, left int, sum uint64)
	fill = func(k, left int, sum uint64) {
		if k >= last-1 {
			sum += uint64(left) * weight[last]
			step := uint64(0)
			if last > 0 {
				step = weight[last-1] - weight[last]
			} else {
				left = 0
			}
			for range left + 1 {
				sums[next] = sum
				sum += step
				next++
			}
			return
		}
		for c := 0; c <= left; c++ {
			fill(k+1, left-c, sum)
			sum += weight[k]
		}
	}
	fill(0, size, 0)
}
