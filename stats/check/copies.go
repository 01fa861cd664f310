package check

import (
	"cmp"
	"math"

	"gonum.org/v1/gonum/mathext"

	"tunegate/stats/internal/numeric"
)

// EqualByChance bounds the chance that two readings of this noise are the same: that of
// normal noise of standard deviation s read in steps of h, h / (2 sqrt(pi) s), twice, since
// exponential and Student's t noise come to at most 1.8 times as much. lists holds the
// readings of each sitting in run order.
//
// s is the smallest of three robust estimates, so that neither what sittings differ
// by nor a drift or a warm-up that they share makes equal readings seem rare: the
// median distance from the median of the own list, the median difference from the
// reading before, and that from the reading at the same place of the list before, equal
// ones left out. h is the last decimal shown, the readings' step or the smallest gap
// between two, whichever is largest: readings may have been computed from coarser ones.
// It returns 1 where nothing shows the noise.
func EqualByChance(lists [][]float64) float64 {
	var all, centre, before, beside []float64
	for k, x := range lists {
		all = append(all, x...)
		if len(x) > 1 {
			centre = append(centre, numeric.Distances(x)...)
		}
		for i := 1; i < len(x); i++ {
			before = append(before, math.Abs(x[i]-x[i-1]))
		}
		if k > 0 {
			for i := range min(len(x), len(lists[k-1])) {
				if d := math.Abs(x[i] - lists[k-1][i]); d > 0 {
					beside = append(beside, d)
				}
			}
		}
	}
	const normalMedian = 0.6745 // of |Z|
	s := math.Inf(1)
	for _, e := range []struct {
		distances []float64
		factor    float64
	}{{centre, 1}, {before, math.Sqrt2}, {beside, math.Sqrt2}} {
		if len(e.distances) > 0 {
			s = math.Min(s, numeric.Middle(numeric.Sorted(e.distances))/(normalMedian*e.factor))
		}
	}
	if math.IsInf(s, 1) || s == 0 {
		return 1
	}
	return math.Min(1, math.Max(resolution(all), finestPlace(all))/(math.Sqrt(math.Pi)*s))
}

// Overlap counts what two lists of rows have in common.
type Overlap struct {
	N, M    int     // rows of each
	Equal   int     // pairs of equal rows
	InPlace int     // of those, pairs that stand at the same place of both
	Chance  float64 // that two rows are equal by chance; see EqualByChance
}

// CopiesP bounds the chance that two sittings, which have an Overlap for each benchmark,
// have as many equal rows as they have where all were measured: the smallest upper tail
// of the number of equal pairs anywhere and of those in place, of each benchmark and of all
// together, times the number of these tests. Pairs in place share no rows, and their number
// has at most the tail of a Poisson distribution (Hoeffding, Annals of Mathematical
// Statistics 27:713-721, 1956). Others share rows: their number has mean m = N M Chance and
// a variance of at most m + m^2 (N + M) / (N M), and the tail is that of a negative
// binomial distribution, as in Repeats.
func CopiesP(overlaps []Overlap) float64 {
	p, tests := 1.0, 0
	try := func(equal, inPlace int, mean, excess, meanInPlace float64) {
		tests += 2
		if equal > 0 {
			size := mean * mean / excess
			p = math.Min(p, mathext.RegIncBeta(float64(equal), size, mean/(mean+size)))
		}
		if inPlace > 0 {
			p = math.Min(p, mathext.GammaIncReg(float64(inPlace), meanInPlace))
		}
	}
	var all struct {
		equal, inPlace            int
		mean, excess, meanInPlace float64
	}
	for _, o := range overlaps {
		n, m := float64(o.N), float64(o.M)
		mean := n * m * o.Chance
		excess := mean * mean * (n + m) / (n * m)
		meanInPlace := math.Min(n, m) * o.Chance
		try(o.Equal, o.InPlace, mean, excess, meanInPlace)
		all.equal, all.inPlace = all.equal+o.Equal, all.inPlace+o.InPlace
		all.mean, all.excess, all.meanInPlace = all.mean+mean, all.excess+excess, all.meanInPlace+meanInPlace
	}
	if len(overlaps) > 1 {
		try(all.equal, all.inPlace, all.mean, all.excess, all.meanInPlace)
	}
	return math.Min(1, p*float64(cmp.Or(tests, 1)))
}
