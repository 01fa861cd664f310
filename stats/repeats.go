package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat"
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
	sizes, pairs := tieSizes(x)
	if pairs == 0 || len(sizes) == 1 {
		return pairs, 1
	}
	s := sorted(x)
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
	return pairs, math.Max(tooManyEqual(s, pairs, window, finestPlace(x)), tooManyEqual(s, pairs, window, Tick(x)))
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
// two values are equal. Time grows with n^2.
func RepeatedStretch(x []float64) (length int, p float64) {
	_, equal := tieSizes(x)
	if equal == 0 {
		return 0, 1
	}
	n := len(x)
	same := make([]int, n) // how many values up to i and up to j agree, going back
	for i := range n {
		for j := n - 1; j > i; j-- {
			switch {
			case x[i] != x[j]:
				same[j] = 0
			case i == 0:
				same[j] = 1
			default:
				same[j] = same[j-1] + 1
			}
			length = max(length, min(same[j], j-i))
		}
	}
	pairs := float64(n) * float64(n-1) / 2
	return length, math.Min(1, pairs*math.Pow(float64(equal)/pairs, float64(length)))
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
		place = math.Min(place, lastPlace(v))
	}
	return place
}
