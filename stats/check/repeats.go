package check

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat"

	"tunegate/stats/internal/numeric"
)

// Repeats counts the pairs of equal values and tests whether there are more
// than readings of this fineness give by chance: values that were copied
// instead of measured. Differences of noise spread evenly near 0. So of the
// pairs that differ by 1 to K steps, with K steps a quarter of the interquartile
// range, an equal pair is expected for every 2 K; p is the upper tail of a
// negative binomial with that mean and size n/4, since pairs share values
// (with few values a step the variance of their number is mean + 4 mean^2 / n).
//
// The step is the last decimal that the values show. As they may have been
// computed from coarser readings, p is the larger of that and the p with the
// smallest gap between two values as the step. Readings so coarse that K is
// below 2 repeat by themselves: p is 1. So it is where no two values are equal,
// and where all are: then nothing says how far apart they could be.
func Repeats(x []float64) (pairs int, p float64) {
	sizes, pairs := numeric.TieSizes(x)
	if pairs == 0 || len(sizes) == 1 {
		return pairs, 1
	}
	s := numeric.Sorted(x)
	window := quartileRange(s) / 4
	if window == 0 { // half of the values are one; the others say how far noise goes
		var distinct []float64
		for i, v := range s {
			if i == 0 || v != s[i-1] {
				distinct = append(distinct, v)
			}
		}
		window = quartileRange(distinct) / 4
	}
	return pairs, math.Max(tooManyEqual(s, pairs, window, finestPlace(x)), tooManyEqual(s, pairs, window, resolution(x)))
}

// tooManyEqual is the chance of so many equal pairs among ascending values
// read in this step.
func tooManyEqual(s []float64, pairs int, window, step float64) float64 {
	steps := math.Floor(window / step)
	if steps < 2 {
		return 1
	}
	near, j := 0, 0 // pairs within the window, equal ones too
	for i, v := range s {
		for v-s[j] > (steps+0.5)*step {
			j++
		}
		near += i - j
	}
	expected := float64(near-pairs+1) / (2 * steps)
	size := float64(len(s)) / 4
	return mathext.RegIncBeta(float64(pairs), size, expected/(expected+size))
}

// RepeatedStretch returns the length of the longest stretch of values that
// occurs twice in the same order without overlap, as a copied session does, and
// the chance of one as long if the same values stood in random order: at most
//
//	n(n-1)/2 q^length
//
// over all pairs of places, with q the share of pairs of values that are equal.
// That needs no guess at the noise or at how finely it was read; whole numbers
// that repeat by chance do not count as copied. It returns 0 and 1 where no
// two values are equal. Time grows with n log n.
func RepeatedStretch(x []float64) (length int, p float64) {
	_, equal := numeric.TieSizes(x)
	if equal == 0 {
		return 0, 1
	}
	ids := valueIDs(x)
	// A stretch of k that occurs twice contains one of k-1 that does. So its
	// length is doubled, then halved in on. Two stretches are equal where their
	// halves are, known by an id, and so for any length between: halves overlap.
	const none = -1
	half, halves := 1, ids
	occursTwice := func(k int) (ids []int32, found bool) {
		first := make(map[[2]int32]int32, len(x)) // where a stretch begins first
		ids = make([]int32, len(x))
		for i := range ids {
			ids[i] = none
		}
		for i := 0; i+k <= len(x); i++ {
			a, b := halves[i], halves[i+k-half]
			if a == none || b == none {
				continue
			}
			at, seen := first[[2]int32{a, b}]
			if !seen {
				at = int32(i)
				first[[2]int32{a, b}] = at
			}
			ids[i] = at
			found = found || i-int(at) >= k
		}
		return ids, found
	}
	length = 1
	for {
		longer, found := occursTwice(2 * half)
		if !found {
			break
		}
		half, halves = 2*half, longer
		length = half
	}
	for beyond := 2 * half; beyond-length > 1; {
		k := (length + beyond) / 2
		if _, found := occursTwice(k); found {
			length = k
		} else {
			beyond = k
		}
	}
	n := float64(len(x))
	pairs := n * (n - 1) / 2
	return length, math.Min(1, pairs*math.Pow(float64(equal)/pairs, float64(length)))
}

// valueIDs gives equal values the same number, and -1 to a value that has no
// equal.
func valueIDs(x []float64) []int32 {
	order := make([]int32, len(x))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(a, b int32) int { return cmp.Compare(x[a], x[b]) })
	ids := make([]int32, len(x))
	for i := 0; i < len(order); {
		j := i + 1
		for j < len(order) && x[order[j]] == x[order[i]] {
			j++
		}
		id := order[i]
		if j == i+1 {
			id = -1
		}
		for _, k := range order[i:j] {
			ids[k] = id
		}
		i = j
	}
	return ids
}

// quartileRange is the interquartile range of ascending values.
func quartileRange(s []float64) float64 {
	return stat.Quantile(0.75, stat.LinInterp, s, nil) - stat.Quantile(0.25, stat.LinInterp, s, nil)
}

// finestPlace is the value of the last decimal that any of the values shows in
// its shortest notation.
func finestPlace(x []float64) float64 {
	place := math.Inf(1)
	for _, v := range x {
		place = math.Min(place, numeric.LastPlace(v))
	}
	return place
}
