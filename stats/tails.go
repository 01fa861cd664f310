package stats

import (
	"cmp"
	"maps"
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

// guessDraws resamples make a guess.
const guessDraws = 256

// guess returns bounds that leave somewhat more than the given share of the
// medians beyond.
func (w *pairWalk) guess(drawn *resampleTable, tail float64) bounds {
	count, xs, belows := drawn.chunk(0, new(resampleSpace))
	count = min(count, guessDraws)
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
	xs, ys := multisets(w.x), multisets(w.y)
	for i, y := range ys { // counts become prefix sums
		below := make([]uint16, len(y.count)+1)
		for j, c := range y.count {
			below[j+1] = below[j] + c
		}
		ys[i].count = below
	}
	drawn := &resampleTable{resampling: resampling{m: w.m, n: w.n, resamples: guessDraws}}
	for _, b := range []bounds{w.guess(drawn, tail), everything} {
		lows, highs := w.listedTails(xs, ys, b)
		lo, okLo := quantileOf(lows, tail, 1)
		hi, okHi := quantileOf(highs, tail, -1)
		if okLo && okHi {
			return lo, hi
		}
	}
	return math.NaN(), math.NaN() // differences beyond the range of a float64
}

// listedTails returns the medians in both tails with the probability of each.
func (w *pairWalk) listedTails(xs, ys []multiset, b bounds) (lows, highs map[float64]float64) {
	at := w.placesOf(b)
	starts := [...]int{lower: w.anchorNear(b.low), upper: w.anchorNear(b.high), either: w.centre}
	lows, highs = map[float64]float64{}, map[float64]float64{}
	for _, x := range xs {
		for _, y := range ys {
			in := w.tailOf(x.count, y.count, at)
			if in == neither {
				continue
			}
			m := w.medianFrom(starts[in], x.count, y.count)
			if m <= b.low {
				lows[m] += x.probability * y.probability
			}
			if m >= b.high {
				highs[m] += x.probability * y.probability
			}
		}
	}
	return lows, highs
}

// quantileOf is the first median, ascending where direction is 1 and
// descending where it is -1, with which more than the tail's probability has
// passed. ok is false where all of them hold less.
func quantileOf(probability map[float64]float64, tail float64, direction int) (median float64, ok bool) {
	medians := slices.Collect(maps.Keys(probability))
	slices.SortFunc(medians, func(a, b float64) int { return direction * cmp.Compare(a, b) })
	sum := 0.0
	for _, m := range medians {
		if sum += probability[m]; sum > tail+slack {
			return m, true
		}
	}
	return 0, false
}

// multiset is a distinct resample: how often each distinct value was drawn,
// and the chance of that.
type multiset struct {
	count       []uint16
	probability float64
}

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
			out = append(out, multiset{slices.Clone(count), p * math.Pow(share[k], float64(left))})
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
